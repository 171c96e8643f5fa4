"""What the stems' harmony says of a song's arrangement: whole beats and bars, and where they change.

    lay_by_harmony(beats_s, runs, chromas, names, beats_a_bar, accents) -> one Laid a stem

Only stems whose sound is tones are asked, and asked about: drums, noise and silence say nothing of harmony.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.bar_turns import places_in_bar, turns_in_bar
from audit.measure.beat_pairs import compare
from audit.measure.beat_shift import shift_by_beats
from audit.measure.beat_slots import EXTRA_BEATS, BeatSlots, Motion
from audit.measure.rearranged import rearranged
from audit.results import BarTurns, Beats, Chroma, Rearranged

TONAL = 0.6
"""Share of tones from which on a stem is asked. Own measurement: drum kits to 0.37, percussion to 0.57,
basses, guitars, keys, brass, voices from 0.66."""

FEWEST_BEATS = 16

MOST_STEMS = 64
"""Of more the most tonal ones are asked: every pair is compared."""


@dataclass(frozen=True, slots=True)
class Laid:
    """One stem's place by its harmony; None where it cannot be told."""

    beats: Beats | None
    rearranged: Rearranged | None
    bar_turns: BarTurns | None


def lay_by_harmony(
    beats_s: npt.NDArray[np.float64],
    runs: Sequence[tuple[int, int]],
    chromas: Sequence[Chroma | None],
    names: Sequence[str],
    beats_a_bar: int,
    accents: Sequence[bool] = (),
) -> tuple[Laid, ...]:
    """beats_s: the click's beats, seconds, ascending, shape (n,); runs: (first beat, beats) of each stretch
    without a break. chromas: None for stems that are not to be asked (a full mix). names: labels. accents:
    whether each beat is a bar's first; none where the click does not tell."""
    nothing = Laid(beats=None, rearranged=None, bar_turns=None)
    slots = BeatSlots(np.asarray(beats_s, dtype=np.float64), runs)
    tonal = [
        (one.tonal, number) for number, one in enumerate(chromas) if one is not None and one.tonal >= TONAL
    ]
    asked = sorted(number for _, number in sorted(tonal, reverse=True)[:MOST_STEMS])
    found = [nothing] * len(chromas)
    if len(slots) < (FEWEST_BEATS + 2 * EXTRA_BEATS) * slots.per_beat or len(asked) < 2:
        return tuple(found)
    motions = [Motion(chroma, slots) for number in asked if (chroma := chromas[number]) is not None]
    labels = [names[number] for number in asked]
    in_bar = places_in_bar(slots, accents, beats_a_bar)
    bars = [turns_in_bar(motion, slots, in_bar, beats_a_bar) for motion in motions]
    shifts: Sequence[Beats | None] = [None] * len(asked)
    changes: Sequence[Rearranged | None] = [None] * len(asked)
    if len(asked) >= 3:
        pairs = compare(slots, motions)
        shifts = shift_by_beats(slots, motions, pairs, labels, beats_a_bar)
        changes = rearranged(slots, motions, pairs, labels, beats_a_bar)
    for number, shift, change, bar in zip(asked, shifts, changes, bars, strict=True):
        found[number] = Laid(beats=shift, rearranged=change, bar_turns=bar)
    return tuple(found)
