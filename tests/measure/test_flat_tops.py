"""FlatTopMeter: clipping that was turned down is found; everything else with a flat top is not."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.measure import flat_tops_kernel as kernel
from audit.measure.flat_tops import BAND, STEEP, FlatTopMeter
from audit.results import FlatTops
from tests import signals
from tests.flattened_lab import STORED, stored
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.shared import shared_folder

RATE_HZ = 48_000


def flat_tops(
    samples: signals.Samples,
    *,
    bits: int | None = 24,
    is_float: bool = False,
    rate_hz: int = RATE_HZ,
    part: tuple[int, ...] | None = None,
    size: int = 65_536,
) -> FlatTops:
    meter = FlatTopMeter(rate_hz, samples.shape[1], bits=bits, is_float=is_float)
    return fed(meter, samples, size).result(part)


def turned_down(
    take: signals.Samples, over_db: float, gain_db: float = -4.3
) -> tuple[signals.Samples, signals.Truth]:
    clipped, truth = signals.clip(take, over_db)
    return signals.turn(clipped, gain_db), truth


# --- planted ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", STORED)
@pytest.mark.parametrize("over_db", [2.0, 6.0])
def test_clipped_then_turned_down(over_db, how):
    samples, truth = turned_down(signals.music_bed(8.0)[0], over_db)
    samples, bits = stored(samples, how)
    is_float = bits is None
    result = flat_tops(samples, bits=bits, is_float=is_float)
    assert truth["runs"] > 20
    assert 0.9 * truth["runs"] <= result.plateaus <= 1.05 * truth["runs"]
    assert result.level_dbfs == pytest.approx(-4.3, abs=0.01)
    assert result.longest_frames == truth["longest"]
    assert result.first_at_frame == truth.at_frames[0]
    assert 0.0 < result.share < 0.05


def takes() -> dict[str, signals.Samples]:
    made = {
        "band": signals.music_bed(6.0)[0], "drums": signals.drums(6.0)[0], "voice": signals.speech(6.0)[0],
        "bass": signals.staccato_bass(6.0)[0], "low tone": signals.sine(41.2, 6.0)[0],
        "chord": signals.sines((220.0, 277.2, 329.6, 440.0), 6.0)[0],
    }  # fmt: skip
    return {**made, **{f"band, seed {seed}": signals.music_bed(6.0, seed=seed)[0] for seed in range(20, 26)}}


@pytest.mark.parametrize("how", ["24 bit", "dithered to 16 bit, in 24", "dithered to 24 bit, in float"])
def test_one_decibel_of_clipping_is_found_in_nine_of_ten_takes(how):
    hits, with_runs = 0, 0
    for take in takes().values():
        for rate_gain_db in (-1.0, -4.3, -12.0):
            samples, truth = turned_down(take, 1.0, rate_gain_db)
            if not truth["runs"]:
                continue  # nothing three samples long was cut off
            with_runs += 1
            # A top that only just reached the limit has no corner: half of so few must do.
            samples, bits = stored(samples, how)
            found = flat_tops(samples, bits=bits, is_float=bits is None)
            hits += found.plateaus >= max(1, 0.5 * truth["runs"])
    assert with_runs >= 24
    assert hits >= 0.9 * with_runs


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000, 192_000])
def test_other_rates(rate_hz):
    bed, _ = signals.music_bed(3.0, rate_hz=rate_hz)
    samples, truth = turned_down(bed, 4.0)
    result = flat_tops(signals.quantise(samples, 24), rate_hz=rate_hz)
    assert result.plateaus >= 0.9 * truth["runs"] > 10


def test_only_one_polarity_clipped():
    bed, _ = signals.music_bed(4.0, peak=1.0)
    result = flat_tops(signals.quantise(np.minimum(bed, np.float32(0.55)) * np.float32(0.7), 24))
    assert result.plateaus == 0  # the other side is higher: by definition not at the part's own maximum
    both = flat_tops(signals.quantise(np.clip(bed, -0.55, 0.55).astype(np.float32) * np.float32(0.7), 24))
    assert both.plateaus > 20


def test_each_channel_has_its_own_maximum():
    one, truth = turned_down(signals.drums(4.0)[0], 6.0, -3.0)
    other, other_truth = turned_down(signals.drums(4.0, seed=5)[0], 6.0, -9.0)
    both = signals.quantise(beside(one, other), 24)
    result = flat_tops(both)
    assert result.plateaus == flat_tops(both, part=(0,)).plateaus + flat_tops(both, part=(1,)).plateaus
    assert result.plateaus >= 0.9 * (truth["runs"] + other_truth["runs"])
    assert result.level_dbfs == pytest.approx(-3.0, abs=0.01)


# --- clean: every other flat thing ------------------------------------------------------------------


def limited(take: signals.Samples, ceiling: float) -> signals.Samples:
    """A brick-wall limiter: the gain of the worst sample within 2 ms, smoothed; peaks touch the ceiling."""
    reach = 96
    need = np.minimum(1.0, ceiling / np.maximum(np.abs(take).max(axis=1), 1e-9))
    padded = np.pad(need, reach, mode="edge")
    worst = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).min(axis=1)
    gain = np.convolve(np.pad(worst, reach, mode="edge"), np.ones(2 * reach + 1) / (2 * reach + 1), "valid")
    return (take * np.minimum(gain, need)[:, None]).astype(np.float32)


def soft_release() -> signals.Samples:
    """A level reached at once, held for 1 ms and left along a cosine, over and over."""
    away = 0.6 * np.cos(np.linspace(0.0, np.pi / 2, 400)) ** 2
    return np.tile(np.concatenate((np.full(48, 0.6), away, np.zeros(200))), 100)[:, None].astype(np.float32)


BED = signals.music_bed(4.0)[0]
DYING = np.exp(-np.arange(4 * RATE_HZ) / 9000)[:, None]
TREMOLO = (0.5 + 0.4 * np.sin(np.arange(len(BED)) * 2 * np.pi * 5 / RATE_HZ))[:, None].astype(np.float32)

CLEAN = {
    "music, 24 bit": (BED, 24),
    "music, 16 bit": (BED, 16),
    "music, 16 bit with dither": (signals.quantise(BED, 16, dither=True), 16),
    "quiet music, 16 bit": (signals.turn(BED, -50.0), 16),
    "very quiet music, 16 bit": (signals.turn(BED, -62.0), 16),
    "a 40 Hz sine, 16 bit": (signals.sine(40.0, 4.0, peak=0.9)[0], 16),
    "a 20 Hz sine, 16 bit": (signals.sine(20.0, 4.0, peak=0.9)[0], 16),
    "a quiet 40 Hz sine, 16 bit": (signals.sine(40.0, 4.0, peak=0.02)[0], 16),
    "a 300 Hz sine, 16 bit": (signals.sine(300.0, 4.0, peak=0.02)[0], 16),
    "a 200 Hz sine, 16 bit": (signals.sine(200.0, 4.0, peak=0.05)[0], 16),
    "16 bit audio in a 24-bit file": (signals.quantise(signals.sine(300.0, 4.0, peak=0.02)[0], 16), 24),
    "jumps up, stands, leaves softly": (soft_release(), 24),
    "comes softly, stands, drops": (soft_release()[::-1], 24),
    "a quarter of the rate, off the samples": (signals.sine(12_000.0, 2.0, phase_deg=45.0)[0], 16),
    "a limiter's output": (limited(signals.turn(BED, 12.0), 0.7), 24),
    "a limiter's output, 16 bit": (limited(signals.turn(BED, 12.0), 0.7), 16),
    "a limiter's drums": (limited(signals.turn(signals.drums(4.0)[0], 12.0), 0.7), 24),
    "a limiter's drums, 16 bit with dither": (
        signals.quantise(limited(signals.turn(signals.drums(4.0)[0], 12.0), 0.7), 16, dither=True), 16,
    ),
    "a limiter's output, every sample twice": (
        np.repeat(limited(signals.turn(BED, 12.0), 0.7)[::2], 2, axis=0), 24,
    ),
    "saw": (signals.saw(55.0, 4.0)[0], 16),
    "triangle": (signals.triangle(30.0, 4.0)[0], 16),
    "noise": (signals.noise(4.0, rms=0.2)[0], 16),
    "gated noise": (signals.noise(4.0, rms=0.2)[0] * (signals.square(3.0, 4.0, peak=1.0)[0] > 0), 16),
    "drums": (signals.drums(4.0)[0], 16),
    "hats": (signals.hats(4.0)[0], 16),
    "voice": (signals.speech(4.0)[0], 16),
    "a click": (signals.clicks(4.0)[0], 16),
    "tremolo": (BED * TREMOLO, 16),
    "half a wave": (np.maximum(BED, np.float32(0.0)), 24),
    "a square that dies away": (signals.square(110.0, 4.0)[0] * DYING, 24),
    "soft saturation": (np.tanh(3.0 * BED / 0.5) * 0.7, 16),
    "eight bits": (signals.quantise(BED, 8), 24),
    "eight bits, 8-bit file": (BED, 8),
    "sample and hold, 4": (np.repeat(BED[::4], 4, axis=0), 24),
    "sample and hold, 3": (np.repeat(BED[::3], 3, axis=0), 24),
    "sample and hold, 8, dithered": (signals.quantise(np.repeat(BED[::8], 8, axis=0), 16, dither=True), 16),
    "a staircase triangle": (np.round(signals.triangle(80.0, 4.0)[0] * 16) / 16, 24),
    "a stepped envelope on a square": (
        signals.square(220.0, 4.0)[0] * (1 - np.arange(4 * RATE_HZ) // 3000 % 16 / 16)[:, None], 24,
    ),
    "a pulse without its DC": (signals.square(110.0, 4.0, duty=0.25)[0] + np.float32(0.25), 24),
    "the last sample held": (signals.join(BED[:30_000], np.full((60_000, 2), 0.6, np.float32)), 24),
    "a constant": (np.full((60_000, 1), 0.5, np.float32), 24),
    "silence": (signals.silence(1.0)[0], 24),
    "nothing": (signals.silence(0.0)[0], 24),
}  # fmt: skip


PAIRED = ("pairs", "pairs_among", "pairs_dbfs", "pairs_at_frame")


def told_by_pairs(tops: FlatTops) -> bool:
    """As flattened-peaks has it; a few pairs come about by chance."""
    return tops.pairs >= 4 and tops.pairs >= 0.12 * tops.pairs_among


@pytest.mark.parametrize("name", CLEAN)
@pytest.mark.parametrize("wider", [False, True], ids=["in its own bits", "in float"])
def test_clean(name, wider):
    take, bits = CLEAN[name]
    samples = signals.quantise(take.astype(np.float32), bits)
    result = flat_tops(samples, bits=None if wider else bits, is_float=wider)
    assert not told_by_pairs(result)
    assert result == FlatTops(
        level_dbfs=-math.inf,
        plateaus=0,
        longest_frames=0,
        first_at_frame=None,
        share=0.0,
        **{name: getattr(result, name) for name in PAIRED},
    )


@pytest.mark.parametrize(
    "take",
    [
        signals.square(110.0, 4.0)[0],
        signals.square(110.0, 4.0, duty=0.1)[0],
        signals.arp(4.0)[0],
        signals.timecode(4.0)[0],
    ],
    ids=["square", "pulse", "chip-tune arpeggio", "timecode"],
)
def test_what_stands_at_its_top_by_nature_says_so(take):
    result = flat_tops(signals.quantise(take, 24))
    assert result.plateaus > 100
    assert result.share > 0.8


def test_rendered_instruments_are_clean_and_found_once_clipped():
    files = sorted(shared_folder("corpus").glob("*/*.flac"))
    takes = [file for file in files if file.stem not in ("Click", "Guide", "Timecode")]
    assert len(takes) >= 20
    missed, judged = [], 0
    for file in takes:
        samples = _twelve_seconds(file)
        assert flat_tops(samples).plateaus == 0, file
        if not samples.any():
            continue
        judged += 1
        worse, truth = turned_down(samples, 3.0)
        if truth["runs"] >= 10 and flat_tops(signals.quantise(worse, 24)).plateaus < 0.8 * truth["runs"]:
            missed.append(file)
    assert judged >= 20
    assert len(missed) <= judged // 10, missed


def _twelve_seconds(file: Path) -> signals.Samples:
    with soundfile.SoundFile(file) as audio:
        audio.seek(12 * audio.samplerate)
        return audio.read(12 * audio.samplerate, dtype="float32", always_2d=True)


# --- relations --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [5, *BLOCK_SIZES])
def test_the_block_size_changes_nothing(size):
    samples = signals.quantise(turned_down(signals.music_bed(1.0)[0], 5.0)[0], 16, dither=True)
    samples = samples[:12_000] if size == 5 else samples
    assert flat_tops(samples, bits=16, size=size) == flat_tops(samples, bits=16, size=777)


def test_gain_moves_the_level_only():
    samples = signals.quantise(turned_down(signals.music_bed(3.0)[0], 5.0, -1.0)[0], 24)
    loud, soft = flat_tops(samples), flat_tops(samples * np.float32(0.5))
    assert soft.level_dbfs == pytest.approx(loud.level_dbfs - 20 * math.log10(2), abs=0.001)
    assert soft.plateaus == loud.plateaus
    assert soft.first_at_frame == loud.first_at_frame


def test_a_second_of_silence_before_moves_the_place():
    samples = signals.quantise(turned_down(signals.drums(2.0)[0], 5.0)[0], 24)
    before, after = flat_tops(samples), flat_tops(signals.join(signals.silence(1.0)[0], samples))
    assert before.first_at_frame is not None
    assert after.first_at_frame == before.first_at_frame + RATE_HZ
    assert after.plateaus == before.plateaus


def test_a_plain_search_for_runs_at_the_maximum_agrees():
    """Second implementation, without corners: on clipped sines every run at the maximum is a plateau."""
    tone, _ = signals.sine(331.0, 2.0)
    samples = signals.quantise(turned_down(tone, 3.0)[0], 24)
    wave = np.abs(samples[:, 0])
    at_top = np.concatenate(([0], (wave == wave.max()).astype(int), [0]))
    edges = np.flatnonzero(np.diff(at_top))
    runs = edges[1::2] - edges[::2]
    result = flat_tops(samples)
    assert result.plateaus == (runs >= 3).sum() > 1000
    assert result.longest_frames == runs.max()
    assert result.share == pytest.approx(runs.sum() / (wave >= 1e-3).sum(), rel=0.01)


# --- at the limits ------------------------------------------------------------------------------------------


def pulses(*kinds: tuple[float, int]) -> np.ndarray:
    """(level, count): pulses of four equal samples, each with as many zeros before and behind it."""
    return np.concatenate([np.tile([0.0] * 4 + [level] * 4 + [0.0] * 4, count) for level, count in kinds])


def of_pulses(*kinds: tuple[float, int], beside_s: float = 0.0) -> FlatTops:
    """Plateaus of such pulses in a float file, beside a smooth quiet tone of that length."""
    tone = 0.1 * np.sin(2 * np.pi * 97.0 * np.arange(round(beside_s * RATE_HZ)) / RATE_HZ)
    return flat_tops(
        np.concatenate((pulses(*kinds), tone)).astype(np.float32)[:, None], bits=None, is_float=True
    )


@pytest.mark.parametrize(("below", "told"), [(10, 20), (11, 0)])
def test_half_as_many_plateaus_below_the_top_make_a_stepped_sound(below, told):
    assert of_pulses((0.5, 20), (0.3, below)).plateaus == told


@pytest.mark.parametrize(("beside_s", "told"), [(0.08, 0), (0.18, 20)])
def test_plateaus_below_the_top_count_past_a_hundredth_of_the_sound(beside_s, told):
    """11 plateaus of four samples at −10 dB: 44 of 124 sounding frames and those of the tone."""
    assert of_pulses((0.5, 20), (0.3, 11), beside_s=beside_s).plateaus == told


@pytest.mark.parametrize(("down_db", "together"), [(0.045, 28), (0.055, 20)])
def test_the_top_is_a_twentieth_of_a_decibel_deep(down_db, together):
    assert of_pulses((0.5, 20), (0.5 * 10 ** (-down_db / 20), 8)).plateaus == together


@pytest.mark.parametrize(
    ("bits", "apart_codes", "told"),
    [(8, 1, 20), (8, 2, 0), (12, 1, 20), (12, 2, 0), (16, 3, 20), (16, 4, 0), (24, 768, 20), (24, 1024, 0)],
)
def test_equal_means_within_dither_and_in_8_bits_within_a_code(bits, apart_codes, told):
    wave = pulses((0.75, 20))
    high = np.flatnonzero(wave)
    wave[high[1::2]] -= apart_codes * 2.0 ** -(bits - 1)
    assert flat_tops(wave.astype(np.float32)[:, None], bits=bits).plateaus == told


def test_touches_are_counted_at_the_maximum_alone():
    """Three plateaus, two more single samples at the same level, one peak 0.5 dB lower."""
    wave = np.zeros((48_000, 1), np.float32)
    for at, frames in ((5_000, 3), (12_000, 5), (20_000, 4), (28_000, 1), (33_000, 1)):
        wave[at : at + frames] = 0.4 if frames > 1 else -0.4
    wave[40_000] = 0.4 * 10 ** (-0.5 / 20)
    found = flat_tops(wave)
    assert (found.plateaus, found.touches) == (3, 5)
    wave[44_000] = 0.45
    assert flat_tops(wave).plateaus == 0


@pytest.mark.parametrize("dither", [False, True])
def test_a_clipped_bed_touches_its_ceiling_as_often_as_it_is_cut(dither):
    samples = turned_down(signals.music_bed(6.0, seed=21, channels=1)[0], 4.0)[0]
    found = flat_tops(signals.quantise(samples, 16, dither=dither), bits=16)
    ends = np.flatnonzero(np.abs(samples[:, 0]) >= np.abs(samples).max() * 0.99999)
    assert found.touches == pytest.approx(1 + int((np.diff(ends) > 24).sum()), abs=1)


def test_what_the_sieve_passes_over_changes_nothing():
    """Every chunk looked at closely, sample by sample, finds the same: the counts, the peak, the open run."""
    random = np.random.default_rng(11)
    met = np.zeros(2)
    for trial in range(120):
        frames = int(random.integers(2_000, 9_000))
        at = np.arange(frames) / RATE_HZ
        wave = sum(
            random.uniform(0.01, 0.4)
            * np.sin(2 * np.pi * random.uniform(20, 2_000) * at + random.uniform(0, 6))
            for _ in range(3)
        )
        if trial % 3:
            height = random.uniform(0.5, 0.99) * np.abs(wave).max()
            wave = np.clip(wave, -height, height)
        if trial % 4 == 1:
            wave *= np.exp(-at * random.uniform(0, 40))
        bits = int(random.choice([8, 16, 24]))
        noise = random.integers(0, 2) * (random.random(frames) - random.random(frames))
        wave = (np.round(wave * 2 ** (bits - 1) + noise) / 2 ** (bits - 1)).astype(np.float32)
        span = int(random.choice([2, 4]))
        for width in (24, 16, 8):
            step = 2.0 ** -(width - 1)
            limits = (np.float32(3.5 * step), np.float32(1e-3), max(step, 2.0**-15), STEEP, BAND, 0.0064)
            sieved, closely = (
                (np.zeros(kernel.STATE_SIZE), np.zeros((kernel.ROWS, kernel.COLUMNS))) for _ in range(2)
            )
            kernel.scan(wave, span + 2, frames - span, 0.0, *sieved, span, limits)
            kernel.look_closely(wave, span + 2, frames - span, 0.0, *closely, span, limits)
            met += (sieved[1][:, kernel.COUNT].sum(), sieved[0][kernel.BELOW])
            elsewhere = [kernel.SOUNDING, *range(kernel.TOUCH_LEVEL, kernel.STATE_SIZE)]
            if sieved[0][kernel.RUN_LENGTH] == closely[0][kernel.RUN_LENGTH] == 0.0:
                elsewhere += [kernel.RUN_START, kernel.RUN_LOW, kernel.RUN_HIGH, kernel.RUN_ENTRY]
            for state in (sieved[0], closely[0]):
                state[elsewhere] = 0.0
            assert np.array_equal(sieved[0], closely[0]), (trial, width)
            assert np.array_equal(sieved[1], closely[1]), (trial, width)
    assert (met > 1_000).all()


@pytest.mark.parametrize("held", [0, 1, 3, 40])
def test_a_rest_behind_a_top_changes_nothing(held: int):
    """A take that is cut off on a flat top, before a block of nothing but silence."""
    take = turned_down(signals.music_bed(2.0)[0], 6.0)[0]
    top = take[:1] * 0.0 + take.max()
    samples = np.concatenate([take[: 65_536 - held], np.repeat(top, held, axis=0)])
    samples = np.concatenate([samples, np.zeros((3 * 65_536, take.shape[1]), np.float32), take])
    whole = flat_tops(samples, size=len(samples))
    assert whole.plateaus > 20
    assert flat_tops(samples, size=65_536) == whole
