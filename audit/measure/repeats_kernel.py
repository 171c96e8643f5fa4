"""The compiled half of `repeats`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.prediction_kernel import middle, residual, windowed_model

FROM, UNTIL, LAG = range(3)
COLUMNS = 3

ORDER = 24
MIX = np.uint32(0x9E3779B1)
"""2^32 over the golden ratio, odd: multiplying by it spreads bits upwards (Knuth, Sorting and Searching)."""
MIX_TOO = np.uint32(0x85EBCA6B)
ANCHORS, NEVER = np.uint32(1 << 29), np.uint32(0xFFFFFFFF)
"""Hashes below ANCHORS make a place an anchor: one in 2^(32 − 29) = 8."""

STRETCH = 256
"""Lags that are asked at once whether any of them can be one."""


@njit(cache=True, nogil=True)
def cells(wave: Any, height: Any, out: Any) -> None:
    """The samples of float32 `wave` in whole cells of that height, towards zero; int32, written to `out`."""
    scale = np.float32(1.0) / height
    most = np.float32(1e9)
    for i in range(len(wave)):
        value = wave[i] * scale
        value = most if value > most else value
        out[i] = np.int32(-most if value < -most else value)


@njit(cache=True, nogil=True)
def anchors(codes: Any, start: int, stop: int, places: Any, keys: Any, mixed: Any) -> int:
    """Places that are chosen by their sound alone, so that a copy has the same ones; returns how many.

    codes: the samples' bits, uint32. A place counts where a hash of it and the next sample begins with three
    zero bits, and the two are not the same. mixed: scratch; a loop without branches, and one that only
    counts, run three times as fast as one that does both.
    """
    ones = codes[start:stop]
    twos = codes[start + 1 : stop + 1]
    for i in range(len(ones)):
        key = np.uint32(np.uint32(np.uint32(ones[i] * MIX) ^ twos[i]) * MIX_TOO)
        mixed[i] = key if ones[i] != twos[i] else NEVER
    count = 0
    for i in range(len(ones)):
        key = mixed[i]
        places[count] = start + i
        keys[count] = key
        count += np.int64(key < ANCHORS)
    return count


@njit(cache=True, nogil=True)
def find_repeats(
    codes: Any, places: Any, keys: Any, count: int, first: int, state: Any, table: Any, farthest: int,
    shortest: int, found: Any,
) -> int:  # fmt: skip
    """Stretches that equal what stood `lag` samples before them; rows written to `found`.

    places, keys: of `anchors`; first: the frame of codes[0]; state[0]: the frame up to which all is told;
    table: the frame where each key was last seen, −1 for never. Returns the number of rows.
    """
    mask = np.uint32(len(table) - 1)
    rows = 0
    for k in range(count):
        i = places[k]
        slot = np.int64((keys[k] >> np.uint32(7)) & mask)
        seen = table[slot]
        table[slot] = first + i
        lag = first + i - seen
        if seen < 0 or lag > farthest or first + i < state[0] or i - lag < 0:
            continue
        if codes[i + 1] != codes[i + 1 - lag] or codes[i] != codes[i - lag]:
            continue
        begin = i
        limit = max(lag, np.int64(state[0]) - first)
        while begin > limit and codes[begin - 1] == codes[begin - 1 - lag]:
            begin -= 1
        end = i + 2
        while end < len(codes) and codes[end] == codes[end - lag]:
            end += 1
        if end - begin < shortest // 2:
            continue
        state[0] = first + end
        if rows < len(found):
            found[rows, FROM] = first + begin
            found[rows, UNTIL] = first + end
            found[rows, LAG] = lag
            rows += 1
    return rows


@njit(cache=True, nogil=True)
def find_near_repeats(
    wave: Any, start: int, places: Any, keys: Any, count: int, first: int, state: Any, table: Any, slack: Any,
    farthest: int, shortest: int, found: Any,
) -> int:  # fmt: skip
    """As `find_repeats`, of what is the same within `slack`; wave: float32. places count from wave[start] on.

    keys: of the samples in cells much higher than dither, most of which a copy that was dithered anew keeps.
    """
    mask = np.uint32(len(table) - 1)
    rows = 0
    for k in range(count):
        i = start + places[k]
        slot = np.int64((keys[k] >> np.uint32(7)) & mask)
        seen = table[slot]
        table[slot] = first + i
        lag = first + i - seen
        if seen < 0 or lag > farthest or first + i < state[0] or i - lag < 0:
            continue
        if abs(wave[i] - wave[i - lag]) > slack or abs(wave[i + 1] - wave[i + 1 - lag]) > slack:
            continue
        begin = i
        limit = max(lag, np.int64(state[0]) - first)
        while begin > limit and abs(wave[begin - 1] - wave[begin - 1 - lag]) <= slack:
            begin -= 1
        end = i + 2
        while end < len(wave) and abs(wave[end] - wave[end - lag]) <= slack:
            end += 1
        if end - begin < shortest:
            continue
        state[0] = first + end
        if rows < len(found):
            found[rows, FROM] = begin
            found[rows, UNTIL] = end
            found[rows, LAG] = lag
            rows += 1
    return rows


@njit(cache=True, nogil=True)
def near_copies(
    wave: Any, place: int, length: int, slack: Any, least_step: Any, shortest: int, farthest: int, found: Any
) -> int:
    """Stretches around wave[place : place + length] that are what stood `lag` samples before within `slack`.

    wave: float32, one channel. least_step: RMS from sample to sample below which nothing is looked for, as
    what is quiet or held is near everything. Rows as of `find_repeats`, but places in wave; stretches of more
    than three lags, which are no copies, are followed no farther. Returns the number of rows; −1 where the
    sound there is too quiet or held.
    """
    rows = 0
    if place < 0 or place + length > len(wave) or place < shortest:
        return rows
    power = 0.0
    for at in range(place + 1, place + length):
        power += (wave[at] - wave[at - 1]) ** 2
    if power < (length - 1) * least_step**2:
        return -1
    # The samples that lie farthest out have the fewest others near them; lags that both allow are followed.
    highest, lowest = place, place
    for at in range(place, place + length):
        if wave[at] > wave[highest]:
            highest = at
        if wave[at] < wave[lowest]:
            lowest = at
    top, bottom = wave[highest], wave[lowest]
    probe = wave[place : place + length]
    last_lag = min(farthest, place)
    # From the farthest lag on, in the order of memory; a stretch without branches is compiled to wide
    # registers, and most hold none.
    high = wave[highest - last_lag : highest - shortest + 1]
    low = wave[lowest - last_lag : lowest - shortest + 1]
    lags = np.empty(len(high), dtype=np.int64)
    count = 0
    for first in range(0, len(high), STRETCH):
        ups = high[first : first + STRETCH]
        downs = low[first : first + STRETCH]
        near = np.int32(0)
        for j in range(len(ups)):
            near += np.int32(abs(top - ups[j]) <= slack) & np.int32(abs(bottom - downs[j]) <= slack)
        if near > 0:
            for j in range(len(ups)):
                lags[count] = last_lag - first - j
                count += int(abs(top - ups[j]) <= slack) & int(abs(bottom - downs[j]) <= slack)
    for lag in lags[:count][::-1]:
        earlier = wave[place - lag : place - lag + length]
        apart = np.int32(0)
        for j in range(length):
            apart += np.int32(abs(probe[j] - earlier[j]) > slack)
        if apart > 0:
            continue
        end = place + length
        last = min(len(wave), end + 3 * lag + length)
        while end < last and abs(wave[end] - wave[end - lag]) <= slack:
            end += 1
        begin, first = place, max(lag, place - 3 * lag - length)
        while begin > first and abs(wave[begin - 1] - wave[begin - 1 - lag]) <= slack:
            begin -= 1
        if rows < len(found):
            found[rows, FROM] = begin
            found[rows, UNTIL] = end
            found[rows, LAG] = lag
            rows += 1
    return rows


@njit(cache=True, nogil=True)
def near_copies_at(
    wave: Any, places: Any, length: int, slack: Any, least_step: Any, shortest: int, farthest: int, told: Any,
    found: Any,
) -> int:  # fmt: skip
    """`near_copies` at every place; told: int64, a value a place, what that returned, written."""
    rows = 0
    for k in range(len(places)):
        told[k] = near_copies(wave, places[k], length, slack, least_step, shortest, farthest, found[rows:])
        rows += max(0, told[k])
    return rows


@njit(cache=True, nogil=True)
def surprises(wave: Any, first: int, second: int, end: int, span: int) -> Any:
    """How far the sound leaves what is expected of it where a block begins, where its copy begins and ends.

    wave: float64, the `span` samples before the block and more, up to 4 past the copy's end. first, second,
    end: the three places. Each is the highest residual of four samples, over the robust spread of the
    residual in the `span` samples before `first`; the model is made of those.
    """
    known = wave[first - span : first]
    a = windowed_model(known, ORDER)
    spread = middle(residual(known, a))
    worst = np.zeros(3)
    places = (first, second, end)
    for k in range(3):
        e = residual(wave[places[k] - ORDER : places[k] + 4], a)
        for i in range(len(e)):
            worst[k] = max(worst[k], abs(e[i]))
    return worst, spread
