"""EnvelopeMeter: where a part sounds and how loud, in a bounded number of bins."""

from __future__ import annotations

import math

import numpy as np
import pytest

from audit.measure.envelope import MOST_BINS, EnvelopeMeter
from audit.results import Envelope
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, fed

RATE_HZ = 48_000


def envelope(samples: signals.Samples, rate_hz: int = RATE_HZ, size: int = 65_536) -> Envelope:
    found = fed(EnvelopeMeter(rate_hz, samples.shape[1]), samples, size).result()
    assert found is not None
    return found


def level_db(code: int) -> float:
    return -math.inf if code == 0 else (code - 240) / 2


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("peak", [1.0, 0.05])
def test_a_sine_stands_at_its_peak_and_three_decibels_below_as_rms(rate_hz, peak):
    found = envelope(signals.sine(997.0, 2.0, rate_hz=rate_hz, peak=peak)[0], rate_hz)
    assert len(found.peaks) == len(found.levels) == 20
    assert found.bin_s == pytest.approx(0.1)
    wanted = 20 * math.log10(peak)
    assert {abs(level_db(code) - wanted) <= 0.26 for code in found.peaks} == {True}
    assert {abs(level_db(code) - (wanted - 3.0103)) <= 0.26 for code in found.levels} == {True}


def test_silence_is_code_zero_and_sound_stands_where_it_is():
    samples = signals.join(signals.silence(1.0)[0], signals.sine(997.0, 0.5)[0], signals.silence(1.0)[0])
    found = envelope(samples)
    sounding = [at for at, code in enumerate(found.levels) if code]
    assert sounding == list(range(10, 15))


def test_a_long_stem_has_no_more_bins_and_loses_no_peak():
    samples = np.zeros((round(RATE_HZ * 200.03), 1), np.float32)
    samples[round(RATE_HZ * 150.0)] = 0.5
    found = envelope(samples)
    assert found.bin_s == pytest.approx(0.3)
    assert len(found.peaks) == len(found.levels) == 667 <= MOST_BINS
    loud = [at for at, code in enumerate(found.peaks) if code]
    assert [round(at * found.bin_s, 1) for at in loud] == [150.0]
    assert level_db(found.peaks[loud[0]]) == pytest.approx(-6.02, abs=0.26)


@pytest.mark.parametrize(("steps", "together"), [(MOST_BINS, 1), (MOST_BINS + 1, 2)])
def test_bins_are_drawn_together_only_past_the_bound(steps, together):
    found = envelope(np.full((steps * 800, 1), 0.25, np.float32), 8000)
    assert found.bin_s == pytest.approx(0.1 * together)
    assert len(found.peaks) == -(-steps // together)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_nothing(size):
    bed = signals.music_bed(3.33)[0]
    assert envelope(bed, size=size) == envelope(bed)


def test_twice_the_amplitude_is_six_decibels_more():
    bed = signals.music_bed(3.0)[0] * np.float32(0.25)
    before, after = envelope(bed), envelope(bed * np.float32(2.0))
    steps = {b - a for a, b in zip(before.levels, after.levels, strict=True) if a > 1}
    assert steps <= {12, 13}  # 12.04 half decibels, rounded


def test_the_louder_side_gives_the_peak_and_both_the_level():
    left = signals.sine(997.0, 1.0, peak=1.0)[0]
    found = envelope(np.hstack([left, np.zeros_like(left)]))
    assert level_db(found.peaks[3]) == pytest.approx(0.0, abs=0.26)
    assert level_db(found.levels[3]) == pytest.approx(-6.02, abs=0.26)


def test_over_full_scale_and_far_below_stay_within_a_byte():
    found = envelope(np.full((4800, 1), 100.0, np.float32))
    assert list(found.peaks) == [255]
    assert list(envelope(np.full((4800, 1), 1e-9, np.float32)).peaks) == [1]


def test_no_frame_has_no_envelope():
    assert EnvelopeMeter(RATE_HZ, 2).result() is None
    assert len(envelope(np.full((1, 2), 0.5, np.float32)).peaks) == 1


def hissing(hiss_dbfs: float, above_db: float) -> Envelope:
    """Eight seconds of hiss that rises by so much from second 4 to second 6."""
    noise = np.random.default_rng(3).standard_normal((8 * RATE_HZ, 1)) * 10 ** (hiss_dbfs / 20)
    noise[4 * RATE_HZ : 6 * RATE_HZ] *= 10 ** (above_db / 20)
    return envelope(noise.astype(np.float32))


@pytest.mark.parametrize(
    ("hiss_dbfs", "above_db", "played_s"),
    [
        (-60.0, 30.0, (4.0, 6.0)),
        (-60.0, 13.0, (4.0, 6.0)),
        (-60.0, 11.0, None),
        (-46.0, 30.0, (4.0, 6.0)),
        (-44.0, 30.0, (0.0, 8.0)),  # that loud it is sound from its first frame on
    ],
)
def test_what_is_played_rises_from_the_hiss(
    hiss_dbfs: float, above_db: float, played_s: tuple[float, float] | None
):
    found = hissing(hiss_dbfs, above_db).above_hiss_s()
    assert found == (None if played_s is None else pytest.approx(played_s))


@pytest.mark.parametrize(("begins_s", "played_s"), [(0.5, (0.0, 3.0)), (0.6, (0.6, 3.0))])
def test_music_that_begins_within_half_a_second_has_no_hiss_before_it(
    begins_s: float, played_s: tuple[float, float]
):
    """Most of the first second has to be hiss: less is a breath, or the noise of a file's own first note."""
    noise = np.random.default_rng(3).standard_normal((3 * RATE_HZ, 1)) * 10 ** (-20 / 20)
    noise[: round(begins_s * RATE_HZ)] *= 10 ** (-40 / 20)
    assert envelope(noise.astype(np.float32)).above_hiss_s() == pytest.approx(played_s)


@pytest.mark.parametrize("first_s", [0.0, 0.14, 0.9])
def test_hiss_is_not_played_wherever_it_first_peaks(first_s: float):
    """Soft hiss first peaks above what counts as sound some tens of milliseconds in."""
    found = hissing(-80.0, 40.0).played_s(first_s, 7.9)
    assert found is not None
    assert found == pytest.approx((4.0, 6.0), abs=0.06)
    assert hissing(-80.0, 0.0).played_s(first_s, 7.9) is None


def test_what_fades_in_or_begins_after_silence_is_played_from_its_first_sound_on():
    noise = np.random.default_rng(3).standard_normal((4 * RATE_HZ, 1)) * 10 ** (-20 / 20)
    faded = noise.copy()
    faded[: 2 * RATE_HZ] *= np.linspace(0.0, 1.0, 2 * RATE_HZ)[:, None] ** 3
    assert envelope(faded.astype(np.float32)).played_s(0.2, 3.9) == (0.2, 3.9)
    after = noise.copy()
    after[: round(0.7 * RATE_HZ)] = 0.0
    assert envelope(after.astype(np.float32)).played_s(0.7, 3.9) == (0.7, 3.9)
    assert envelope(noise.astype(np.float32)).played_s(0.02, 3.9) == (0.02, 3.9)
