"""rhythm_fit: onsets gather in the beats of their own click, and in no other."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.belonging import LEAST_ONSETS, rhythm_fit
from audit.results import Onsets


def beats(bpm: float, seconds: float = 60.0, start_s: float = 1.0) -> np.ndarray:
    return np.arange(start_s, seconds, 60.0 / bpm)


def played(times_s: np.ndarray, jitter_s: float = 0.0, seed: int = 1) -> Onsets:
    moved = np.sort(times_s + np.random.default_rng(seed).normal(0.0, jitter_s, len(times_s)))
    return Onsets(times_s=array("d", moved), strengths_db=array("f", [30.0] * len(moved)))


@pytest.mark.parametrize("bpm", [62.0, 97.3, 128.0, 171.0])
@pytest.mark.parametrize("parts", [1, 2, 3, 4])
def test_on_its_own_click(bpm: float, parts: int):
    found = rhythm_fit(played(beats(bpm * parts)), beats(bpm))
    assert found is not None
    assert found.fit == pytest.approx(1.0, abs=0.001)
    assert min(found.first_half, found.second_half) > 0.99


@pytest.mark.parametrize("bpm", [90.0, 120.0])
def test_fast_arpeggios_lie_on_both_of_two_clicks_a_fourth_apart(bpm: float):
    """Twelve strokes a second are thirty-seconds at 90 and sextuplets at 120 beats a minute."""
    found = rhythm_fit(played(beats(720.0)), beats(bpm))
    assert found is not None
    assert found.fit > 0.99


@pytest.mark.parametrize("parts", [2, 4])
def test_slower_strokes_of_a_tempo_a_fourth_up_are_another_songs(parts: int):
    """Sixteenths at 120 are two of every three triplets at 90: eight parts of a beat would take them in."""
    found = rhythm_fit(played(beats(120.0 * parts)), beats(90.0))
    assert found is not None
    assert found.fit < 0.35


def test_loose_playing_follows_the_normal_distribution():
    """A normal spread σ has the mean resultant length e^(−(2πσ)²/2) (Mardia & Jupp 2000, 3.5 [memory])."""
    found = rhythm_fit(played(beats(100.0, 240.0), 0.03), beats(100.0, 240.0))
    assert found is not None
    assert found.fit == pytest.approx(np.exp(-((2 * np.pi * 0.03 / 0.6) ** 2) / 2), abs=0.01)


@pytest.mark.parametrize("other", [101.0, 112.0, 83.0, 131.7])
def test_on_another_click(other: float):
    found = rhythm_fit(played(beats(97.0 * 2)), beats(other))
    assert found is not None
    assert found.fit < 0.35


def test_a_constant_offset_is_no_other_song():
    found = rhythm_fit(played(beats(97.0 * 2) + 0.08), beats(97.0))
    assert found is not None
    assert found.fit > 0.99


def test_half_of_it_shows_in_the_halves():
    first = beats(120.0, 30.0)
    odd = np.sort(np.random.default_rng(3).uniform(30.5, 60.0, 60))
    found = rhythm_fit(played(np.concatenate([first, odd])), beats(120.0))
    assert found is not None
    assert found.first_half > 0.95
    assert found.second_half < 0.4


def test_moved_together_nothing_changes():
    one = rhythm_fit(played(beats(97.0), 0.02), beats(97.0))
    late = rhythm_fit(played(beats(97.0) + 5.0, 0.02), beats(97.0) + 5.0)
    assert one is not None
    assert late is not None
    assert one.fit == pytest.approx(late.fit, abs=1e-6)


def test_too_little_to_tell():
    assert rhythm_fit(None, beats(100.0)) is None
    assert rhythm_fit(played(beats(100.0)[: LEAST_ONSETS - 1]), beats(100.0)) is None
    assert rhythm_fit(played(beats(100.0)), beats(100.0)[:5]) is None
    assert rhythm_fit(played(np.array([])), beats(100.0)) is None


def test_a_pause_of_the_click_is_left_out():
    whole = beats(120.0, 60.0)
    gap = np.concatenate([whole[whole < 20.0], whole[whole > 40.1]])
    odd = np.sort(np.random.default_rng(4).uniform(20.5, 39.5, 200))
    found = rhythm_fit(played(np.sort(np.concatenate([gap, odd]))), gap)
    assert found is not None
    assert found.fit > 0.9
