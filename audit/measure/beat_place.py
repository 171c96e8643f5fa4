"""Where in the beat and in the beats beside it a stem's harmony lies, to a part of a slot.

    place_in_beats(number, others, late, weights, slots, motions, pairs, names) -> BeatPlace

A pad swells and lies half a beat after the band wherever it plays; one that is a beat early lies half a beat
before it, and fits the band there as well as it ever does. So the question here is not how much better
another lag fits, but where the top of the fits lies: a broad top has a place too. What is usual for the
role, the show's other songs tell.

The top is searched up to REACH_BEATS to either side, between the slots by a parabola through three of them:
of the fit with all other stems together, of the two halves of the song, without each other stem in turn, and
with each of them alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.beat_pairs import Pairs, fit_by_slot
from audit.measure.beat_slots import BeatSlots, Motion, added
from audit.results import BeatPlace

Numbers = npt.NDArray[np.float64]

REACH_BEATS = 1.9


def place_in_beats(
    number: int,
    others: Sequence[int],
    late: Sequence[int],
    weights: Numbers,
    slots: BeatSlots,
    motions: Sequence[Motion],
    pairs: Pairs,
    names: Sequence[str],
) -> BeatPlace:
    """others: stems that may be asked, two or more; late: by how many slots each plays after the rest;
    weights: of each, adding up to 1. names: labels for the result and nothing else."""
    reach = int(REACH_BEATS * slots.per_beat)
    band = added([motions[other].earlier(by) for other, by in zip(others, late, strict=True)], weights)
    half = len(slots) // 2
    fits: Numbers = np.stack([
        (each[:half].sum(), each[half:].sum())
        for lag in range(-reach, reach + 1)
        for each in (fit_by_slot(motions[number], band, lag),)
    ]).T  # fmt: skip
    alone: Numbers = np.stack([
        np.roll(pairs.curves[number, other], by)[pairs.reach - reach : pairs.reach + reach + 1]
        for other, by in zip(others, late, strict=True)
    ])  # fmt: skip
    total: Numbers = weights @ alone

    def place(curve: Numbers) -> float:
        return (_top(curve) - reach) / slots.per_beat

    at = place(total)
    without = [place(total - weight * one) for weight, one in zip(weights, alone, strict=True)]
    return BeatPlace(
        at_beats=at,
        fit=float(total.max()),
        halves_beats=(place(fits[0]), place(fits[1])),
        without_one_beats=max(without, key=lambda one: abs(one - at)),
        by_stem=tuple((names[other], place(one)) for other, one in zip(others, alone, strict=True)),
    )


def _top(curve: Numbers) -> float:
    """Where the highest value lies, between the rows by the parabola through it and those beside it."""
    top = int(np.argmax(curve))
    if not 0 < top < len(curve) - 1:
        return float(top)
    before, at, after = curve[top - 1 : top + 2]
    bend = before - 2.0 * at + after
    return top + (float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend < 0.0 else 0.0)
