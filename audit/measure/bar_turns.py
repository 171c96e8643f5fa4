"""On which beat of the bar a stem's chords turn, by the click's own accents.

    places_in_bar(slots, accents, beats_a_bar) -> place of each beat of the slots, −1: not told
    turns_in_bar(motion, slots, places, beats_a_bar) -> BarTurns | None: too few whole bars, or nothing turns

Where one stem is a beat off from the others, either it is or they are. Chords mostly turn on the bar's first
beat (common practice), and where that is the click tells, which no stem moves.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.beat_slots import BeatSlots, Motion
from audit.results import BarTurns

NOT_TOLD = -1
FEWEST_BARS = 8

Numbers = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]


def places_in_bar(slots: BeatSlots, accents: Sequence[bool], beats_a_bar: int) -> Places:
    """accents: whether each beat of the click is a bar's first; none: nothing is told. Shape: beats of the
    slots. A beat that comes later after an accent than a bar has beats has no place."""
    places = np.full(len(slots) // slots.per_beat, NOT_TOLD, dtype=np.int64)
    place, before = NOT_TOLD, NOT_TOLD
    for row, beat in enumerate(slots.beats.tolist()):
        if not 0 <= beat < len(accents):
            place = NOT_TOLD
        elif accents[beat]:
            place = 0
        elif place != NOT_TOLD and beat == before + 1 and place + 1 < beats_a_bar:
            place += 1
        else:
            place = NOT_TOLD
        places[row], before = place, beat
    return places


def turns_in_bar(motion: Motion, slots: BeatSlots, places: Places, beats_a_bar: int) -> BarTurns | None:
    """What turns and what begins in the slot where each beat of a bar begins and those beside it, over the
    whole bars of the song."""
    firsts = np.flatnonzero(places == 0)
    whole = [
        row
        for row in firsts.tolist()
        if np.array_equal(places[row : row + beats_a_bar], np.arange(beats_a_bar))
    ]
    if beats_a_bar < 2 or not motion.told:
        return None
    turning = _about_beats((motion.turns**2).sum(axis=1), slots)
    begun = np.maximum(motion.changes - np.median(motion.changes, axis=0), 0.0).sum(axis=1)
    bars = np.array([turning[row : row + beats_a_bar] for row in whole]).reshape(-1, beats_a_bar)
    bars = bars[bars.sum(axis=1) > 0.0]
    if len(bars) < FEWEST_BARS:
        return None
    begins = np.array([_about_beats(begun, slots)[row : row + beats_a_bar] for row in whole]).mean(axis=0)
    most = int(bars.sum(axis=0).argmax())
    more = bars[:, most] - bars[:, 0]
    power = float(np.sqrt((more**2).sum()))
    return BarTurns(
        turns=_shares(bars.mean(axis=0)),
        begins=_shares(begins),
        bars=len(bars),
        sure=float(more.sum()) / power if power > 0.0 else 0.0,
    )


def _about_beats(by_slot: Numbers, slots: BeatSlots) -> Numbers:
    about: Numbers = np.convolve(by_slot, np.ones(3), mode="same")[:: slots.per_beat]
    return about


def _shares(values: Numbers) -> tuple[float, ...]:
    total = float(values.sum())
    return tuple((values / total).tolist()) if total > 0.0 else (0.0,) * len(values)
