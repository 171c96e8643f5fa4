"""The compiled half of the peak meter. The meter imports it when one is made: numba stays out of start-up.

Samples wait in `planes`, one row a channel, until a whole segment of 32 frames and all frames that can still
change it are there. Segments begin at multiples of 32 frames of the file, however it is cut into blocks, so
the block size cannot change a result in any bit.

Three sieves keep the long filter off nearly all of a file: the bound of interpolation.OvershootBound for a
segment, the same for each pair of samples, and the short filter with its own bound. None of them can drop a
value that would have raised the peak.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

SEGMENT = 32
BEFORE = 64
"""Frames kept before the segment at hand: the segment before it, and room for the filter at its edge."""

AFTER = 65
"""Frames needed from the segment's beginning on: itself, the segment after it, and one for its curvature."""

CHUNK = 4096
PLANE_FRAMES = BEFORE + AFTER + SEGMENT + CHUNK

# How much of a highest peak the nearest point of a grid shows at least: cos(π f / n), BS.1770-5 Annex 2,
# Attachment 1, at f = half the sample rate. The figures here lie a little lower.
_AT_4 = 10.0 ** (-1.0 / 20.0)  # cos(π/8) = 0.924 at four points a sample
_AT_8 = 0.975  # cos(π/16) = 0.981
_AT_16 = 0.993  # cos(π/32) = 0.995
_VERTEX_RISE = 1.0013  # 1 / cos(π/64): a parabola through points 1/32 apart rises no further
_ROUNDING = 4e-7  # a few steps of float32, in which second differences and the short filter are computed

# Order may change (reassoc) in sums of fixed length and in maxima: the block size does not show in them.
_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}


@njit(cache=True, nogil=True, fastmath=_FAST)
def _value(plane: Any, n: int, step: int, table: Any) -> Any:
    """The waveform at n + step/32; step may be −1 or 33."""
    if step < 0:
        step += 32
        n -= 1
    elif step > 32:
        step -= 32
        n += 1
    row = table[step]
    around = plane[n - 31 : n + 33]
    total = 0.0
    for j in range(64):
        total += row[j] * around[j]
    return total


@njit(cache=True, nogil=True, fastmath=_FAST)
def _at_quarters(plane: Any, n: int, short: Any) -> Any:
    """Nearly the highest |value| at n + 1/4, n + 1/2 and n + 3/4: see interpolation.OvershootBound.short."""
    first = np.float32(0.0)
    middle = np.float32(0.0)
    last = np.float32(0.0)
    around = plane[n - 7 : n + 9]
    for j in range(16):
        x = around[j]
        first += short[0, j] * x
        middle += short[1, j] * x
        last += short[2, j] * x
    return max(abs(first), max(abs(middle), abs(last)))


@njit(cache=True, nogil=True, fastmath=_FAST)
def _refine(plane: Any, n: int, table: Any, peak: float, place: float, frame: int) -> Any:
    """The highest |value| between samples n and n + 1, where it exceeds `peak`; else `peak`, `place`."""
    at = 0
    signed = _value(plane, n, 0, table)
    for step in (8, 16, 24, 32):
        value = _value(plane, n, step, table)
        if abs(value) > abs(signed):
            signed = value
            at = step
    sign = 1.0 if signed >= 0.0 else -1.0
    best = abs(signed)
    if best < peak * _AT_4:
        return peak, place
    for width, shown in ((4, _AT_8), (2, _AT_16), (1, 0.0)):
        middle = at
        low = sign * _value(plane, n, middle - width, table) if middle > 0 else 0.0
        high = sign * _value(plane, n, middle + width, table) if middle < 32 else 0.0
        if low > best:
            best = low
            at = middle - width
        if high > best:
            best = high
            at = middle + width
        if best < peak * shown:
            return peak, place
    low = sign * _value(plane, n, at - 1, table)
    high = sign * _value(plane, n, at + 1, table)
    shift = 0.0
    bend = low - 2.0 * best + high
    if bend < 0.0 and low <= best and high <= best:
        shift = 0.5 * (low - high) / bend
        best -= 0.25 * (low - high) * shift
    if best > peak:
        return best, frame + (at + shift) / 32.0
    return peak, place


