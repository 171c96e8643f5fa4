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

# Of the highest peak the nearest of four points a sample shows at least cos(π/8) = 0.924, −0.69 dB (BS.1770-5
# Annex 2, Attachment 1, at half the sample rate). Points within 1 dB of the peak so far are followed.
_AT_4 = 10.0 ** (-1.0 / 20.0)
_VERTEX_RISE = 1.0013  # 1 / cos(π/64): a parabola through points 1/32 apart rises no further
_ROUNDING = 4e-7  # a few steps of float32, in which second differences and the short filter are computed

# Order may change (reassoc) in sums of fixed length and in maxima: the block size does not show in them.
_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}


@njit(cache=True, nogil=True, fastmath=_FAST)
def _value(plane: Any, n: int, step: int, table: Any) -> Any:
    """The waveform at n + step/32, −32 ≤ step ≤ 64."""
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
def _shortly(plane: Any, n: int, short: Any) -> Any:
    """Nearly the highest |value| at n + 1/4, 1/2 and 3/4: see interpolation.OvershootBound.short."""
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
def _quarters_at(plane: Any, n: int, quarters: Any) -> Any:
    """The waveform at n + 1/4, n + 1/2 and n + 3/4, in single precision."""
    v1 = np.float32(0.0)
    v2 = np.float32(0.0)
    v3 = np.float32(0.0)
    around = plane[n - 31 : n + 33]
    for j in range(64):
        x = around[j]
        v1 += quarters[0, j] * x
        v2 += quarters[1, j] * x
        v3 += quarters[2, j] * x
    return v1, v2, v3


@njit(cache=True, nogil=True, fastmath=_FAST)
def _quarters_of_all(plane: Any, begin: int, count: int, quarters: Any, out: Any) -> None:
    """The same of `count` samples from plane[begin] on, written to out[0 … 2], in a fifth of the time: eight
    taps at once, sample by sample."""
    for k in range(3):
        row, target = quarters[k], out[k, :count]
        target[:] = np.float32(0.0)
        for j in range(0, 64, 8):
            first = begin - 31 + j
            f0, f1, f2, f3 = row[j], row[j + 1], row[j + 2], row[j + 3]
            f4, f5, f6, f7 = row[j + 4], row[j + 5], row[j + 6], row[j + 7]
            x0, x1 = plane[first : first + count], plane[first + 1 : first + 1 + count]
            x2, x3 = plane[first + 2 : first + 2 + count], plane[first + 3 : first + 3 + count]
            x4, x5 = plane[first + 4 : first + 4 + count], plane[first + 5 : first + 5 + count]
            x6, x7 = plane[first + 6 : first + 6 + count], plane[first + 7 : first + 7 + count]
            for i in range(count):
                target[i] += (
                    f0 * x0[i] + f1 * x1[i] + f2 * x2[i] + f3 * x3[i]
                    + f4 * x4[i] + f5 * x5[i] + f6 * x6[i] + f7 * x7[i]
                )  # fmt: skip


@njit(cache=True, nogil=True, fastmath=_FAST)
def _worth(v0: Any, between: Any, v4: Any, peak: float, rounding: float) -> Any:
    """The step of the highest of n, n + 1/4 … n + 1 if a peak near it may exceed `peak`, else −1; its sign.

    v0, between, v4: the waveform there, in single precision. A parabola through points of which the middle
    one is highest rises by an eighth of its second difference; a quarter of the highest one nearby covers
    peaks whose curvature changes.
    """
    v1, v2, v3 = between
    best = v0
    at = 0
    if abs(v1) > abs(best):
        best = v1
        at = 8
    if abs(v2) > abs(best):
        best = v2
        at = 16
    if abs(v3) > abs(best):
        best = v3
        at = 24
    if abs(v4) > abs(best):
        best = v4
        at = 32
    bend = max(abs(v0 + v2 - v1 - v1), max(abs(v1 + v3 - v2 - v2), abs(v2 + v4 - v3 - v3)))
    size = np.float64(abs(best))
    if size + rounding < peak * _AT_4 or size + 0.25 * bend + rounding <= peak:
        at = -1
    return at, 1.0 if best >= 0.0 else -1.0


@njit(cache=True, nogil=True, fastmath=_FAST)
def _climb(plane: Any, n: int, at: int, width: int, sign: float, table: Any) -> Any:
    """From n + at/32 up to the highest of the points `width`/32 apart: its step, and low, here, high.

    It stays within half a sample of [n, n + 1]: what is beyond is the neighbour's to climb.
    """
    here = sign * _value(plane, n, at, table)
    low = sign * _value(plane, n, at - width, table)
    high = sign * _value(plane, n, at + width, table)
    while high > here and high >= low and at + width <= 48:
        at += width
        low = here
        here = high
        high = sign * _value(plane, n, at + width, table)
    while low > here and at - width >= -16:
        at -= width
        high = here
        here = low
        low = sign * _value(plane, n, at - width, table)
    return at, low, here, high


@njit(cache=True, nogil=True, fastmath=_FAST)
def _refine(
    plane: Any, n: int, at: int, sign: float, table: Any, peak: float, place: float, frame: int
) -> Any:
    """The top of the peak near n + at/32, where it exceeds `peak`; else `peak`, `place`.

    Up along points 1/4 apart, then along points 1/32 apart; a parabola through the last three is the top.
    """
    at, low, here, high = _climb(plane, n, at, 8, sign, table)
    bend = low - 2.0 * here + high
    if bend >= 0.0 or here - 0.25 * bend <= peak:
        return peak, place
    at += round(8.0 * min(0.5, max(-0.5, 0.5 * (low - high) / bend)))
    at, low, here, high = _climb(plane, n, at, 1, sign, table)
    bend = low - 2.0 * here + high
    shift = 0.0
    if bend < 0.0 and low <= here and high <= here:
        shift = 0.5 * (low - high) / bend
        here -= 0.25 * (low - high) * shift
    if here > peak:
        return here, frame + (at + shift) / 32.0
    return peak, place


