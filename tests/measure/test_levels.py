"""LevelMeter: RMS, crest, active time and DC offset against formulas, and what is no offset."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import linregress

from audit.errors import BadSamplesError
from audit.measure.levels import LevelMeter
from audit.measure.offset import standing_offset
from audit.measure.steps import StepSums
from audit.results import Levels
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.shared import shared_folder

RATE_HZ = 48_000


def levels(
    samples: signals.Samples, rate_hz: int = RATE_HZ, part: tuple[int, ...] | None = None, size: int = 65_536
) -> Levels:
    return fed(LevelMeter(rate_hz, samples.shape[1]), samples, size).result(part)


# --- planted ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize("peak", [1.0, 0.1])
def test_a_sine_has_the_rms_and_crest_of_a_sine(rate_hz, peak):
    samples, truth = signals.sine(997.0, 2.0, rate_hz=rate_hz, peak=peak)
    result = levels(samples, rate_hz)
    # AES17's frequency; in the peak sense of 0 dBFS a full-scale sine reads −3.01 dBFS (AES17 [memory]).
    assert result.rms_dbfs == pytest.approx(20 * math.log10(truth["rms"]), abs=0.002)
    assert result.active_rms_dbfs == pytest.approx(result.rms_dbfs, abs=0.001)
    assert result.crest_db == pytest.approx(3.0103, abs=0.002)


def test_rests_lower_the_rms_but_not_the_active_rms_nor_the_crest():
    tone, _ = signals.sine(997.0, 2.0)
    alone, rested = levels(tone), levels(signals.join(tone, signals.silence(6.0)[0]))
    assert rested.rms_dbfs == pytest.approx(alone.rms_dbfs - 10 * math.log10(4), abs=0.001)
    assert rested.active_rms_dbfs == pytest.approx(alone.active_rms_dbfs, abs=0.001)
    assert rested.crest_db == pytest.approx(alone.crest_db, abs=0.001)


@pytest.mark.parametrize("offset", [0.02, -0.005])
def test_an_offset_under_music_is_found(offset):
    samples, _ = signals.dc(signals.drums(15.0)[0], offset)
    result = levels(samples)
    # Reported less three standard errors: a lower bound.
    assert 0.85 <= result.dc_offset / offset <= 1.02
    assert 0.85 <= result.dc_worst_window / offset <= 1.02


def test_an_offset_under_a_steady_tone_is_its_mean():
    samples, _ = signals.dc(signals.sine(100.0, 5.0)[0], 0.004)
    assert levels(samples).dc_offset == pytest.approx(0.004, rel=1e-4)


def test_an_offset_for_a_while_is_found_where_it_is():
    quiet, offset = signals.drums(60.0, peak=0.5)[0], np.zeros((60 * RATE_HZ, 1), np.float32)
    offset[22 * RATE_HZ : 37 * RATE_HZ] = 0.01
    result = levels(quiet + offset)
    assert result.dc_worst_window == pytest.approx(0.01, rel=0.05)
    assert 22.0 <= result.dc_worst_at_s <= 27.0
    assert abs(result.dc_offset) < 0.005


@pytest.mark.parametrize(("seconds", "whole_only"), [(9.9, True), (12.0, False)])
def test_ten_seconds_are_the_shortest_stretch_that_is_judged(seconds, whole_only):
    """An offset in the first third only: in a shorter file there is no stretch but the whole."""
    samples = signals.dc(signals.drums(seconds)[0], 0.02)[0].copy()
    samples[round(seconds * RATE_HZ / 3) :] -= np.float32(0.02)
    result = levels(samples)
    assert (result.dc_worst_window == result.dc_offset) is whole_only


def test_the_worst_channel_counts():
    clean, shifted = signals.drums(12.0)[0], signals.dc(signals.drums(12.0, seed=9)[0], -0.01)[0]
    both = beside(clean, shifted)
    assert levels(both).dc_offset == pytest.approx(-0.01, rel=0.15)
    assert abs(levels(both, part=(0,)).dc_offset) < 1e-4


# --- clean: the near misses -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(signals.staccato_bass(20.0)[0], id="short bass notes, each with a mean of its own"),
        pytest.param(signals.drums(20.0)[0], id="kicks that push one way"),
        pytest.param(signals.speech(20.0)[0], id="a lopsided voice"),
        pytest.param(signals.sine(27.5, 20.3, peak=1.0)[0], id="the lowest note of a piano"),
    ],
)
def test_a_lopsided_waveform_is_no_offset(take):
    result = levels(take)
    assert abs(result.dc_offset) < 0.001  # −60 dBFS; the rule's limit is −50
    assert abs(result.dc_worst_window) < 0.001


def test_lopsided_notes_have_a_mean_all_the_same():
    result = levels(signals.speech(20.0)[0])
    assert abs(result.dc_mean) > 0.005
    assert abs(result.dc_offset) < 0.0005


def test_rendered_instruments_have_no_offset():
    soundfile = pytest.importorskip("soundfile")
    files = sorted(shared_folder("corpus").glob("*/Bass.flac")) + sorted(
        shared_folder("corpus").glob("*/Lead*.flac")
    )
    assert len(files) >= 7
    for file in files:
        samples, rate_hz = soundfile.read(file, dtype="float32", always_2d=True)
        result = levels(samples, rate_hz)
        assert abs(result.dc_offset) < 10 ** (-60 / 20), file.name
        assert abs(result.dc_worst_window) < 10 ** (-60 / 20), file.name
        shifted = levels(samples + np.float32(0.005), rate_hz)
        assert shifted.dc_offset == pytest.approx(0.005, rel=0.1), file.name


@pytest.mark.parametrize(("steps", "told"), [(9, False), (10, True)])
def test_ten_steps_are_the_fewest_that_tell_offset_from_waveform(steps, told):
    """A constant 0.01 under steps from −60 to 0 dBFS; fewer steps say no more than `steady` does."""
    rms = np.geomspace(1e-3, 1.0, steps)[None, :]
    means = np.full((1, steps), 0.01)
    found = standing_offset(means, rms**2 + means**2, np.array([0.5]))
    assert found == pytest.approx([0.01 if told else 0.5], rel=1e-6)


def test_the_offset_is_a_straight_lines_slope_less_three_standard_errors():
    """scipy's ordinary least squares as the second implementation, down to steps of −90 dBFS."""
    rng = np.random.default_rng(4)
    rms = np.geomspace(3e-5, 0.5, 60)
    means = 0.01 + 0.05 * rms + 0.02 * rms * rng.standard_normal(60)
    level = np.sqrt(rms**2 + (10.0 ** (-80.0 / 20.0)) ** 2)
    line = linregress(1.0 / level, means / level)
    found = standing_offset(means[None, :], (rms**2 + means**2)[None, :], np.zeros(1))
    assert line.stderr > 1e-7
    assert line.slope - 3.0 * line.stderr < means.mean()
    assert found == pytest.approx([line.slope - 3.0 * line.stderr], rel=1e-9)


