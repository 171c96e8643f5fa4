"""The compiled half of `biphase`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

# What `examine` says of a window.
SILENT, OTHER, UNDECIDED, TIMECODE = range(4)

_SYNC = 0b0011111111111101  # IEC 60461 bits 64–79, first bit first
_SYNC_REVERSED = 0b1011111111111100
_BITS = 80


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def level_of(wave: Any) -> Any:
    """Mean, and how far the wave goes from it at most (or a little more)."""
    codes = wave.view(np.int32)
    mask = np.int32(0x7FFFFFFF)
    highest = np.zeros(1, np.int32)
    peak = np.int32(0)
    total = 0.0
    for i in range(len(wave)):
        code = np.int32(codes[i] & mask)
        peak = code if code > peak else peak
        total += np.float64(wave[i])
    highest[0] = peak
    mean = total / len(wave)
    return mean, highest.view(np.float32)[0] - abs(mean)


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def sides_changed(wave: Any, before: Any, mean: Any) -> Any:
    """How often the wave changes sides about its mean, ripples included. before: one frame earlier."""
    count = np.int32(0)
    for i in range(len(wave)):
        count += np.int32(wave[i] > mean) ^ np.int32(before[i] > mean)
    return count


@njit(cache=True, nogil=True)
def collect(
    wave: Any, mean: float, gate: float, shortest: float, longest: float, bad_limit: float, gaps: Any
) -> Any:
    """Intervals between zero crossings (frames, interpolated) into `gaps`; their number.

    A crossing counts once the wave has gone `gate` past the mean on the other side. −1 as soon as intervals
    that cannot be bi-phase mark (outside shortest … longest, or not 1/2, 1 or 2 times their predecessor) make
    up more than `bad_limit` frames: such a window can no longer count as timecode.
    """
    count = 0
    side = 0
    crossing = -1.0
    last = -1.0
    before = 0.0
    bad = 0.0
    high = np.float32(mean + gate)
    low = np.float32(mean - gate)
    middle = np.float32(mean)
    for i in range(1, len(wave)):
        value = wave[i]
        if (value > middle) != (wave[i - 1] > middle):
            step = np.float64(value) - np.float64(wave[i - 1])
            crossing = i - 1 + (mean - np.float64(wave[i - 1])) / step
        if side <= 0 and value > high:
            now = 1
        elif side >= 0 and value < low:
            now = -1
        else:
            continue
        if side != 0:
            if last >= 0.0:
                gap = crossing - last
                gaps[count] = gap
                count += 1
                good = shortest <= gap <= longest
                if good and before > 0.0:
                    ratio = gap / before
                    good = 0.4 < ratio < 0.65 or 0.72 < ratio < 1.4 or 1.55 < ratio < 2.5
                if not good:
                    bad += gap
                    if bad > bad_limit:
                        return -1
                before = gap
            last = crossing
        side = now
    return count


@njit(cache=True, nogil=True)
def bit_length(gaps: Any, count: int, longest: float) -> float:
    """Length of a bit cell: the mean of the longest kind of interval of which there are 3 % or more."""
    ceiling = longest
    for _ in range(8):
        top = 0.0
        for i in range(count):
            if top < gaps[i] <= ceiling:
                top = gaps[i]
        total = 0.0
        members = 0
        for i in range(count):
            if 0.8 * top <= gaps[i] <= top:
                total += gaps[i]
                members += 1
        if members == 0:
            return 0.0
        if members >= 0.03 * count:
            return total / members
        ceiling = 0.8 * top
    return 0.0


@njit(cache=True, nogil=True)
def read_bits(gaps: Any, count: int, cell: float) -> Any:
    """Frames that keep the pattern, bits read, and sync words met (either way round)."""
    kept = 0.0
    bits = 0
    syncs = 0
    word = 0
    held = 0  # bits in a row without a fault, up to 16
    i = 0
    while i < count:
        size = gaps[i] / cell
        bit = -1
        if 0.8 <= size <= 1.25:
            bit = 0
            kept += gaps[i]
            i += 1
        elif 0.33 <= size <= 0.68 and i + 1 < count and 0.33 <= gaps[i + 1] / cell <= 0.68:
            bit = 1
            kept += gaps[i] + gaps[i + 1]
            i += 2
        else:
            i += 1
        if bit < 0:
            held = 0
            continue
        bits += 1
        held = min(held + 1, 16)
        word = (word << 1 | bit) & 0xFFFF
        if held == 16 and word in (_SYNC, _SYNC_REVERSED):
            syncs += 1
    return kept, bits, syncs


@njit(cache=True, nogil=True)
def examine(wave: Any, floor: float, shortest: float, longest: float, allowed: float, gaps: Any) -> Any:
    """What one window is, how many of its frames that says something about, and its level."""
    mean, level = level_of(wave)
    if level < floor:
        return SILENT, 0.0, level
    frames = float(len(wave))
    # More than the shortest halves all the way, and half as many again for noise about the edges: hiss.
    if sides_changed(wave[1:], wave[:-1], np.float32(mean)) > 1.5 * frames / shortest:
        return OTHER, frames, level
    count = collect(wave, mean, 0.2 * level, shortest, longest, allowed * frames, gaps)
    if count < 0:
        return OTHER, frames, level
    spanned = 0.0
    for i in range(count):
        spanned += gaps[i]
    cell = bit_length(gaps, count, longest)
    if cell < 2.0 * shortest:
        # Too few crossings to be anything but a low or a sparse sound, unless next to nothing was spanned.
        return (UNDECIDED, 0.0, level) if 0.0 < spanned < 0.1 * frames else (OTHER, frames, level)
    kept, bits, syncs = read_bits(gaps, count, cell)
    if kept < (1.0 - allowed) * spanned:
        return OTHER, spanned, level
    if bits < 2 * _BITS and syncs == 0:
        return UNDECIDED, 0.0, level
    if syncs >= max(1.0, 0.4 * math.floor(bits / _BITS)):
        return TIMECODE, spanned, level
    return OTHER, frames, level
