"""The compiled half of `fingerprint`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def read_rises(power: Any, low: Any, high: Any, limits: Any, state: Any, sums: Any, words: Any) -> None:
    """The word of each hop: bit b is set where band b rose.

    power: float32, shape (hops, bins). low, high: bins of each band, shape (bands,). limits: by which factor
    a band has to rise; which share of the loudest hop so far counts as silence; which power always does.
    state: float64, shape (bands + 2,), carried from call to call: each band's power with its floor in the hop
    before, the loudest hop so far, and whether there was a hop. sums: float64, shape (bands,), power of each
    band, added to. words: uint32, shape (hops,), written.
    """
    bands = low.shape[0]
    rise, share, least = limits
    now = np.empty(bands)
    for hop in range(power.shape[0]):
        total = 0.0
        for band in range(bands):
            inside = 0.0
            for k in range(low[band], high[band]):
                inside += power[hop, k]
            now[band] = inside
            sums[band] += inside
            total += inside
        state[bands] = max(state[bands], total)
        floor = max(state[bands] * share, least)
        word = 0
        for band in range(bands):
            stands = now[band] + floor
            if state[bands + 1] > 0.0 and stands > rise * state[band]:
                word |= 1 << band
            state[band] = stands
        state[bands + 1] = 1.0
        words[hop] = word
