"""tempi: stretches of one tempo and ramps, as they were written; a player's scatter is no tempo."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.click_metre import bar_length
from audit.measure.click_tempi import tempi
from audit.report.click_table import tempo_words
from audit.results import ClickRun, ClickTempo, ClickTrack


def beats(*stretches: tuple[float, float, int], begin_s: float = 1.0) -> np.ndarray:
    """Times of beats: of each stretch the tempo of its first and its last step, and how many steps."""
    bpm = np.concatenate([np.linspace(first, last, count) for first, last, count in stretches])
    return np.asarray(begin_s + np.concatenate([[0.0], np.cumsum(60.0 / bpm)]))


def told(at_s: np.ndarray, missing: frozenset[int] = frozenset()) -> list[tuple[int, int]]:
    return [(round(one.bpm_first), round(one.bpm_last)) for one in tempi(at_s, missing)]


@pytest.mark.parametrize(
    ("stretches", "expected"),
    [
        ([(120.0, 120.0, 100)], [(120, 120)]),
        ([(116.0, 116.0, 48), (174.0, 174.0, 48), (116.0, 116.0, 51)], [(116, 116), (174, 174), (116, 116)]),
        ([(108.0, 108.0, 48), (107.0, 93.0, 8)], [(108, 108), (108, 92)]),  # half a step beyond its middles
        ([(72.0, 72.0, 32), (72.0, 88.0, 32), (88.0, 88.0, 32)], [(72, 72), (72, 88), (88, 88)]),
        ([(90.0, 130.0, 200)], [(90, 130)]),
        ([(100.0, 100.0, 40), (100.3, 100.3, 40)], [(100, 100)]),  # less than half a per cent
        ([(100.0, 100.0, 40), (101.0, 101.0, 40)], [(100, 100), (101, 101)]),
        ([(100.0, 100.0, 3), (140.0, 140.0, 4)], [(100, 100), (140, 140)]),
    ],
)
def test_what_was_written_is_read(stretches: list[tuple[float, float, int]], expected: list[tuple[int, int]]):
    found = told(beats(*stretches))
    assert (found[0], found[-1]) == (expected[0], expected[-1])
    # A ramp after a steady stretch may be read in two: their ends still meet.
    assert {bpm for pair in expected for bpm in pair} <= {bpm for pair in found for bpm in pair}
    assert len(found) <= len(expected) + 1


def test_a_stretch_begins_at_its_first_beat():
    at_s = beats((116.0, 116.0, 48), (174.0, 174.0, 48))
    assert [one.at_s for one in tempi(at_s)] == [at_s[0], at_s[48]]


@pytest.mark.parametrize("seed", range(20))
def test_a_player_s_scatter_is_one_tempo(seed: int):
    """4 ms at 120 beats a minute: 1 % of a step and more."""
    at_s = beats((120.0, 120.0, 150)) + np.random.default_rng(seed).normal(0.0, 0.004, 151)
    ((first, last),) = told(at_s)
    assert 118 <= first <= 122
    assert 118 <= last <= 122


def test_a_ramp_is_numpys_line():
    at_s = beats((90.0, 110.0, 60)) + np.random.default_rng(2).normal(0.0, 0.002, 61)
    (one,) = tempi(at_s)
    slope, middle = np.polyfit(np.arange(60) + 0.5, 60.0 / np.diff(at_s), 1)
    bpm, half = 60.0 / np.diff(at_s), abs(slope) / 2.0
    assert one.bpm_first == pytest.approx(max(middle, bpm.min() - half))
    assert one.bpm_last == pytest.approx(min(middle + 60 * slope, bpm.max() + half))


@pytest.mark.parametrize(
    ("held", "ramp", "after"),
    [((167.9, 9), 23, (124.4, 9)), ((75.6, 10), 44, (113.1, 10)), ((168.3, 8), 9, (235.0, 5))],
)
def test_a_ramp_between_two_held_tempi_ends_where_they_are(
    held: tuple[float, int], ramp: int, after: tuple[float, int]
):
    found = tempi(
        beats((held[0], held[0], held[1]), (held[0], after[0], ramp), (after[0], after[0], after[1]))
    )
    assert found[0].bpm_first == pytest.approx(held[0], rel=0.02)
    assert found[-1].bpm_last == pytest.approx(after[0], rel=0.02)


def test_wild_steps_make_no_negative_tempo():
    random = np.random.default_rng(1)
    for _ in range(100):
        at_s = np.cumsum(random.uniform(0.01, 2.0, 40))
        assert all(min(one.bpm_first, one.bpm_last) > 0.0 for one in tempi(at_s))


def test_a_missing_beat_is_no_tempo():
    at_s = np.delete(beats((120.0, 120.0, 60)), 30)
    assert told(at_s, frozenset({29})) == [(120, 120)]
    assert tempi(at_s[:1]) == ()


def accents(*bars: int) -> np.ndarray:
    return np.array([beat == 0 for bar in bars for beat in range(bar)])


@pytest.mark.parametrize(
    ("bars", "beats_a_bar"),
    [
        ((4,) * 33 + (3,) * 16 + (4,) * 31, 4),  # every accent has another one twelve beats later
        ((3,) * 16 + (4,) * 8, 3),
        ((2, 2, 4) * 12, 8),  # one bar of eight, in groups
        ((3, 2) * 12, 5),
        ((4,) * 20, 4),
    ],
)
def test_stretches_of_other_metres_make_no_longer_bar(bars: tuple[int, ...], beats_a_bar: int):
    assert bar_length(accents(*bars)) == beats_a_bar


@pytest.mark.parametrize(
    ("pairs", "words"),
    [
        ([(108.0, 108.0), (108.0, 92.0)], "108 to 92"),
        ([(90.0, 130.0)], "90 to 130"),
        ([(116.0, 116.0), (174.0, 174.0), (108.0, 92.0)], "92 to 174"),
        ([(116.0, 116.0), (174.0, 174.0), (116.0, 116.0)], "116 to 174"),
        ([(120.0, 120.0)], "120"),
    ],
)
def test_the_range_that_is_told(pairs: list[tuple[float, float]], words: str):
    stretches = tuple(ClickTempo(at_s=0.0, bpm_first=first, bpm_last=last) for first, last in pairs)
    run = ClickRun(
        first_beat=0, beats=100, bpm_first=pairs[0][0], bpm_last=pairs[-1][1], steady=False, tempi=stretches
    )
    track = ClickTrack(
        beats_s=(),
        accents=(),
        runs=(run,),
        bpm=pairs[0][0],
        metre="4/4",
        count_in_beats=None,
        first_beat_s=0.0,
    )
    assert tempo_words(track) == words
