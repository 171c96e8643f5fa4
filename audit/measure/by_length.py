"""Stems whose file is longer or shorter than the others': do their strokes meet the others' if all comes as
much late or early?

    by_length(onsets, longer_s, beats_s) -> one ByLength | None a stem

A start cut off, or something put before it, makes a file shorter or longer by just what it makes the stem
early or late; an end cut off moves nothing. So the length names one lag, and that one is asked beside none:
no other lag is tried, as among many one would fit by chance.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.coincidence import lag_curve, strong
from audit.results import ByLength, Onsets

Numbers = npt.NDArray[np.float64]

FEWEST, FEWEST_OF_OTHERS, FEWEST_OTHERS = 12, 8, 2
"""Strokes of the stem, and of each of so many others of the song's usual length."""

AROUND_S = 1.2
"""Meetings at the lags around are the chance that the two places are held against."""

LEAST_CHANCE = 0.3
"""Meetings by chance with one other stem, at least: else one that plays a few notes would say everything."""

BEFORE_MS, AFTER_MS = 16, 60
"""The stem may lie so much beside the place that its length says: people and slow sounds lie back."""

AS_IS_MS, AS_IS_NEAR_MS, LIES_BACK_MS = 25, 12, 10
"""As it stands it may lie so much beside the others, or so much where the length says hardly more."""

NEAR_S = 0.06


def by_length(
    onsets: Sequence[Onsets], longer_s: Sequence[float | None], beats_s: Numbers
) -> tuple[ByLength | None, ...]:
    """One a stem, in the order given; None where its length is the usual one, or too little meets.

    longer_s: of each stem, how much longer its file is than the length that the song's stems share, 0.0 for
    those that do; None where it is not known. beats_s: the click's, a witness too.
    """
    times_s = [
        strong(np.array(one.times_s, dtype=np.float64), np.array(one.strengths_db, dtype=np.float64))
        for one in onsets
    ]
    witnesses = [
        one
        for one, longer in zip(times_s, longer_s, strict=True)
        if longer == 0.0 and len(one) >= FEWEST_OF_OTHERS
    ]
    if len(witnesses) < FEWEST_OTHERS:
        return (None,) * len(times_s)
    return tuple(
        _meetings(own_s, longer, [*witnesses, beats_s]) if longer and len(own_s) >= FEWEST else None
        for own_s, longer in zip(times_s, longer_s, strict=True)
    )


def _meetings(own_s: Numbers, longer_s: float, witnesses: Sequence[Numbers]) -> ByLength:
    as_is_ms = AS_IS_MS if abs(longer_s) > NEAR_S else AS_IS_NEAR_MS
    reach_s = (as_is_ms + LIES_BACK_MS) / 1000.0
    curves = [lag_curve(own_s - longer_s, their_s, AROUND_S) for their_s in witnesses]
    usual = np.array([curve.mean() for curve in curves])
    spread = float(np.sqrt(np.maximum(usual, LEAST_CHANCE).sum()))
    around = (np.sum(curves, axis=0) - usual.sum()) / spread
    as_they_stand = np.sum([lag_curve(own_s, their_s, reach_s) for their_s in witnesses], axis=0)
    middle = len(around) // 2
    near = around[middle - BEFORE_MS : middle + AFTER_MS + 1]
    as_is = as_they_stand[len(as_they_stand) // 2 - as_is_ms :].max()
    return ByLength(
        lag_ms=1000.0 * longer_s,
        beside_ms=float(np.argmax(near) - BEFORE_MS),
        there=float(near.max()),
        as_is=float(as_is - usual.sum()) / spread,
        anywhere=float(around.max()),
        strokes=len(own_s),
        others=len(witnesses) - 1,
    )