@pytest.mark.parametrize(("spread", "told"), [(3.95, False), (4.05, True)])
def test_offset_and_waveform_are_told_apart_from_twelve_decibels_of_dynamics_on(spread, told):
    rms = np.repeat([0.4 / spread, 0.4], 20)[None, :]
    means = np.full((1, 40), 0.01)
    found = standing_offset(means, rms**2 + means**2, np.array([0.5]))
    assert found == pytest.approx([0.01 if told else 0.5], rel=1e-6)


@pytest.mark.parametrize(("silent", "steady"), [(2, True), (3, False)])
def test_a_steady_sound_with_silence_in_it_has_no_offset(silent, steady):
    """Past 2 % of digital silence an offset would have shown there."""
    rms = np.full((1, 100), 0.2)
    means = np.full((1, 100), 0.01)
    rms[0, :silent] = means[0, :silent] = 0.0
    assert standing_offset(means, rms**2 + means**2, np.array([0.01])) == [0.01 if steady else 0.0]


def test_what_cannot_be_told_from_chance_is_not_reported():
    rng = np.random.default_rng(3)
    level = 10 ** rng.uniform(-3.0, -0.5, (200, 60))
    lopsided = level * (0.1 + 0.2 * rng.standard_normal(level.shape))  # no offset, but a mean everywhere
    found = standing_offset(lopsided, level**2 + lopsided**2, np.zeros(200))
    assert np.median(np.abs(lopsided.mean(axis=1))) > 0.004
    assert np.abs(found).max() < 0.001
    assert np.count_nonzero(found) <= 6  # three standard errors are passed by chance once in 370 times
    shifted = standing_offset(lopsided + 0.01, level**2 + (lopsided + 0.01) ** 2, np.zeros(200))
    assert shifted.min() > 0.008
    assert shifted.max() < 0.0105  # a lower bound, so hardly ever more than there is


