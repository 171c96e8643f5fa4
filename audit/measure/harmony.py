"""What the stems' harmony says of a song's arrangement: whole beats and bars, and where they change.

    lay_by_harmony(beats_s, runs, chromas, names, beats_a_bar, accents) -> one Laid a stem
    with_harmony(alignment, laid, beats_s, chroma) -> the stem's Alignment with both kinds of evidence

Only stems whose sound is tones are asked, and asked about: drums, noise and silence say nothing of harmony.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from audit.measure.bar_turns import places_in_bar, turns_in_bar
from audit.measure.beat_pairs import compare
from audit.measure.beat_shift import shift_by_beats
from audit.measure.beat_slots import EXTRA_BEATS, BeatSlots, Motion
from audit.measure.own_turns import turns_along
from audit.measure.rearranged import rearranged
from audit.results import Alignment, BarTurns, Beats, Chroma, Rearranged

TONAL = 0.6
"""Share of tones from which on a stem is asked. Own measurement: drum kits to 0.37, percussion to 0.57,
basses, guitars, keys, brass, voices from 0.66."""

FEWEST_BEATS = 16

MOST_STEMS = 64
"""Of more the most tonal ones are asked: every pair is compared."""

AT_HOME, USUAL, RUN_AWAY_BEATS = 0.5, 0.2, 4.0
"""A stem that fits the others by so much of what these fit one another by is of its song's tempo, once
another tempo would have led it so many beats away; where they hardly fit one another nothing is known. Own
measurement: 0.39 at most of stems stretched by 1 to 5 %, 0.61 at least of them as they were."""

ON_CLICK = 1.5
"""A stem whose chords turn so many times more on the click than at another tempo is of the click's, wherever
it lies and in whatever key."""


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


def with_harmony(
    alignment: Alignment, laid: Laid, beats_s: npt.NDArray[np.float64], chroma: Chroma | None
) -> Alignment:
    """beats_s: the song's click. A stem at another tempo has none of its song's beats and bars; where its
    harmony has, its pulse is none of its strokes': a tremolo's, an echo's."""
    pulse, found = alignment.own_pulse, laid.beats
    if pulse is not None:
        away = abs(pulse.tempo_ratio - 1.0) * len(beats_s)
        known = found is not None and found.usual >= USUAL and away >= RUN_AWAY_BEATS
        fit = found.at_zero / found.usual if found is not None and known else None
        turns = turns_along(chroma, beats_s, pulse.tempo_ratio)
        on_click = turns is not None and turns[0] >= ON_CLICK * turns[1]
        if not on_click and (fit is None or fit < AT_HOME):
            return replace(alignment, own_pulse=replace(pulse, harmony=fit, turns=turns))
        alignment = replace(alignment, own_pulse=None)
    return replace(alignment, beats=found, rearranged=laid.rearranged, bar_turns=laid.bar_turns)
