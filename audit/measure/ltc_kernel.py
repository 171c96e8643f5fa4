"""The compiled half of `timecode`: edges out of samples, words out of edges. Imported when a meter is made.

Both loops keep their state in the arrays they are given, so that a stream can be cut anywhere. With
NUMBA_DISABLE_JIT=1 the same functions run as plain Python (tests compare the two).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

# Places in the state of `find_edges`.
SIDE, CROSSING, BEFORE, PEAK, LAST_EDGE = range(5)

SYNC_HALVES = 24
"""The twelve ones of the sync word, two half-cells each (IEC 60461 bits 66 to 77)."""

MOST_LEAN = 0.85
"""How much longer every second half-cell may be, share of a half-cell."""

LEAD = 26 + 2 * 64 + 2
"""Edges that a whole forward word takes up before the end of its sync word's ones."""


@njit(cache=True, nogil=True)
def find_edges(
    wave: Any, base: float, window: int, mids: Any, tops: Any, gate: float, floor: float, state: Any,
    times: Any, peaks: Any,
) -> int:  # fmt: skip
    """Edges of whole windows of one channel; their number.

    mids, tops: middle and half height of each window. times: where the wave passes the middle (samples, from
    `base`, interpolated); peaks: how far the wave went from the middle before that edge. An edge counts once
    the wave stands `gate` times the half height past the middle. A window lower than `floor` has none, and
    the next sound after it begins with an edge whichever way it goes.
    """
    count = 0
    side = int(state[SIDE])
    crossing = state[CROSSING]
    before = state[BEFORE]
    peak = state[PEAK]
    last = state[LAST_EDGE]
    for k in range(len(mids)):
        begin = k * window
        if tops[k] < floor:
            side = 0
            peak = 0.0
            before = np.float64(wave[begin + window - 1])
            continue
        mid = mids[k]
        high = mid + gate * tops[k]
        low = mid - gate * tops[k]
        for i in range(begin, begin + window):
            value = np.float64(wave[i])
            earlier = before
            if (value > mid) != (before > mid):
                crossing = base + i - 1.0 + (mid - before) / (value - before)
            before = value
            away = abs(value - mid)
            if away > peak:
                peak = away
            if side <= 0 and value > high:
                now = 1
            elif side >= 0 and value < low:
                now = -1
            else:
                continue
            place = crossing
            # After silence, or where the middle itself moved past the wave, no crossing belongs to this edge.
            if side == 0 or crossing <= last:
                place = base + i
                level = high if now == 1 else low
                if (earlier > level) != (value > level):
                    place -= (value - level) / (value - earlier)
            if place > last:
                times[count] = place
                peaks[count] = peak
                count += 1
                last = place
            peak = away
            side = now
    state[SIDE] = side
    state[CROSSING] = crossing
    state[BEFORE] = before
    state[PEAK] = peak
    state[LAST_EDGE] = last
    return count


@njit(cache=True, nogil=True)
def is_cell(gap: float, cell: float) -> bool:
    """A whole bit cell. Half-way between a half and a whole one lies 0.75."""
    return 0.75 * cell <= gap <= 1.3 * cell


@njit(cache=True, nogil=True)
def is_half(gap: float, cell: float) -> bool:
    return 0.2 * cell <= gap < 0.75 * cell


@njit(cache=True, nogil=True)
def evened(edges: Any, i: int, j: int, lean: float) -> float:
    """Edge i where every second gap, gap j among them, is `lean` too long and the others as much too short.

    A wave sliced off its middle (clipped on one side) has such gaps; bi-phase mark itself has no DC.
    """
    return float(edges[i] + (0.5 * lean if (i - j) & 1 else -0.5 * lean))


@njit(cache=True, nogil=True)
def walk(
    edges: Any, count: int, place: int, step: int, cell: float, j: int, lean: float, bits: Any, done: Any
) -> Any:
    """64 bits from edge `place` on, forwards in time (step 1) or backwards (−1), into `bits` as they come.

    Returns how many were read (64: all), the edge that ends the last one, its time, and the number of ones;
    `done` gathers the squared distances of the ones' middle edges from the middle of their cells (in cells).
    The outermost edge of the last bit may be missing: code that begins at a file's first sample has none.
    """
    at = evened(edges, place, j, lean)
    ones = 0
    for n in range(64):
        inside = 0 <= place + step < count
        near = abs(evened(edges, place + step, j, lean) - at) if inside else 1e30
        if is_cell(near, cell):
            bits[n] = 0
            place += step
        elif is_half(near, cell):
            beyond = 0 <= place + 2 * step < count
            far = abs(evened(edges, place + 2 * step, j, lean) - at) if beyond else 1e30
            if is_cell(far, cell):
                bits[n] = 1
                ones += 1
                done[0] += (near / far - 0.5) ** 2
                place += 2 * step
            elif n == 63 and far > 1.3 * cell:
                bits[n] = 1
                return 64, place + step, at + step * cell, ones
            else:
                return n, place, at, ones
        elif n == 63 and near > 1.3 * cell:
            bits[n] = 0
            return 64, place, at + step * cell, ones
        else:
            return n, place, at, ones
        at = evened(edges, place, j, lean)
    return 64, place, at, ones


