"""A click that counts from another beat behind one odd bar: whether the song's stems turn with it."""

from __future__ import annotations

from array import array
from collections.abc import Sequence

import numpy as np
import pytest

from audit.measure.click_counts import find_odd_bars, miscounts
from audit.results import ClickMiscount, Onsets

BEAT_S = 0.5
RIFF = ((0.0, 90.0), (0.75, 60.0), (2.0, 80.0), (2.5, 50.0))
CHORDS = ((0.0, 100.0), (2.5, 70.0))
BASS = ((0.0, 90.0), (1.5, 80.0), (3.0, 60.0))
HITS = ((1.0, 90.0), (3.0, 60.0), (3.75, 50.0))
EIGHTHS = tuple((0.5 * number, 80.0) for number in range(8))
BAND = (RIFF, CHORDS, BASS)


def bars(*lengths: int) -> np.ndarray:
    """Accents of bars of so many beats, and one more."""
    return np.concatenate([[True, *[False] * (length - 1)] for length in lengths] + [[True]])


def beats(accents: np.ndarray, beat_s: float = BEAT_S) -> np.ndarray:
    return 1.0 + beat_s * np.arange(len(accents))


def played(pattern: Sequence[tuple[float, float]], starts: Sequence[int], seed: int = 1) -> Onsets:
    """A bar's strokes (beat, strength) from each of these beats on, as people play them."""
    rng = np.random.default_rng(seed)
    strokes = sorted(
        (1.0 + BEAT_S * (start + beat) + 0.006 * rng.standard_normal(), strength)
        for start in starts
        for beat, strength in pattern
    )
    return Onsets(
        times_s=array("d", [one for one, _ in strokes]), strengths_db=array("f", [one for _, one in strokes])
    )


def told(accents: np.ndarray, *stems: Onsets) -> tuple[ClickMiscount, ...]:
    at_s = beats(accents)
    names = [f"Stem {number}.wav" for number in range(len(stems))]
    return miscounts(at_s, find_odd_bars(at_s, accents, 4), stems, names, 4)


EVEN = tuple(range(0, 84, 4))


@pytest.mark.parametrize(
    ("odd", "by"), [(5, 1), (3, -1), (2, -2), (6, -2), (1, 1), (7, -1), (4, None), (8, None)]
)
def test_an_odd_bar_is_found_by_the_nearer_count(odd: int, by: int | None):
    accents = bars(*[4] * 8, odd, *[4] * 8)
    found = find_odd_bars(beats(accents), accents, 4)
    assert [more for _, more in found] == ([] if by is None else [by])
    assert [stretch.before for stretch, _ in found] == ([] if by is None else [32 + odd - 1])


@pytest.mark.parametrize(("before", "after", "count"), [(4, 4, 1), (3, 8, 0), (8, 3, 0)])
def test_four_regular_bars_on_either_side_are_asked_for(before: int, after: int, count: int):
    accents = bars(*[4] * before, 5, *[4] * after)
    assert len(find_odd_bars(beats(accents), accents, 4)) == count


def test_each_odd_bar_has_the_beats_up_to_the_next_one():
    accents = bars(*[4] * 5, 5, *[4] * 6, 3, *[4] * 5)
    (one, _), (other, _) = find_odd_bars(beats(accents), accents, 4)
    assert (one.first, one.before, one.last) == (0, 24, 49)
    assert (other.first, other.before, other.last) == (25, 51, 72)


def test_another_tempo_or_a_click_drawn_from_a_take_has_none():
    accents = bars(*[4] * 8, 5, *[4] * 8)
    faster = beats(accents)
    faster[37:] = faster[37] + 0.98 * (faster[37:] - faster[37])
    swaying = beats(accents) + 0.01 * np.sin(np.arange(len(accents)))
    assert find_odd_bars(faster, accents, 4) == find_odd_bars(swaying, accents, 4) == []
    assert find_odd_bars(beats(accents), np.zeros(len(accents), dtype=bool), None) == []


@pytest.mark.parametrize(("odd", "by"), [(5, 1), (3, -1)])
def test_where_the_music_stays_in_its_bars_the_click_miscounts(odd: int, by: int):
    accents = bars(*[4] * 10, odd, *[4] * 9)
    (found,) = told(accents, *(played(pattern, EVEN) for pattern in BAND))
    assert (found.beats, found.bar, len(found.kept)) == (by, 4, 3)
    assert (found.at_s, found.next_bar_s) == (1.0 + 40 * BEAT_S, 1.0 + (40 + odd) * BEAT_S)


@pytest.mark.parametrize("odd", [5, 3, 2])
def test_where_the_music_turns_with_it_the_bar_is_music(odd: int):
    starts = [*range(0, 44, 4), *range(40 + odd, 80, 4)]
    accents = bars(*[4] * 10, odd, *[4] * 9)
    assert told(accents, *(played(pattern, starts) for pattern in BAND)) == ()


def test_two_stems_tell_nothing_nor_do_even_eighths():
    accents = bars(*[4] * 10, 5, *[4] * 9)
    assert told(accents, played(RIFF, EVEN), played(BASS, EVEN), played(EIGHTHS, EVEN)) == ()
    assert len(told(accents, played(RIFF, EVEN), played(BASS, EVEN), played(HITS, EVEN))) == 1


@pytest.mark.parametrize(("turn", "count"), [(1, 1), (2, 0)])
def test_of_those_that_turn_one_in_three_is_enough_to_be_music(turn: int, count: int):
    accents = bars(*[4] * 10, 5, *[4] * 9)
    turned = [*range(0, 40, 4), *range(45, 80, 4)]
    stay = [played(pattern, EVEN, seed) for seed, pattern in enumerate((*BAND, HITS))]
    go = [played(pattern, turned, seed) for seed, pattern in enumerate(BAND[:turn])]
    assert len(told(accents, *stay, *go)) == count
