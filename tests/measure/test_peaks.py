"""PeakMeter: relations that need no oracle, the sieves against every point computed, what is no audio."""

from __future__ import annotations

import math

import numpy as np
import pytest

from audit.errors import BadSamplesError
from audit.measure.interpolation import QUARTERS, interpolation_table, overshoot_bound
from audit.measure.peaks import PeakMeter, measure_peaks
from audit.results import Peaks

RATE_HZ = 48_000


def noise(channels: int = 1, *, frames: int = 30_000, seed: int = 1, colour: str = "white") -> np.ndarray:
    rng = np.random.default_rng(seed)
    wave = rng.standard_normal((frames, channels))
    if colour == "red":
        wave = np.cumsum(wave, axis=0)
        wave -= np.linspace(0.0, 1.0, frames)[:, None] * wave[-1]
    elif colour == "clipped":
        wave = np.clip(3.0 * wave, -1.0, 1.0)
    elif colour == "sparse":
        wave *= rng.random((frames, channels)) < 0.002
    return (0.7 * wave / np.abs(wave).max()).astype(np.float32)


def metered(samples: np.ndarray, *, block_frames: int = 65_536, compiled: bool = True) -> PeakMeter:
    meter = PeakMeter(RATE_HZ, samples.shape[1], compiled=compiled)
    for begin in range(0, samples.shape[0], block_frames):
        meter.add(samples[begin : begin + block_frames])
    return meter


# --- planted ----------------------------------------------------------------------------------------


def test_a_peak_between_samples_is_found():
    """A tone of a quarter of the rate at 45°: every sample is 0.7071, the waveform reaches 1.0."""
    phase = np.pi / 2.0 * np.arange(RATE_HZ) + np.pi / 4.0
    peaks = measure_peaks(np.sin(phase)[1000:-1000, None] * np.hanning(RATE_HZ - 2000)[:, None], RATE_HZ)
    assert peaks.sample_dbfs == pytest.approx(-3.01, abs=0.01)
    assert peaks.true_dbtp == pytest.approx(0.0, abs=0.01)
    assert peaks.true_at_s == pytest.approx(0.5 * (RATE_HZ - 2000) / RATE_HZ, abs=0.005)


@pytest.mark.parametrize("fraction", [0.0, 0.01, 0.125, 0.3, 0.5, 0.77, 0.99])
@pytest.mark.parametrize("frame", [0, 31, 32, 33, 500, 4095, 4096, 9_999])
def test_a_pulse_between_two_samples_is_placed_to_a_thousandth_of_a_sample(frame: int, fraction: float):
    places = np.arange(10_000) - frame - fraction
    wave = -0.8 * np.sinc(0.8 * places) * np.exp(-((places / 20.0) ** 2))
    peaks = measure_peaks(wave[:, None], RATE_HZ)
    inside = 0 < frame < 9_999  # at an edge the cut changes the pulse
    assert peaks.true_at_s * RATE_HZ == pytest.approx(frame + fraction, abs=0.005 if inside else 1.0)
    if 100 < frame < 9_900:
        assert peaks.true_dbtp == pytest.approx(20.0 * math.log10(0.8), abs=0.002)


def test_first_of_equal_sample_peaks_counts():
    samples = np.zeros((1_000, 2), dtype=np.float32)
    samples[[400, 700], 1] = -0.5
    samples[600, 0] = 0.5
    peaks = measure_peaks(samples, RATE_HZ)
    assert peaks.sample_at_frame == 400
    assert peaks.channel_dbfs == pytest.approx((-6.0206, -6.0206), abs=1e-4)


def test_file_edges_are_surrounded_by_silence():
    """Cut at full level, a waveform rings across the edge: higher than any sample, told at the edge."""
    alternating = 0.5 * np.cos(np.pi * 0.9 * np.arange(64))[:, None]
    for samples in (alternating, alternating[::-1]):
        peaks = measure_peaks(np.ascontiguousarray(samples), RATE_HZ)
        assert peaks.true_dbtp > peaks.sample_dbfs + 1.0
        assert 0.0 <= peaks.true_at_s <= 63 / RATE_HZ


def test_a_single_frame_is_measured():
    peaks = measure_peaks(np.array([[0.25]]), RATE_HZ)
    assert peaks == Peaks(
        sample_dbfs=pytest.approx(-12.041, abs=0.001), sample_at_frame=0,
        true_dbtp=pytest.approx(-12.041, abs=0.001), true_at_s=0.0,
        channel_dbfs=pytest.approx((-12.041,), abs=0.001),
    )  # fmt: skip


def test_silence_and_nothing_are_minus_infinity():
    nothing = Peaks(
        sample_dbfs=-math.inf, sample_at_frame=0, true_dbtp=-math.inf, true_at_s=0.0,
        channel_dbfs=(-math.inf, -math.inf),
    )  # fmt: skip
    assert measure_peaks(np.zeros((5_000, 2)), RATE_HZ) == nothing
    assert PeakMeter(RATE_HZ, 2).result() == nothing