@njit(cache=True, nogil=True, fastmath=_FAST)
def _summarise(plane: Any, segments: int, heights: Any, bends: Any) -> None:
    """Of each segment: the highest |x| and the highest |second difference|. Segment 0 begins at plane[32]."""
    for s in range(segments):
        begin = SEGMENT * (s + 1)
        height = np.float32(0.0)
        bend = np.float32(0.0)
        before = plane[begin - 1 : begin - 1 + SEGMENT]
        at = plane[begin : begin + SEGMENT]
        after = plane[begin + 1 : begin + 1 + SEGMENT]
        for j in range(SEGMENT):
            here = at[j]
            size = abs(here)
            if size > height:
                height = size
            curve = abs(before[j] + after[j] - (here + here))
            if curve > bend:
                bend = curve
        heights[s] = height
        bends[s] = bend


@njit(cache=True, nogil=True)
def _scan(
    plane: Any, segments: int, first_frame: int, table: Any, short: Any, bounds: Any, heights: Any,
    bends: Any, peaks: Any,
) -> None:  # fmt: skip
    """Raise a channel's peaks by the segments that lie whole in its plane; plane[64] is frame first_frame."""
    gain, curvature, short_curvature = bounds[0], bounds[1], bounds[2]
    _summarise(plane, segments + 2, heights, bends)
    sample, sample_frame, true, place = peaks[0], peaks[1], peaks[2], peaks[3]
    for s in range(segments):
        begin = BEFORE + SEGMENT * s
        frame = first_frame + SEGMENT * s
        height = np.float64(heights[s + 1])
        if height > sample:
            i = begin
            while abs(plane[i]) < heights[s + 1]:
                i += 1
            sample = height
            sample_frame = frame + i - begin
            if sample > true:
                true = sample
                place = sample_frame
        height = max(height, np.float64(abs(plane[begin + SEGMENT])))
        bend = np.float64(max(bends[s], max(bends[s + 1], bends[s + 2])))
        rounding = _ROUNDING * max(height, bend)
        lift = gain * _VERTEX_RISE
        reach = curvature * bend * _VERTEX_RISE + rounding
        if height * lift + reach <= true:
            continue
        short_reach = short_curvature * bend + (gain - 1.0) * height + rounding
        for i in range(begin, begin + SEGMENT):
            here = np.float64(max(abs(plane[i]), abs(plane[i + 1])))
            if here * lift + reach <= true:
                continue
            between = np.float64(_at_quarters(plane, i, short)) + short_reach
            if max(here, between) >= true * _AT_4:
                true, place = _refine(plane, i, table, true, place, frame + i - begin)
    peaks[0], peaks[1], peaks[2], peaks[3] = sample, sample_frame, true, place


@njit(cache=True, nogil=True)
def _split_pair(flat: Any, count: int, stride: int, left: Any, right: Any) -> None:
    if stride == 2:  # a stride the compiler knows lets it shuffle vectors
        for i in range(count):
            left[i] = flat[2 * i]
            right[i] = flat[2 * i + 1]
    else:
        for i in range(count):
            left[i] = flat[stride * i]
            right[i] = flat[stride * i + 1]


@njit(cache=True, nogil=True)
def scan_block(
    flat: Any, channels: int, planes: Any, filled: int, first_frame: int, table: Any, short: Any, bounds: Any,
    peaks: Any,
) -> Any:  # fmt: skip
    """Feed interleaved samples; returns how many frames of a plane are filled, and the next segment's frame.

    flat: float32, frames · channels values. planes: float32 (channels, PLANE_FRAMES), in place.
    bounds: gain, curvature, short_curvature of interpolation.OvershootBound.
    peaks: float64 (channels, 4): sample peak, its frame, true peak, its place in frames; in place.
    """
    frames = flat.size // channels
    heights = np.empty(PLANE_FRAMES // SEGMENT + 1, dtype=np.float32)
    bends = np.empty(PLANE_FRAMES // SEGMENT + 1, dtype=np.float32)
    taken = 0
    while taken < frames:
        count = min(PLANE_FRAMES - filled, frames - taken)
        for c in range(0, channels - 1, 2):
            _split_pair(
                flat[taken * channels + c :], count, channels, planes[c, filled:], planes[c + 1, filled:]
            )
        if channels % 2 == 1:
            plane = planes[channels - 1]
            for i in range(count):
                plane[filled + i] = flat[(taken + i) * channels + channels - 1]
        taken += count
        filled += count
        if filled < BEFORE + AFTER:
            continue
        segments = (filled - BEFORE - AFTER) // SEGMENT + 1
        used = segments * SEGMENT
        for c in range(channels):
            plane = planes[c]
            _scan(plane, segments, first_frame, table, short, bounds, heights, bends, peaks[c])
            for i in range(filled - used):
                plane[i] = plane[used + i]
        filled -= used
        first_frame += used
    return filled, first_frame
