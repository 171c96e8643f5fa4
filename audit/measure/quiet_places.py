"""Where a part is quiet: places at which a leak shows best.

quiet_places(places_s, powers, …) -> indices      rests(powers, limit, …) -> whether it rests
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.leak import SILENCE
from audit.measure.steps import STEP_S

REST_S = 2.0

Numbers = npt.NDArray[np.float64]
Powers = npt.NDArray[np.floating]


def quiet_places(
    places_s: Numbers, powers: Powers, *, length_s: float, most: int
) -> tuple[npt.NDArray[np.int64], int]:
    """The `most` quietest places, in order of time, and how many hold no sound at all (never among them).

    places_s: where pieces of `length_s` begin. powers: mean square of every 100 ms, shape (steps,).
    """
    if len(powers) == 0 or len(places_s) == 0:
        return np.zeros(0, dtype=np.int64), len(places_s)
    first = np.clip((places_s / STEP_S).astype(np.int64), 0, len(powers) - 1)
    steps = int(np.ceil(length_s / STEP_S)) + 1
    padded = np.pad(powers.astype(np.float64), (0, steps))
    loudest = np.lib.stride_tricks.sliding_window_view(padded, steps)[first].max(axis=1)
    order = np.argsort(loudest, kind="stable")
    order = order[loudest[order] > SILENCE]
    return np.sort(order[:most]), len(places_s) - len(order)


def rests(powers: Powers, limit: float, first_s: float, last_s: float) -> bool:
    """Whether for REST_S on end no step's mean square passes `limit`, between two moments, and neither half
    of it is digital silence: then nothing leaks there. A note's end in a silent rest is no tick."""
    inside = powers[max(0, int(first_s / STEP_S)) : int(np.ceil(last_s / STEP_S))]
    need = round(REST_S / STEP_S)
    if len(inside) < need:
        return False
    windows = np.lib.stride_tricks.sliding_window_view(inside, need)
    halves = np.minimum(windows[:, : need // 2].max(axis=1), windows[:, need // 2 :].max(axis=1))
    return bool(np.any((windows.max(axis=1) <= limit) & (halves > SILENCE)))
