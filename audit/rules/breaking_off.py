"""Stems that end between two strokes: they played to the end of their file, and nothing rings out there.

    struck_to_the_end(ending, limit) -> seconds from the last stroke to the end of the file | None

The level at the end says little of drums and staccato: between strokes it is low.
"""

from __future__ import annotations

from itertools import pairwise
from statistics import median

from audit.rules.endings import Ending
from audit.rules.rule import Limit

LATEST = 8
"""So many of the last intervals say whether it still plays as it did."""

AS_DENSE, WITHIN = 2.0, 1.5
"""The last intervals are no longer than so many usual ones, and so is the wait at the end."""

AT_THE_END_S = 0.005
"""The sound lasts to the end of the file: a tail that was trimmed has died away before."""


def struck_to_the_end(ending: Ending, limit: Limit) -> float | None:
    """None for few strokes, for a stem that had stopped, and for one whose last stroke has rung out."""
    times_s = sorted(
        time_s
        for part in ending.stem.parts
        if part.audience and part.measures.onsets is not None
        for time_s in part.measures.onsets.times_s
    )
    if len(times_s) < max(2, limit["strokes"]):
        return None
    steps = [after - before for before, after in pairwise(times_s)]
    usual_s, since_s = median(steps), ending.end_s - times_s[-1]
    rung_out = (
        ending.end_dbfs < limit["rung_out_dbfs"]
        or ending.end_dbfs < ending.usual_dbfs - limit["rung_out_db"]
        or ending.last_sound_s < ending.end_s - AT_THE_END_S
    )
    still_plays = median(steps[-LATEST:]) <= AS_DENSE * usual_s and since_s <= WITHIN * usual_s
    return since_s if still_plays and not rung_out else None
