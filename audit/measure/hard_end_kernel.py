"""The compiled half of `hard_end`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

STRETCH = 256
"""Samples of a rest that are asked at once."""


@njit(cache=True, nogil=True)
def _rests_on(wave: Any, sound: Any) -> bool:
    """Whether nothing lies above `sound`. Without branches, for wide registers."""
    loud = np.int32(0)
    for i in range(len(wave)):
        loud += np.int32(abs(wave[i]) > sound)
    return bool(loud == 0)


@njit(cache=True, nogil=True)
def rests(wave: Any, shortest: int, sound: Any, begins: Any) -> int:
    """Where stretches of `shortest` samples and more begin that hold nothing above `sound`; their number.

    wave: float32, one channel; shortest: 2 or more. begins: int64, room for one in `shortest` samples and one
    more, written. Of two samples half a stretch apart one at least lies in each, so only those are looked at
    where it sounds.
    """
    step = shortest // 2
    count = 0
    at = 0
    while at < len(wave):
        if abs(wave[at]) > sound:
            at += step
            continue
        begin = at
        while begin > 0 and abs(wave[begin - 1]) <= sound:
            begin -= 1
        end = at + 1
        while end + STRETCH <= len(wave) and _rests_on(wave[end : end + STRETCH], sound):
            end += STRETCH
        while end < len(wave) and abs(wave[end]) <= sound:
            end += 1
        if end - begin >= shortest:
            begins[count] = begin
            count += 1
        at = -(-end // step) * step
    return count
