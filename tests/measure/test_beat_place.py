"""The place of a stem's harmony in the beats beside the others': planted places come back."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.beat_place import REACH_BEATS, _top
from audit.results import BeatPlace
from tests.measure.test_beat_shift import NAMES, Song, beats_of, harmony, laid, parts


def place_of(song: Song, number: int, late_beats: float) -> BeatPlace:
    found = beats_of(laid(song, late={number: late_beats})[number]).place
    assert found is not None
    return found


@pytest.mark.parametrize("late_beats", [-1.4, -1.0, -0.5, 0.0, 0.4, 1.0, 1.4])
@pytest.mark.parametrize("number", [0, 3])
def test_a_planted_place_comes_back_to_a_part_of_a_slot(number: int, late_beats: float):
    """The hops are a fifth of a beat apart, the slots a quarter."""
    song = parts(harmony())
    moved = place_of(song, number, late_beats)
    shift = moved.at_beats - place_of(song, number, 0.0).at_beats
    assert shift == pytest.approx(late_beats, abs=0.2)
    assert moved.halves_beats == pytest.approx((moved.at_beats,) * 2, abs=0.15)
    assert moved.without_one_beats == pytest.approx(moved.at_beats, abs=0.2)


def test_a_pad_that_swells_has_a_place_half_a_beat_after_and_one_before_it_a_beat_early():
    """Its own fits hardly differ there: what is told is where they are highest."""
    song = parts(harmony())
    swell = np.convolve(np.ones(16), np.ones(4) / 4.0)[:16]
    song[3] *= np.tile(np.clip(swell, 0.1, 1.0), len(song[3]) // 16)[:, None]
    usual, early = place_of(song, 3, 0.5), place_of(song, 3, -0.5)
    assert usual.at_beats - early.at_beats == pytest.approx(1.0, abs=0.1)


def test_every_other_stem_is_asked_by_itself():
    song = parts(harmony())
    found = beats_of(laid(song, late={1: 1.0, 2: -1.0})[0]).place
    assert found is not None
    alone = dict(found.by_stem)
    assert set(alone) == set(NAMES) - {NAMES[0]}
    assert alone["Guitar.wav"] == pytest.approx(-1.0, abs=0.2)
    assert alone["Keys.wav"] == pytest.approx(1.0, abs=0.2)


def test_a_song_whose_halves_differ_has_two_places():
    song = parts(harmony())
    half = len(song[0]) // 2
    song[0] = np.concatenate([song[0][:half], np.roll(song[0][half:], 4, axis=0)])
    found = place_of(song, 0, 0.0)
    assert found.halves_beats == pytest.approx((0.0, 1.0), abs=0.2)


def test_no_place_is_farther_than_the_reach():
    found = place_of(parts(harmony()), 0, 4.0)
    assert abs(found.at_beats) <= REACH_BEATS
    assert found.fit < 0.5 * place_of(parts(harmony()), 0, 0.0).fit


@pytest.mark.parametrize("peak", [3.0, 3.2, 3.5, 3.9])
def test_the_top_of_a_parabola_is_found_between_rows(peak: float):
    assert _top(1.0 - (np.arange(8) - peak) ** 2) == pytest.approx(peak)


def test_a_top_at_the_edge_or_of_nothing_stays_there():
    assert _top(np.arange(5.0)) == 4.0
    assert _top(np.zeros(5)) == 0.0