@njit(cache=True, nogil=True)
def sync_at(edges: Any, j: int, shortest: float, longest: float) -> Any:
    """Half a bit cell of a sync word whose twelve ones end at edge j, and its lean; 0.0 for none.

    The bounds leave no room for whole cells among the 24 halves: one would lie 1.4 times past their mean only
    where that mean is 1.43 halves, and then the cell that follows is too short.
    """
    half = (edges[j] - edges[j - SYNC_HALVES]) / SYNC_HALVES
    if not shortest <= half <= longest:
        return 0.0, 0.0
    odd = 0.0
    for i in range(j, j - SYNC_HALVES, -2):
        odd += edges[i] - edges[i - 1]
    lean = 2.0 * odd / SYNC_HALVES - half
    if abs(lean) > MOST_LEAN * half or not 1.6 * half <= edges[j + 1] - edges[j] + lean <= 2.5 * half:
        return 0.0, 0.0
    for i in range(j, j - SYNC_HALVES, -1):
        gap = edges[i] - edges[i - 1] + (lean if (i - j) & 1 else -lean)
        if not 0.6 * half <= gap <= 1.4 * half:
            return 0.0, 0.0
    before = edges[j - SYNC_HALVES] - edges[j - SYNC_HALVES - 1] - lean
    if not 1.6 * half <= before <= 2.5 * half:
        return 0.0, 0.0
    return half, lean


@njit(cache=True, nogil=True)
def read_words(
    edges: Any, peaks: Any, count: int, first: int, ended: bool, shortest: float, longest: float, bits: Any,
    numbers: Any,
) -> Any:  # fmt: skip
    """Words whose sync word's ones end at edge `first` or later.

    Returns how many were read and the edge to go on from: some words need edges that have not come yet,
    unless the stream has `ended`. bits: 64 a word, in the order of the standard, whichever way it is played.
    numbers: first sample, one past the last sample, 1.0 for reversed, mean peak, rms distance of middle edges
    from the middle of their cells (in cells), first and last edge.
    """
    found = 0
    scratch = np.zeros(64, np.uint8)
    done = np.zeros(1)
    j = max(first, SYNC_HALVES + 2)
    while j + 2 < count and found < len(bits):
        half, lean = sync_at(edges, j, shortest, longest)
        if half == 0.0:
            j += 1
            continue
        cell = 2.0 * half
        start = j - SYNC_HALVES - 1  # the edge that ends the bit before the last before the ones
        outer = evened(edges, start, j, lean) - evened(edges, start - 1, j, lean)
        after = evened(edges, j + 2, j, lean) - evened(edges, j + 1, j, lean)
        done[0] = 0.0
        read = 0
        if is_cell(outer, cell) and is_half(after, cell):
            read, low, begin, ones = walk(edges, count, start - 1, -1, cell, j, lean, scratch, done)
            end, high = evened(edges, j + 1, j, lean) + cell, j + 2
            backward = 0.0
        elif is_half(outer, cell) and is_cell(after, cell):
            read, high, end, ones = walk(edges, count, j + 2, 1, cell, j, lean, scratch, done)
            if read < 64 and high + 2 >= count and not ended:
                return found, j
            begin, low = evened(edges, start, j, lean) - cell, start - 1
            backward = 1.0
        if read == 64:
            for n in range(64):
                bits[found, 63 - n] = scratch[n]
            for i in range(j - SYNC_HALVES, j, 2):
                # Evened, like the other ones; the lean is added below.
                near = edges[i + 1] - edges[i] + lean
                done[0] += (near / (edges[i + 2] - edges[i]) - 0.5) ** 2
            total = 0.0
            for i in range(low + 1, high + 1):
                total += peaks[i]
            row = numbers[found]
            row[0] = begin
            row[1] = end
            row[2] = backward
            row[3] = total / (high - low)
            row[4] = np.sqrt(done[0] / (ones + SYNC_HALVES // 2) + (lean / cell) ** 2)
            row[5] = low
            row[6] = high
            found += 1
        j += 1
    return found, j
