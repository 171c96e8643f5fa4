"""On which beats of the click a stem begins and ends.

    first_and_last(onsets, beats_s) -> FirstAndLast | None

Songs begin and end together: who comes in a beat after everybody, and ends a beat after everybody, is a beat
late, whatever it plays between. No harmony is needed, so drums can be asked as well.

Pure: arrays in, results out.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.coincidence import strong
from audit.results import FirstAndLast, Onsets

Numbers = npt.NDArray[np.float64]

FEWEST = 6
"""Strokes below which a first and a last one say nothing."""

ALONE_BEATS = 6.0
"""A first stroke so long before the second is the hiss of a recording that begins."""

NEAR_BEATS = 0.15
"""A stroke is on a beat within this part of one."""

FILE_STARTS_S = 0.05
"""An onset before is a file's first noise, no note."""


def first_and_last(onsets: Onsets | None, beats_s: Numbers) -> FirstAndLast | None:
    """beats_s: the click's, seconds, ascending, shape (n,). Outside it its usual beat is counted on."""
    if onsets is None or len(beats_s) < 2:
        return None
    times_s = np.array(onsets.times_s, dtype=np.float64)
    kept = strong(times_s, np.array(onsets.strengths_db, dtype=np.float64))
    kept = kept[kept > FILE_STARTS_S]
    if len(kept) < FEWEST:
        return None
    at_beats = _in_beats(kept, beats_s)
    if at_beats[1] - at_beats[0] > ALONE_BEATS:
        at_beats = at_beats[1:]
    first, last = float(at_beats[0]), float(at_beats[-1])
    # Late or early by a little or by beats it strikes as often: beats are counted from its first stroke.
    near = np.round(at_beats - first)
    struck = np.unique(near[np.abs(at_beats - first - near) <= NEAR_BEATS])
    beats = max(float(np.floor(last - first)) + 1.0, float(len(struck)))
    return FirstAndLast(
        first_beats=first, last_beats=last, strokes=len(kept), on_beats=len(struck) / beats
    )  # fmt: skip


def _in_beats(times_s: Numbers, beats_s: Numbers) -> Numbers:
    """0: the click's first beat."""
    usual_s = float(np.median(np.diff(beats_s)))
    inside = np.interp(times_s, beats_s, np.arange(len(beats_s), dtype=np.float64))
    before = np.minimum(times_s - beats_s[0], 0.0) / usual_s
    after = np.maximum(times_s - beats_s[-1], 0.0) / usual_s
    return np.asarray(inside + before + after)
