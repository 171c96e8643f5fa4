"""On which beat of the bar chords turn: by the click's accents, of stems that are laid beside it by beats."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from audit.measure.bar_turns import FEWEST_BARS, places_in_bar, turns_in_bar
from audit.measure.beat_slots import EXTRA_BEATS, BeatSlots
from audit.measure.harmony import lay_by_harmony
from audit.results import BarTurns
from tests.measure.test_beat_shift import BARS, BEATS_S, NAMES, RUNS, chroma, harmony, parts

ACCENTS = tuple(beat % 4 == 0 for beat in range(len(BEATS_S)))
PAD = 3


def turns(
    number: int, late: float = 0.0, *, accents: tuple[bool, ...] = ACCENTS, bars: int = BARS, a_bar: int = 4
) -> BarTurns | None:
    song = parts(harmony(bars=bars))
    heard = [chroma(part, late_beats=late if one == number else 0.0) for one, part in enumerate(song)]
    return lay_by_harmony(BEATS_S, RUNS, heard, NAMES, a_bar, accents)[number].bar_turns


@pytest.mark.parametrize("late", [-5.0, -1.0, 0.0, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("number", [1, 2, PAD])
def test_chords_of_a_bar_turn_where_it_begins_and_beside_it_where_the_stem_lies_beside(
    number: int, late: float
):
    found = turns(number, late)
    assert found is not None
    assert sum(found.turns) == pytest.approx(1.0)
    assert sum(found.begins) == pytest.approx(1.0)
    place = round(late) % 4
    assert found.turns[place] > 0.6
    assert found.begins[place] == pytest.approx(max(found.begins), abs=0.02)  # keys begin twice a bar
    assert (found.sure > 4.0) == (place != 0)


def test_a_strummed_guitar_begins_on_every_beat_and_turns_on_one():
    found = turns(1)
    assert found is not None
    assert found.turns[0] > 3.0 * max(found.turns[1:])
    assert found.bars >= BARS - 3  # all but where the next chord is the same


def test_a_click_without_accents_tells_no_bars():
    assert turns(PAD, accents=()) is None
    assert turns(PAD, accents=(False,) * len(ACCENTS)) is None
    assert turns(PAD, a_bar=1, accents=(True,) * len(ACCENTS)) is None


def test_few_bars_tell_nothing():
    assert turns(PAD, bars=FEWEST_BARS - 2) is None
    assert turns(PAD, bars=FEWEST_BARS + 6) is not None


def test_places_are_counted_from_every_accent():
    beats_s = 0.5 * np.arange(12)
    slots = BeatSlots(beats_s, [(0, 12)])
    aside = [-1] * EXTRA_BEATS

    def places(*firsts: int, a_bar: int = 4) -> list[int]:
        """The click's last beat is where the last slot ends."""
        return places_in_bar(slots, tuple(k in firsts for k in range(12)), a_bar).tolist()

    assert places(0, 4, 8) == [*aside, 0, 1, 2, 3, 0, 1, 2, 3, 0, 1, 2, *aside]
    assert places(2, 5, 9) == [*aside, -1, -1, 0, 1, 2, 0, 1, 2, 3, 0, 1, *aside]  # a bar of three
    assert places(0, 6) == [*aside, 0, 1, 2, 3, -1, -1, 0, 1, 2, 3, -1, *aside]


def test_places_end_where_the_click_pauses():
    beats_s = np.concatenate([0.5 * np.arange(6), 10.0 + 0.5 * np.arange(6)])
    slots = BeatSlots(beats_s, [(0, 6), (6, 6)])
    accents = tuple(k in (0, 4, 8) for k in range(12))
    told = places_in_bar(slots, accents, 4)[EXTRA_BEATS:-EXTRA_BEATS].tolist()
    assert told == [0, 1, 2, 3, 0, -1, -1, 0, 1, 2]


@pytest.mark.parametrize("always", [0.0, 0.2, 0.5])
def test_what_begins_all_the_time_is_no_beginning(always: float):
    """A tone that trembles or is strummed through begins in every slot; what comes on top of it counts."""
    slots = BeatSlots(0.5 * np.arange(41), [(0, 41)])
    places = places_in_bar(slots, tuple(k % 4 == 0 for k in range(41)), 4)
    changes = np.full((len(slots), 12), always)
    changes[places.repeat(slots.per_beat) == 0, 3] += 0.3
    motion = SimpleNamespace(told=True, turns=np.sqrt(changes), changes=changes)
    found = turns_in_bar(motion, slots, places, 4)  # type: ignore[arg-type]
    assert found is not None
    assert found.begins[0] == pytest.approx(max(found.begins))
    assert found.begins[2] == 0.0
    assert (found.turns[2] > 0.0) == (always > 0.0)  # the same tones as turns are taken as they are