# --- relations --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_no_bit(size):
    samples, _ = signals.music_bed(11.3, channels=3)
    assert levels(samples, size=size) == levels(samples, size=4096)


@settings(max_examples=25, deadline=None)
@given(cuts=st.lists(st.integers(1, 12_000), min_size=1, max_size=12), seed=st.integers(0, 99))
def test_any_cut_into_blocks_gives_the_same(cuts, seed):
    samples, _ = signals.noise(sum(cuts) / RATE_HZ, channels=2, seed=seed)
    samples = samples[: sum(cuts)]
    meter, at = LevelMeter(RATE_HZ, 2), 0
    for cut in cuts:
        meter.add(samples[at : at + cut])
        at += cut
    assert meter.result() == levels(samples[:at])


def test_twice_the_amplitude_is_six_decibels_more():
    samples, _ = signals.music_bed(5.0, peak=0.4)
    once, twice = levels(samples), levels(samples * np.float32(2.0))
    assert twice.rms_dbfs - once.rms_dbfs == pytest.approx(20 * math.log10(2), abs=1e-6)
    assert twice.crest_db == pytest.approx(once.crest_db, abs=0.05)  # a step more may count as sounding


def test_the_plain_numpy_path_agrees():
    samples, _ = signals.music_bed(3.37, channels=5)
    compiled, plain = (fed(StepSums(RATE_HZ, 5, compiled=flag), samples, 7001) for flag in (True, False))
    for name in ("sums", "squares", "peaks", "products"):
        np.testing.assert_allclose(getattr(compiled, name), getattr(plain, name), rtol=1e-10, atol=1e-9)
    np.testing.assert_allclose(compiled.powers, plain.powers, rtol=1e-6)
    assert len(compiled.means) == 33


def test_sums_are_those_of_numpy():
    samples, _ = signals.music_bed(2.03)
    wide = samples.astype(np.float64)
    sums = fed(StepSums(RATE_HZ, 2), samples, 999)
    np.testing.assert_allclose(sums.sums, wide.sum(axis=0), atol=1e-8)
    np.testing.assert_allclose(sums.squares, (wide**2).sum(axis=0), rtol=1e-12)
    np.testing.assert_array_equal(sums.peaks, np.abs(wide).max(axis=0))


# --- the awkward ------------------------------------------------------------------------------------


def test_silence_and_nothing():
    for samples in (signals.silence(1.0)[0], signals.silence(0.0)[0]):
        result = levels(samples)
        assert result.rms_dbfs == -math.inf
        assert result.active_rms_dbfs == -math.inf
        assert result.crest_db is None
        assert result.dc_offset == 0.0


def test_a_single_frame():
    result = levels(np.array([[0.5]], np.float32))
    assert result.rms_dbfs == pytest.approx(-6.02, abs=0.01)
    assert result.crest_db == pytest.approx(0.0, abs=1e-9)


def test_a_whisper_has_no_active_time_but_a_crest():
    result = levels(signals.sine(997.0, 2.0, peak=0.0005)[0])
    assert result.active_rms_dbfs == -math.inf
    assert result.crest_db == pytest.approx(3.01, abs=0.01)


@pytest.mark.parametrize("part", [(), (2,), (-1,)])
def test_a_channel_that_is_not_there_is_refused(part):
    with pytest.raises(BadSamplesError, match="there are no channels"):
        levels(signals.silence(0.1, channels=2)[0], part=part)


def test_what_is_no_block_is_refused():
    with pytest.raises(BadSamplesError, match="float32"):
        LevelMeter(RATE_HZ, 1).add(np.zeros((10, 1)))  # type: ignore[arg-type]