@njit(cache=True, nogil=True, fastmath=_FAST)
def _bend_everywhere(plane: Any, begin: int, end: int, curves: Any) -> None:
    """|second difference| at each of plane[begin:end], written to the same places of `curves`."""
    before, at, after = plane[begin - 1 : end - 1], plane[begin:end], plane[begin + 1 : end + 1]
    target = curves[begin:end]
    for j in range(end - begin):
        target[j] = abs(before[j] + after[j] - (at[j] + at[j]))


@njit(cache=True, nogil=True)
def _summarise(plane: Any, segments: int, length: int, curves: Any, heights: Any, bends: Any) -> None:
    """Of each segment: the highest |x| and the highest |second difference|. Segment 0 begins at plane[32].

    length: SEGMENT, which the compiler must not know: it would write 32 steps out one by one. curves: room
    for as many values as a plane has. Maxima are taken of the bits, as integers: the compiler makes wide
    registers of that and not of maxima of floats. Without their sign floats are in the order of their bits.
    """
    _bend_everywhere(plane, SEGMENT, SEGMENT * (segments + 1), curves)
    sizes, curved = plane.view(np.int32), curves.view(np.int32)
    highest, most = heights.view(np.int32), bends.view(np.int32)
    mask = np.int32(0x7FFFFFFF)
    for s in range(segments):
        begin = SEGMENT * (s + 1)
        ours, theirs = sizes[begin : begin + length], curved[begin : begin + length]
        height, bend = np.int32(0), np.int32(0)
        for j in range(length):
            size = np.int32(ours[j] & mask)
            height = size if size > height else height
            curve = theirs[j]
            bend = curve if curve > bend else bend
        highest[s] = height
        most[s] = bend


@njit(cache=True, nogil=True)
def _scan(
    plane: Any, segments: int, length: int, first_frame: int, table: Any, quarters: Any, short: Any,
    bounds: Any, curves: Any, heights: Any, bends: Any, room: Any, dense: bool,
    peaks: Any,
) -> int:  # fmt: skip
    """Raise a channel's peaks by the segments that lie whole in its plane; plane[64] is frame first_frame.

    Returns how many samples the long filter was asked about. dense: expect nearly all (timecode, noise), and
    take it of all at once.
    """
    gain, curvature, short_curvature = bounds[0], bounds[1], bounds[2]
    _summarise(plane, segments + 2, length, curves, heights, bends)
    sample, sample_frame, true, place = peaks[0], peaks[1], peaks[2], peaks[3]
    asked = 0
    if dense:
        _quarters_of_all(plane, BEFORE, SEGMENT * segments, quarters, room)
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
            enough = true * _AT_4 - short_reach
            if here < enough and np.float64(_shortly(plane, i, short)) < enough:
                continue
            asked += 1
            if dense:
                k = i - BEFORE
                between = room[0, k], room[1, k], room[2, k]
            else:
                between = _quarters_at(plane, i, quarters)
            at, sign = _worth(plane[i], between, plane[i + 1], true, 4.0 * rounding)
            if at >= 0:
                true, place = _refine(plane, i, at, sign, table, true, place, frame + i - begin)
    peaks[0], peaks[1], peaks[2], peaks[3] = sample, sample_frame, true, place
    return asked


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
    flat: Any, channels: int, planes: Any, filled: int, first_frame: int, table: Any, quarters: Any,
    short: Any, bounds: Any, peaks: Any, length: int,
) -> Any:  # fmt: skip
    """Feed interleaved samples; returns how many frames of a plane are filled, and the next segment's frame.

    flat: float32, frames · channels values. planes: float32 (channels, PLANE_FRAMES), in place.
    table, quarters, short: the filters of interpolation.py, the second the table's rows 8, 16, 24 in float32.
    bounds: gain, curvature, short_curvature of interpolation.OvershootBound.
    peaks: float64 (channels, 4): sample peak, its frame, true peak, its place in frames; in place. length:
    SEGMENT (see `_summarise`).
    """
    frames = flat.size // channels
    heights = np.empty(PLANE_FRAMES // SEGMENT + 1, dtype=np.float32)
    bends = np.empty(PLANE_FRAMES // SEGMENT + 1, dtype=np.float32)
    curves = np.empty(PLANE_FRAMES, dtype=np.float32)
    room = np.empty((3, PLANE_FRAMES), dtype=np.float32)
    dense = np.zeros(channels, dtype=np.bool_)
    taken = 0
    while taken < frames:
        count = min(PLANE_FRAMES - filled, frames - taken)
        for c in range(0, channels - 1, 2):
            _split_pair(
                flat[taken * channels + c :], count, channels, planes[c, filled:], planes[c + 1, filled:]
            )
        if channels == 1:
            planes[0, filled : filled + count] = flat[taken : taken + count]
        elif channels % 2 == 1:
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
            asked = _scan(
                plane, segments, length, first_frame, table, quarters, short, bounds, curves, heights, bends,
                room, dense[c], peaks[c],
            )  # fmt: skip
            dense[c] = 2 * asked > used
            for i in range(filled - used):
                plane[i] = plane[used + i]
        filled -= used
        first_frame += used
    return filled, first_frame
