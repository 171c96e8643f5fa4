"""The compiled half of `ticks`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

# Places in the state of a channel (float64).
HOP, IN_EVENT, START, PEAK, LAST_LOUD, LAST_HEARD = range(6)
CROSSINGS, LOUD_CROSSINGS, QUIET, LOUDEST, SOUND_HOPS, SIGN = range(6, 12)
STATE_SIZE = 12

# Columns of an event: first hop, hops until 20 dB below its peak, until 40 dB below, peak, crossings in the
# loud part.
FIRST, LOUD_HOPS, HEARD_HOPS, EVENT_PEAK, EVENT_CROSSINGS = range(5)
COLUMNS = 5

QUIET_HOPS = 8
"""An event is over after 8 ms of quiet: half a period of the lowest tone that may dip between (62 Hz)."""

CROSSINGS_UNTIL = 100
"""Longer events are no ticks, whatever their pitch."""


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def highest(codes: Any) -> Any:
    """Highest |x| of float32 samples given by their bits (see steps_kernel)."""
    mask = np.int32(0x7FFFFFFF)
    peak = np.int32(0)
    for i in range(len(codes)):
        code = np.int32(codes[i] & mask)
        peak = code if code > peak else peak
    return peak


@njit(cache=True, nogil=True)
def count_crossings(wave: Any, state: Any) -> None:
    """Sign changes of one hop, added to the event's. Without branches, for wide registers."""
    zero = np.float32(0.0)
    count = np.int32(0)
    for i in range(1, len(wave)):
        count += np.int32((wave[i] > zero) != (wave[i - 1] > zero))
    first = 1.0 if wave[0] > zero else -1.0
    state[CROSSINGS] += count + (1.0 if first != state[SIGN] else 0.0)
    state[SIGN] = 1.0 if wave[-1] > zero else -1.0


@njit(cache=True, nogil=True)
def find_events(wave: Any, hop_frames: int, floor: float, hush: float, state: Any, events: Any) -> Any:
    """Events that end within these hops go into `events`; their number."""
    found = 0
    codes = wave.view(np.int32)
    code = np.zeros(1, np.int32)
    for k in range(len(wave) // hop_frames):
        first = k * hop_frames
        code[0] = highest(codes[first : first + hop_frames])
        level = code.view(np.float32)[0]
        hop = state[HOP]
        state[HOP] += 1.0
        state[LOUDEST] = max(state[LOUDEST], level)
        if state[IN_EVENT] == 0.0:
            # 30 dB below the loudest so far begins an event; 40 dB below still is sound, but none of its own.
            if level <= max(floor, state[LOUDEST] * 0.0316):
                if level > max(floor, state[LOUDEST] * 0.01):
                    state[SOUND_HOPS] += 1.0
                continue
            state[IN_EVENT] = 1.0
            state[START] = hop
            state[PEAK] = 0.0
            state[CROSSINGS] = 0.0
            state[QUIET] = 0.0
            state[SIGN] = 0.0
        if hop - state[START] < CROSSINGS_UNTIL:
            count_crossings(wave[first : first + hop_frames], state)
        state[PEAK] = max(state[PEAK], level)
        if level >= 0.1 * state[PEAK]:
            state[LAST_LOUD] = hop
            state[LOUD_CROSSINGS] = state[CROSSINGS]
        if level > max(hush, 0.01 * state[PEAK]):
            state[LAST_HEARD] = hop
            state[QUIET] = 0.0
            continue
        state[QUIET] += 1.0
        if state[QUIET] >= QUIET_HOPS:
            heard = state[LAST_HEARD] - state[START] + 1.0
            events[found, FIRST] = state[START]
            events[found, LOUD_HOPS] = state[LAST_LOUD] - state[START] + 1.0
            events[found, HEARD_HOPS] = heard
            events[found, EVENT_PEAK] = state[PEAK]
            events[found, EVENT_CROSSINGS] = state[LOUD_CROSSINGS]
            found += 1
            state[SOUND_HOPS] += heard
            state[IN_EVENT] = 0.0
    return found
