"""LoudnessMeter: relations that need no oracle, the compiled path against scipy, and what is no audio."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest

from audit.errors import BadSamplesError
from audit.measure.gating import integrated_lufs, range_lu, to_lufs, to_power
from audit.measure.loudness import LoudnessMeter, measure_loudness
from audit.measure.weighted_energy import StepEnergies, step_end
from audit.measure.windows import MOMENTARY_STEPS
from audit.results import Loudness

RATE_HZ = 48_000
NOTHING = Loudness(
    integrated_lufs=None,
    max_momentary_lufs=None,
    max_momentary_at_s=None,
    max_short_term_lufs=None,
    range_lu=None,
)


def wandering_noise(
    channels: int = 2, *, seconds: float = 6.0, rate_hz: int = RATE_HZ, seed: int = 3
) -> np.ndarray:
    """Noise whose level changes every 100 ms, differently in each channel."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * rate_hz)
    levels = 10.0 ** (rng.uniform(-30.0, 0.0, (round(seconds * 10) + 1, channels)) / 20.0)
    envelope = np.repeat(levels, rate_hz // 10, axis=0)[:frames]
    return (0.2 * rng.standard_normal((frames, channels)) * envelope).astype(np.float32)


def metered(samples: np.ndarray, rate_hz: int = RATE_HZ, *, block_frames: int = 65_536) -> LoudnessMeter:
    meter = LoudnessMeter(rate_hz, samples.shape[1])
    for begin in range(0, samples.shape[0], block_frames):
        meter.add(samples[begin : begin + block_frames])
    return meter


def close(
    a: Loudness, b: Loudness, *, shift_lu: float = 0.0, at_shift_s: float = 0.0, within: float = 1e-6
) -> bool:
    """Whether b is a, louder by shift_lu and later by at_shift_s."""
    return (
        b.integrated_lufs == pytest.approx(a.integrated_lufs + shift_lu, abs=within)
        and b.max_momentary_lufs == pytest.approx(a.max_momentary_lufs + shift_lu, abs=within)
        and b.max_short_term_lufs == pytest.approx(a.max_short_term_lufs + shift_lu, abs=within)
        and b.max_momentary_at_s == pytest.approx(a.max_momentary_at_s + at_shift_s, abs=1e-9)
        and b.range_lu == pytest.approx(a.range_lu, abs=max(within, 1e-5))
    )


# --- relations ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("gain", [2.0, 0.5])
def test_gain_moves_the_levels_and_nothing_else(gain: float):
    samples = wandering_noise()
    before = measure_loudness(samples, RATE_HZ)
    after = measure_loudness(samples * np.float32(gain), RATE_HZ)
    assert close(before, after, shift_lu=20.0 * np.log10(gain))


@pytest.mark.parametrize("channels", [1, 2, 3])
@pytest.mark.parametrize("block_frames", [1, 7, 479, 481, 4_800, 65_536])
def test_block_size_changes_no_bit(block_frames: int, channels: int):
    samples = wandering_noise(channels, seconds=3.5)[: 20_000 if block_frames == 1 else None]
    whole = metered(samples, block_frames=10**9).result()
    assert metered(samples, block_frames=block_frames).result() == whole
    assert whole.integrated_lufs is not None


def test_channel_order_does_not_matter():
    samples = wandering_noise(4)
    there = metered(samples)
    back = metered(np.ascontiguousarray(samples[:, ::-1]))
    assert close(there.result(), back.result(), within=1e-9)
    for channel in range(4):
        assert there.result((channel,)) == back.result((3 - channel,))


def test_silence_before_moves_the_place_only():
    samples = wandering_noise()
    silence = np.zeros((RATE_HZ, 2), dtype=np.float32)
    before = measure_loudness(samples, RATE_HZ)
    after = measure_loudness(np.concatenate((silence, samples)), RATE_HZ)
    assert after.max_momentary_at_s == pytest.approx(before.max_momentary_at_s + 1.0, abs=1e-9)
    assert after.max_momentary_lufs == pytest.approx(before.max_momentary_lufs, abs=1e-9)
    assert after.max_short_term_lufs == pytest.approx(before.max_short_term_lufs, abs=1e-9)


def test_the_same_sound_on_two_channels_is_3_lu_louder():
    mono = wandering_noise(1)
    one = measure_loudness(mono, RATE_HZ)
    two = measure_loudness(np.repeat(mono, 2, axis=1), RATE_HZ)
    assert close(one, two, shift_lu=10.0 * np.log10(2.0))


def test_a_subset_reads_like_a_file_of_those_channels():
    samples = wandering_noise(5)
    meter = metered(samples)
    for channels in [(0,), (4,), (0, 1), (2, 3), (0, 1, 2, 3, 4)]:  # maxima kept at 10 ms
        alone = measure_loudness(np.ascontiguousarray(samples[:, list(channels)]), RATE_HZ)
        assert close(alone, meter.result(channels), within=1e-9)
    assert meter.result((1, 0)) == meter.result((0, 1))


def test_another_subset_has_its_maxima_on_a_grid_of_100_ms():
    samples = wandering_noise(4)
    loudness = metered(samples).result((0, 3))
    alone = measure_loudness(np.ascontiguousarray(samples[:, [0, 3]]), RATE_HZ)
    assert loudness.integrated_lufs == pytest.approx(alone.integrated_lufs, abs=1e-9)
    assert loudness.range_lu == pytest.approx(alone.range_lu, abs=1e-9)
    assert alone.max_momentary_lufs - 1.0 < loudness.max_momentary_lufs <= alone.max_momentary_lufs + 1e-9
    assert loudness.max_momentary_at_s == pytest.approx(round(loudness.max_momentary_at_s, 1), abs=1e-9)


def test_asking_does_not_disturb():
    samples = wandering_noise()
    asked = LoudnessMeter(RATE_HZ, 2)
    for begin in range(0, samples.shape[0], 10_007):
        asked.add(samples[begin : begin + 10_007])
        asked.result()
    assert asked.result() == metered(samples).result()


def test_weights_count_as_power():
    samples = wandering_noise(1)
    heavy = LoudnessMeter(RATE_HZ, 1, weights=(1.41,))
    heavy.add(samples)
    assert close(measure_loudness(samples, RATE_HZ), heavy.result(), shift_lu=10.0 * np.log10(1.41))


# --- the loudest moment -----------------------------------------------------------------------------


@pytest.mark.parametrize("begin_s", [0.0, 1.23, 2.5])
def test_a_burst_is_found_where_it_is(begin_s: float):
    samples = np.full((RATE_HZ * 4, 1), 0.0, dtype=np.float32)
    begin = round(begin_s * RATE_HZ)
    time_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    samples[begin : begin + time_s.size, 0] = 0.1 * np.sin(2.0 * np.pi * 997.0 * time_s)
    loudness = measure_loudness(samples, RATE_HZ)
    assert loudness.max_momentary_lufs == pytest.approx(-23.01, abs=0.01)
    assert loudness.max_momentary_at_s == pytest.approx(begin_s + 0.2, abs=0.011)


# --- compiled and plain -----------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 22_050, 44_100, 48_000, 192_000, 384_000])
@pytest.mark.parametrize("channels", [1, 2, 3])
def test_compiled_and_plain_agree(rate_hz: int, channels: int):
    samples = wandering_noise(channels, seconds=3.3, rate_hz=rate_hz)
    compiled = LoudnessMeter(rate_hz, channels)
    plain = LoudnessMeter(rate_hz, channels, compiled=False)
    for begin in range(0, samples.shape[0], 30_011):
        compiled.add(samples[begin : begin + 30_011])
        plain.add(samples[begin : begin + 30_011])
    assert close(plain.result(), compiled.result(), within=1e-8)
    assert close(plain.result((0,)), compiled.result((0,)), within=1e-8)


@pytest.mark.parametrize("channels", [1, 2, 3])
def test_compiled_and_plain_agree_behind_a_long_rest(channels: int):
    """In a rest the compiled filters come to a stop; scipy's go on."""
    sound, rest = wandering_noise(channels, seconds=1.7), np.zeros((7 * RATE_HZ + 311, channels), np.float32)
    samples = np.concatenate([rest, sound, rest, sound, rest])
    compiled, plain = LoudnessMeter(RATE_HZ, channels), LoudnessMeter(RATE_HZ, channels, compiled=False)
    for begin in range(0, len(samples), 30_011):
        compiled.add(samples[begin : begin + 30_011])
        plain.add(samples[begin : begin + 30_011])
    assert close(plain.result(), compiled.result(), within=1e-8)


@pytest.mark.parametrize("rate_hz", [11_025, 22_050, 44_100, 48_000])
def test_steps_keep_time_where_10_ms_is_no_whole_number_of_frames(rate_hz: int):
    energies = StepEnergies(rate_hz, 1)
    steps = energies.add(np.ones((rate_hz * 3, 1), dtype=np.float32))
    assert steps.shape == (300, 1)
    assert step_end(299, rate_hz) == 3 * rate_hz
    lengths = np.diff([0, *(step_end(k, rate_hz) for k in range(300))])
    assert set(lengths) <= {rate_hz // 100, rate_hz // 100 + 1}


def test_memory_is_one_number_per_channel_and_100_ms():
    meter = metered(np.zeros((RATE_HZ * 30, 2), dtype=np.float32))
    assert len(meter._hops) == 30 * 10 * 2
    assert meter._rest.shape[0] < 10
    assert meter._windows._recent.shape[1] < 300


# --- DC, denormals, silence -------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [48_000, 384_000])
def test_dc_is_not_loud(rate_hz: int):
    """The high-pass leaves nothing of a constant; only the step at its start is heard."""
    energies = StepEnergies(rate_hz, 1)
    steps = energies.add(np.ones((rate_hz * 4, 1), dtype=np.float32))
    assert steps[0, 0] > 0.0
    assert steps[200:].max() < 1e-18 * rate_hz


def test_a_decayed_filter_rests_at_zero():
    """Denormal numbers would make silence after music many times slower to measure than music."""
    energies = StepEnergies(RATE_HZ, 2)
    energies.add(wandering_noise(seconds=1.0))
    silence = np.zeros((RATE_HZ * 2, 2), dtype=np.float32)
    steps = energies.add(silence)
    assert not steps[-1].any()
    assert not energies._chain.state.any()


def test_digital_silence_has_no_loudness():
    assert measure_loudness(np.zeros((RATE_HZ * 5, 2)), RATE_HZ) == NOTHING


@pytest.mark.parametrize("frames", [1, 4_800, 19_199])
def test_under_400_ms_there_is_none(frames: int):
    assert measure_loudness(wandering_noise(1)[:frames], RATE_HZ) == NOTHING


def test_nothing_added_gives_nothing():
    assert LoudnessMeter(RATE_HZ, 2).result() == NOTHING


def test_400_ms_are_enough_for_momentary_and_3_s_for_short_term():
    noise = wandering_noise(1)
    shortest = measure_loudness(noise[:19_200], RATE_HZ)
    assert shortest.integrated_lufs == pytest.approx(shortest.max_momentary_lufs, abs=1e-9)
    assert shortest.max_momentary_at_s == pytest.approx(0.2)
    assert shortest.max_short_term_lufs is None
    assert measure_loudness(noise[: 3 * RATE_HZ - 1], RATE_HZ).max_short_term_lufs is None
    whole = measure_loudness(noise[: 3 * RATE_HZ], RATE_HZ)
    assert whole.max_short_term_lufs is not None
    assert whole.range_lu is not None


def test_what_stays_below_the_absolute_gate_has_maxima_but_no_integrated_loudness():
    quiet = measure_loudness(wandering_noise(1) * np.float32(1e-4), RATE_HZ)
    assert quiet.integrated_lufs is None
    assert quiet.range_lu is None
    assert -110.0 < quiet.max_momentary_lufs < -70.0


# --- gates ------------------------------------------------------------------------------------------


def test_gates_of_bs1770_are_strict_and_those_of_tech3342_are_not():
    at_gate = np.full(50, to_power(-70.0))
    assert integrated_lufs(at_gate) is None
    assert range_lu(at_gate) == 0.0
    assert integrated_lufs(at_gate * 1.001) == pytest.approx(-70.0, abs=0.01)
    assert range_lu(at_gate * 0.999) is None


def test_relative_gate_is_10_lu_below_the_mean_of_what_is_heard():
    """80 blocks at −20, 20 at −40: the mean is −20.97, so the quiet ones are left out."""
    powers = np.repeat([to_power(-20.0), to_power(-40.0)], [80, 20])
    assert integrated_lufs(powers) == pytest.approx(-20.0, abs=1e-9)
    powers = np.repeat([to_power(-20.0), to_power(-30.0)], [80, 20])  # −20.86 − 10 < −30: they stay
    assert integrated_lufs(powers) == pytest.approx(-20.0 + 10.0 * np.log10(0.82), abs=1e-9)


def test_relative_gate_of_the_range_is_20_lu_below_the_mean_of_what_is_heard():
    """Half the values at −20, half lower: the mean is near −23, so −42 counts and −44 does not."""
    for quiet_lufs, expected_lu in ((-42.0, 22.0), (-44.0, 0.0)):
        powers = np.repeat([to_power(-20.0), to_power(quiet_lufs)], 50)
        assert range_lu(powers) == pytest.approx(expected_lu, abs=1e-9)


def test_a_block_at_the_relative_gate_is_not_heard():
    """BS.1770-5 Eq. 6: above the gate. 19 and 1 have the mean 10, so that 1 lies at −10 LU exactly."""
    powers = np.array([19.0, 1.0])
    assert 10.0 * math.log10(powers.mean() / powers[1]) == 10.0
    assert integrated_lufs(powers) == to_lufs(19.0)
    assert integrated_lufs(np.array([19.0, 1.0001])) == pytest.approx(to_lufs(10.00005), abs=1e-9)


def test_a_block_at_the_gates_of_the_range_counts():
    """Tech 3342 §5 keeps equals: 199 and 1 have the mean 100, so that 1 lies at −20 LU exactly."""
    assert range_lu(np.array([199.0, 1.0])) == pytest.approx(10.0 * math.log10(199.0), abs=1e-9)
    assert range_lu(np.array([199.0, 0.9999])) == 0.0


def test_percentiles_are_nearest_rank():
    """Tech 3342: of 20 values the 10th percentile is the 3rd (1.9 + 1 = 2.9), the 95th the 19th (19.05)."""
    levels_lufs = np.arange(-30.0, -20.0, 0.5)
    assert levels_lufs.size == 20
    powers = np.array([to_power(level) for level in levels_lufs])
    assert range_lu(powers) == pytest.approx(levels_lufs[18] - levels_lufs[2], abs=1e-9)


def test_the_appended_silence_spreads_a_short_tone_and_not_a_long_one():
    """What loudness.py tells of the 1.5 s: 15 falling values weigh much in 4 s and nothing in a minute."""
    tone = 0.1 * np.sin(2.0 * np.pi * 1_000.0 * np.arange(60 * RATE_HZ) / RATE_HZ)[:, None]
    assert 1.5 < measure_loudness(tone[: 4 * RATE_HZ], RATE_HZ).range_lu < 3.0
    assert measure_loudness(tone, RATE_HZ).range_lu < 0.01


@pytest.mark.parametrize("seconds", [5.0, 5.05, 5.099])
def test_the_silence_continues_an_unfinished_step(seconds: float):
    """The range equals that of a file with 1.5 s of zeros at its end, but for the filter's last ringing."""
    samples = wandering_noise(1, seconds=seconds)
    longer = np.concatenate((samples, np.zeros((RATE_HZ * 3 // 2, 1), dtype=np.float32)))
    hops = StepEnergies(RATE_HZ, 1).add(longer)[: int(seconds * 10 + 15) * 10].reshape(-1, 10).sum(axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(hops, 30).sum(axis=1) / (3 * RATE_HZ)
    assert measure_loudness(samples, RATE_HZ).range_lu == pytest.approx(range_lu(windows), abs=1e-3)


def test_no_power_has_no_loudness():
    assert to_lufs(0.0) is None
    assert to_lufs(to_power(-23.0)) == pytest.approx(-23.0, abs=1e-12)


# --- what is no audio -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("samples", "told"),
    [
        (np.zeros(4_800), "shape"),
        (np.zeros((0, 2)), "no sample"),
        (np.zeros((4_800, 0)), "no sample"),
        (np.zeros((4_800, 2), dtype=np.int16), "float type"),
        (np.full((4_800, 2), np.nan), "finite"),
        (np.full((4_800, 2), np.inf), "finite"),
        (np.full((4_800, 2), 1e300), "finite"),
    ],
)
def test_what_is_no_audio_is_refused(samples: np.ndarray, told: str):
    with pytest.raises(BadSamplesError, match=told):
        measure_loudness(samples, RATE_HZ)


@pytest.mark.parametrize("rate_hz", [0, -48_000, 7_999, 384_001])
def test_rates_outside_8_to_384_khz_are_refused(rate_hz: int):
    with pytest.raises(BadSamplesError, match="rate"):
        measure_loudness(np.zeros((100, 1)), rate_hz)


@pytest.mark.parametrize(
    ("block", "told"),
    [
        (np.zeros((10, 3), dtype=np.float32), "3 channels"),
        (np.zeros(10, dtype=np.float32), "shape"),
        (np.zeros((10, 2)), "float32"),
    ],
)
def test_a_meter_refuses_a_wrong_block(block: np.ndarray, told: str):
    with pytest.raises(BadSamplesError, match=told):
        LoudnessMeter(RATE_HZ, 2).add(block)


@pytest.mark.parametrize("value", [np.nan, np.inf])
@pytest.mark.parametrize("compiled", [True, False])
def test_a_meter_notices_a_value_that_is_not_finite(value: float, compiled: bool):
    block = np.zeros((1_000, 3), dtype=np.float32)
    block[500, 2] = value
    with pytest.raises(BadSamplesError, match="finite"), np.errstate(invalid="ignore"):
        LoudnessMeter(RATE_HZ, 3, compiled=compiled).add(block)


@pytest.mark.parametrize("channels", [(), (2,), (-1,)])
def test_channels_that_are_not_there_are_refused(channels: tuple[int, ...]):
    with pytest.raises(BadSamplesError, match="channels"):
        LoudnessMeter(RATE_HZ, 2).result(channels)


def test_weights_must_be_one_a_channel():
    with pytest.raises(BadSamplesError, match="weights"):
        LoudnessMeter(RATE_HZ, 2, weights=(1.0,))


def test_a_block_may_be_a_view_with_gaps():
    samples = wandering_noise(4)
    meter = LoudnessMeter(RATE_HZ, 2)
    meter.add(samples[:, ::2])
    assert meter.result() == measure_loudness(np.ascontiguousarray(samples[:, ::2]), RATE_HZ)


def test_momentary_window_is_400_ms():
    assert MOMENTARY_STEPS * 10 == 400


def test_importing_the_meters_loads_neither_numba_nor_scipy():
    code = (
        "import sys, audit.measure.loudness, audit.measure.peaks; "
        "sys.exit(any(name in sys.modules for name in ('numba', 'scipy')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
