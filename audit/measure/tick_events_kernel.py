"""The compiled half of `tick_events`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def envelopes(block: Any, before: Any, hop_frames: int, rows: Any) -> None:
    """Largest |x[n] − x[n−1]| and largest |x[n]| of every whole hop over all channels into `rows`, (hops, 2).

    block: float32, shape (frames, channels); before: the frame ahead of it, one value a channel.
    """
    for k in range(len(rows)):
        step, level = np.float32(0.0), np.float32(0.0)
        for channel in range(block.shape[1]):
            last = before[channel] if k == 0 else block[k * hop_frames - 1, channel]
            for i in range(k * hop_frames, (k + 1) * hop_frames):
                now = block[i, channel]
                step = max(step, abs(now - last))
                level = max(level, abs(now))
                last = now
        rows[k, 0] = step
        rows[k, 1] = level


@njit(cache=True, nogil=True)
def rises(rows: Any, ring: Any, state: Any, floors: Any, ratios: Any, holds: Any, found: Any) -> Any:
    """Hops at which a sound begins, as indices into `rows`; their number.

    A hop begins a sound where one of its envelopes exceeds its floor and ratios[0] times everything in the
    ring of hops before it, no sooner than holds[0] hops after the last; or, a far louder sound, ratios[1]
    times and holds[1] hops. ring: (hops, 2); state: place in the ring, hops since the last rise.
    """
    count = 0
    for k in range(len(rows)):
        begins = False
        for column in range(2):
            past = np.float32(0.0)
            for i in range(len(ring)):
                past = max(past, ring[i, column])
            ratio = ratios[0] if state[1] + 1 >= holds[0] else ratios[1]
            begins = begins or (rows[k, column] > floors[column] and rows[k, column] > ratio * past)
            ring[state[0], column] = rows[k, column]
        state[0] = (state[0] + 1) % len(ring)
        state[1] += 1
        if begins and state[1] >= holds[1]:
            found[count] = k
            count += 1
            state[1] = 0
    return count