def test_a_burst_of_low_samples_rises_over_all_that_came_before():
    """Alternating samples whose sign slips once: 9 dB over themselves between the two of one sign.

    A tone 0.5 dB lower came first, so a sieve that promised less than it has to would drop the burst.
    """
    table = interpolation_table()
    size = 0.3
    burst = size * np.cos(np.pi * np.arange(64))
    burst[32:] *= -1.0
    top = float(np.abs(table[16]).sum()) * size
    tone = 0.944 * top * np.sin(np.pi / 50.0 * np.arange(4_000)) * np.hanning(4_000)
    wave = np.concatenate((tone, np.zeros(64), burst, np.zeros(64))).astype(np.float32)[:, None]
    peaks = metered(wave).result()
    assert peaks.true_dbtp == pytest.approx(20.0 * math.log10(top), abs=0.01)
    assert peaks.true_at_s * RATE_HZ == pytest.approx(4_064 + 31.5, abs=0.02)
    assert peaks.true_dbtp == pytest.approx(metered(wave, compiled=False).result().true_dbtp, abs=1e-6)


# --- relations --------------------------------------------------------------------------------------


@pytest.mark.parametrize("colour", ["white", "red", "clipped", "sparse"])
@pytest.mark.parametrize("seed", range(4))
def test_no_sieve_drops_a_peak(colour: str, seed: int):
    """The compiled meter passes over nearly everything; the plain one computes every point at 32x."""
    samples = noise(2, seed=seed, colour=colour)
    for channels in (None, (0,), (1,)):
        ours = metered(samples).result(channels)
        plain = metered(samples, compiled=False, block_frames=7_001).result(channels)
        assert ours.true_dbtp == pytest.approx(plain.true_dbtp, abs=1e-6)
        assert ours.true_at_s * RATE_HZ == pytest.approx(plain.true_at_s * RATE_HZ, abs=0.002)
        assert ours.sample_dbfs == plain.sample_dbfs
        assert ours.sample_at_frame == plain.sample_at_frame


def test_what_follows_a_smooth_segment_can_raise_a_peak_inside_it():
    """A calm plateau that ends one sample after a border of 32 frames, then samples of alternating sign."""
    border = 77 * 32
    plateau = np.full(border + 1 - 1_600 - 800, 0.7)
    earlier = 0.706 * np.hanning(1_600)  # a peak a little higher than the plateau, or nothing is passed over
    rise = 0.7 * np.sin(np.linspace(0.0, np.pi / 2.0, 800)) ** 2
    alternating = -0.6 * np.cos(np.pi * np.arange(32))
    wave = np.concatenate((earlier, rise, plateau, alternating, np.zeros(200))).astype(np.float32)[:, None]
    peaks = metered(wave).result()
    assert border - 1 < peaks.true_at_s * RATE_HZ < border
    assert peaks.true_dbtp == pytest.approx(metered(wave, compiled=False).result().true_dbtp, abs=1e-6)


@pytest.mark.parametrize("channels", [1, 2, 3])
@pytest.mark.parametrize("block_frames", [1, 13, 31, 32, 33, 4_096, 4_097])
def test_block_size_changes_no_bit(block_frames: int, channels: int):
    samples = noise(channels, frames=9_000)
    assert metered(samples, block_frames=block_frames).result() == metered(samples).result()


def test_twice_the_amplitude_is_6_02_db():
    once = measure_peaks(noise(), RATE_HZ)
    twice = measure_peaks(2.0 * noise(), RATE_HZ)
    assert twice.true_dbtp - once.true_dbtp == pytest.approx(6.0206, abs=1e-4)
    assert twice.sample_dbfs - once.sample_dbfs == pytest.approx(6.0206, abs=1e-4)
    assert twice.true_at_s == once.true_at_s


def test_polarity_and_direction_do_not_matter():
    samples = noise()
    there = measure_peaks(samples, RATE_HZ)
    assert measure_peaks(-samples, RATE_HZ) == there
    back = measure_peaks(np.ascontiguousarray(samples[::-1]), RATE_HZ)
    assert back.true_dbtp == pytest.approx(there.true_dbtp, abs=1e-6)
    assert back.true_at_s + there.true_at_s == pytest.approx((samples.shape[0] - 1) / RATE_HZ, abs=1e-6)


@pytest.mark.parametrize("frames", [1, 31, 32, 4_000])
def test_silence_before_moves_the_places_only(frames: int):
    samples = noise()
    before = measure_peaks(samples, RATE_HZ)
    after = measure_peaks(np.concatenate((np.zeros((frames, 1), np.float32), samples)), RATE_HZ)
    assert after.true_dbtp == pytest.approx(before.true_dbtp, abs=1e-9)
    assert after.sample_at_frame == before.sample_at_frame + frames
    assert (after.true_at_s - before.true_at_s) * RATE_HZ == pytest.approx(frames, abs=1e-6)


