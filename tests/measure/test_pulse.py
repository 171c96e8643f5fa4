"""pulses: the tempo that stems share where none of them keeps to its click."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.belonging import LEAST_BEATS, LEAST_ONSETS
from audit.measure.pulse import SURELY, _gathered, _spectrum, pulses
from audit.results import Onsets

CLICK = np.arange(200) * 0.5 + 4.0
"""120 beats a minute, 100 s."""


def played(times_s: np.ndarray, jitter_s: float = 0.0, seed: int = 1) -> Onsets:
    moved = np.sort(times_s + np.random.default_rng(seed).normal(0.0, jitter_s, len(times_s)))
    return Onsets(times_s=array("d", moved), strengths_db=array("f", [30.0] * len(moved)))


def notes(bpm: float, a_beat: int, seconds: float = 98.0, start_s: float = 4.3) -> np.ndarray:
    return np.arange(start_s, start_s + seconds, 60.0 / bpm / a_beat)


@pytest.mark.parametrize("bpm", [121.0, 118.3, 134.4, 104.0, 151.0])
def test_stems_of_another_tempo(bpm: float):
    found = pulses([played(notes(bpm, 2), 0.004), played(notes(bpm, 4), 0.004, seed=2)], CLICK)
    for one in found:
        assert one is not None
        # The stems' notes to a beat of theirs times their tempo over the click's.
        assert min(abs(one.per_beat / parts / (bpm / 120.0) - 1.0) for parts in (2, 4)) < 2e-3
        assert one.fit > 0.9
        assert one.on_click < 0.2


@pytest.mark.parametrize("parts", [1, 2, 3, 4, 5, 6, 7, 8])
def test_a_stem_on_the_click_ends_the_search(parts: int):
    away = played(notes(134.4, 2))
    assert pulses([played(notes(120.0, parts, start_s=4.0), 0.004), away, away], CLICK) == (None, None, None)


def test_a_few_notes_on_the_click_do_not():
    """Fewer than SURELY: a riff of few notes may lie there by chance."""
    away = played(notes(134.4, 2))
    for count, ends in ((SURELY, True), (SURELY - 1, False)):
        few = played(4.0 + 0.5 * np.arange(count))
        found = pulses([few, away, away], CLICK)
        assert (found[1] is None) is ends


def test_stems_off_the_beat_but_at_its_tempo_keep_to_it():
    """A click that is late is no other tempo."""
    assert pulses([played(notes(120.0, 2, start_s=4.137))] * 2, CLICK) == (None, None)


def test_music_without_a_pulse_gathers_nowhere():
    rng = np.random.default_rng(5)
    free = [played(np.sort(rng.uniform(4.0, 100.0, 300))) for _ in range(3)]
    for one in pulses(free, CLICK):
        assert one is not None
        assert one.fit < 0.4


def test_too_little_to_tell_by():
    long, short = played(notes(134.4, 2)), played(notes(134.4, 2)[: LEAST_ONSETS - 1])
    assert pulses([long, long], CLICK[: LEAST_BEATS - 1]) == (None, None)
    assert pulses([], CLICK) == ()
    found = pulses([long, short, None, long], CLICK)
    assert [one is None for one in found] == [False, True, True, False]


def test_no_beat_is_laid_over_a_pause():
    """Notes in a pause of the click say nothing of its tempo."""
    paused = np.concatenate([CLICK[:40], CLICK[40:80] + 60.0])
    inside = notes(134.4, 2, seconds=58.0, start_s=float(CLICK[39]) + 1.0)
    assert pulses([played(inside), played(inside)], paused) == (None, None)


def test_the_transform_is_the_sum_over_the_onsets():
    """Second implementation: Σ w·e^(2πi·f·t) / Σ w, one frequency at a time, against the transform of the
    train of impulses (both Rayleigh's statistic)."""
    rng = np.random.default_rng(3)
    beats, weights = np.sort(rng.uniform(0.0, 60.0, 150)), rng.uniform(5.0, 40.0, 150)
    beats = np.round(beats * 64) / 64  # as the train has them
    spectrum = _spectrum(beats, weights, 64)
    size = 2 * (len(spectrum) - 1)
    for bin_ in (100, 517, 1400, 2040):
        assert spectrum[bin_] == pytest.approx(_gathered(beats, weights, bin_ * 64 / size), abs=1e-9)
