"""The lags, within a beat or so, at which a stem's strokes meet those of its song's other stems best.

    meeting_lags(times_s, others_s, reach_s) -> the best ones, in ascending order

Strokes come round with the bar: where a stem was moved by half a beat they meet the others' at several lags,
of which the true one is among the best. Which it is, harmony tells.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.coincidence import lag_curve
from audit.results import MeetingLag

Numbers = npt.NDArray[np.float64]

MOST = 8
APART = 30
"""Steps of the curve (ms) between two lags: nearer ones are one."""

OF_BEST = 0.5
"""Of the best one's meetings above chance; what has less is no candidate."""


def meeting_lags(times_s: Numbers, others_s: Sequence[Numbers], reach_s: float) -> tuple[MeetingLag, ...]:
    """times_s: a stem's strokes, ascending, shape (n,); others_s: those of each other stem; lags up to
    `reach_s` to either side, in steps of 1 ms. Heights are meetings above chance over all of the stem's
    strokes and others."""
    if len(times_s) == 0 or not any(map(len, others_s)):
        return ()
    curve = lag_curve(times_s, np.sort(np.concatenate(list(others_s))), reach_s)
    above = curve - curve.mean()
    half = len(curve) // 2
    found: list[int] = []
    left = above.copy()
    least = OF_BEST * float(above.max())
    while len(found) < MOST:
        best = int(np.argmax(left))
        if left[best] <= max(least, 0.0):
            break
        # The slope of a higher place is none of its own.
        if 0 < best < len(curve) - 1 and above[best] >= max(above[best - 1], above[best + 1]):
            found.append(best)
        left[max(best - APART, 0) : best + APART + 1] = -np.inf
    whole = float(len(times_s) * sum(1 for one in others_s if len(one)))
    return tuple(MeetingLag(lag_ms=float(at - half), height=float(above[at]) / whole) for at in sorted(found))