def test_channels_swap_with_their_peaks():
    samples = noise(3)
    there = metered(samples)
    back = metered(np.ascontiguousarray(samples[:, ::-1]))
    assert there.result() == Peaks(
        sample_dbfs=back.result().sample_dbfs, sample_at_frame=back.result().sample_at_frame,
        true_dbtp=back.result().true_dbtp, true_at_s=back.result().true_at_s,
        channel_dbfs=back.result().channel_dbfs[::-1],
    )  # fmt: skip
    assert there.result((0,)) == back.result((2,))


def test_a_quiet_channel_is_measured_as_exactly_as_a_loud_one():
    samples = noise(2)
    samples[:, 1] *= np.float32(0.001)
    alone = measure_peaks(np.ascontiguousarray(samples[:, 1:]), RATE_HZ)
    assert metered(samples).result((1,)) == alone


def test_asking_does_not_disturb():
    samples = noise(2)
    asked = PeakMeter(RATE_HZ, 2)
    for begin in range(0, samples.shape[0], 1_009):
        asked.add(samples[begin : begin + 1_009])
        asked.result()
    assert asked.result() == metered(samples).result()


def test_true_peak_is_never_below_the_sample_peak():
    for seed in range(50):
        peaks = measure_peaks(noise(frames=300, seed=seed), RATE_HZ)
        assert peaks.true_dbtp >= peaks.sample_dbfs


def test_memory_does_not_grow_with_the_stream():
    meter = PeakMeter(RATE_HZ, 2)
    before = meter._scan._planes.nbytes
    meter.add(noise(2, frames=200_000))
    assert meter._scan._planes.nbytes == before


# --- the bounds the sieves rest on ------------------------------------------------------------------


def test_bounds_hold_for_random_samples():
    table, bound = interpolation_table(), overshoot_bound()
    rng = np.random.default_rng(8)
    closest = 0.0
    for trial in range(3_000):
        samples = rng.standard_normal(64) * rng.random(64) ** 3
        if trial % 2:
            samples = np.cumsum(samples)
        size, bend = np.abs(samples[31:33]).max(), np.abs(np.diff(samples, 2)).max()
        values = table @ samples
        assert np.abs(values).max() <= bound.gain * size + bound.curvature * bend
        short = (
            np.abs(bound.short @ samples[24:40]) + bound.short_curvature * bend + (bound.gain - 1.0) * size
        )
        assert (np.abs(values[list(QUARTERS)]) <= short + 1e-6 * np.abs(samples).max()).all()
        closest = max(closest, np.abs(values).max() / (bound.gain * size + bound.curvature * bend))
    assert closest > 0.8  # the bound is worth having


def test_the_bound_is_reached_by_the_samples_that_are_worst_for_it():
    """Second differences of one size, signed as the filter is: nothing smaller would be a bound."""
    table, bound = interpolation_table(), overshoot_bound()
    rest = table[16].copy()
    rest[31] -= 0.5
    rest[32] -= 0.5
    weights = np.cumsum(np.cumsum(rest))[:62]
    samples = np.zeros(64)
    for k, sign in enumerate(np.sign(weights)):
        samples[k + 2] = 2.0 * samples[k + 1] - samples[k] + sign
    line = np.interp(np.arange(64), [31, 32], samples[31:33])  # the bound is on what lies above the line
    line[:31] = samples[31] + (np.arange(31) - 31) * (samples[32] - samples[31])
    line[33:] = samples[32] + (np.arange(33, 64) - 32) * (samples[32] - samples[31])
    above = abs(table[16] @ (samples - line))
    assert above == pytest.approx(bound.curvature, rel=0.02)


# --- what is no audio -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("samples", "told"),
    [
        (np.zeros(100), "shape"),
        (np.zeros((0, 1)), "no sample"),
        (np.zeros((100, 1), dtype=np.int32), "float type"),
        (np.array([[0.1], [np.nan]]), "finite"),
        (np.array([[0.1], [-np.inf]]), "finite"),
    ],
)
def test_what_is_no_audio_is_refused(samples: np.ndarray, told: str):
    with pytest.raises(BadSamplesError, match=told):
        measure_peaks(samples, RATE_HZ)


def test_a_meter_refuses_wrong_blocks_channels_and_rates():
    meter = PeakMeter(RATE_HZ, 2)
    with pytest.raises(BadSamplesError, match="1 channels"):
        meter.add(np.zeros((10, 1), dtype=np.float32))
    with pytest.raises(BadSamplesError, match="float32"):
        meter.add(np.zeros((10, 2)))
    with pytest.raises(BadSamplesError, match="no channels"):
        meter.result((2,))
    with pytest.raises(BadSamplesError, match="rate"):
        PeakMeter(4_000, 1)
    with pytest.raises(BadSamplesError, match="channel"):
        PeakMeter(RATE_HZ, 0)


@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 384_000])
@pytest.mark.parametrize("channels", [1, 8])
def test_any_rate_and_channel_count(rate_hz: int, channels: int):
    samples = noise(channels, frames=3_000)
    peaks = measure_peaks(samples, rate_hz)
    assert len(peaks.channel_dbfs) == channels
    assert peaks.true_at_s == pytest.approx(measure_peaks(samples, RATE_HZ).true_at_s * RATE_HZ / rate_hz)
