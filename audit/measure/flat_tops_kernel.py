"""The compiled half of `flat_tops`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

CHUNK = 512
APART = 24
"""Samples: what touches the top again sooner is the same peak, or its ripple."""

NEAR_ZERO = 0.01
"""Plateaus more than 40 dB below the peak so far are rests, not a stepped sound."""

# Places in the state of a channel (float64): see FlatTopMeter.
PEAK, RUN_LENGTH, RUN_START, RUN_LOW, RUN_HIGH, RUN_ENTRY, SOUNDING, BELOW, BELOW_FRAMES = range(9)
TOUCH_LEVEL, TOUCHES, TOUCHED_AT = 9, 10, 11
PAIRS, PAIR_AT, PAIR_SIDES = 12, 13, 14
KNOWN_PAIRS = 16
STATE_SIZE = PAIR_SIDES + 2 * KNOWN_PAIRS

# Columns of the table of the highest plateaus (float64), one row a level.
LEVEL, COUNT, FRAMES, LONGEST, FIRST = range(5)
ROWS, COLUMNS = 12, 5


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def survey(wave: Any, codes: Any, before: Any, earlier: Any, tolerance: Any, floor: Any, sound: Any) -> Any:
    """Highest |x| (as the integer of the same bits), how many samples sound, and how many may be the third of
    a plateau. codes: the samples' bits, int32; before, earlier: the samples one and two frames before.

    A loop of 32-bit integer and float operations without branches is compiled to the widest registers; a
    maximum of floats is not. Floats without their sign are in the order of their bits.
    """
    mask = np.int32(0x7FFFFFFF)
    peak = np.int32(0)
    sounding = np.int32(0)
    candidates = np.int32(0)
    for i in range(len(wave)):
        code = np.int32(codes[i] & mask)
        peak = code if code > peak else peak
        level = abs(wave[i])
        sounding += np.int32(level >= sound)
        candidates += (
            np.int32(abs(wave[i] - before[i]) <= tolerance)
            & np.int32(abs(wave[i] - earlier[i]) <= tolerance)
            & np.int32(level >= floor)
        )
    return peak, sounding, candidates


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def highest(codes: Any) -> Any:
    """Highest |x| of float32 samples, given by their bits: see `survey`."""
    mask = np.int32(0x7FFFFFFF)
    peak = np.zeros(1, np.int32)
    most = np.int32(0)
    for i in range(len(codes)):
        code = np.int32(codes[i] & mask)
        most = code if code > most else most
    peak[0] = most
    return peak.view(np.float32)[0]


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def may_have_a_corner(
    wave: Any, start: int, stop: int, tolerance: Any, floor: Any, quantum: Any, steep: Any, span: int
) -> Any:
    """Whether a plateau that begins in [start, stop) can have been entered at a corner.

    Looked at from its third sample, for every sample `span` and fewer before it: a plateau's middle is off
    that sample by half the plateau's spread at most, and its spread is no less than that of its first three.
    What this cannot tell apart is left to `judge`. Tops of waves are seen off here.
    """
    now, before, earlier = wave[start:stop], wave[start - 1 : stop - 1], wave[start - 2 : stop - 2]
    for back in range(3, 3 + span):
        entry = wave[start - back : stop - back]
        found = np.int32(0)
        for i in range(len(now)):
            value = now[i]
            spread = max(value, max(before[i], earlier[i])) - min(value, min(before[i], earlier[i]))
            corner = np.float32(9.4) * spread + np.float32(9.9) * quantum
            fall = np.float32(0.99) * steep * abs(value) - tolerance
            off = abs(value - entry[i])
            found += (
                np.int32(spread <= tolerance)
                & np.int32(abs(value) >= floor)
                & np.int32(off >= corner)
                & np.int32(off >= fall)
            )
        if found > 0:
            return True
    return False


@njit(cache=True, nogil=True)
def open_from(wave: Any, start: int, stop: int, tolerance: Any) -> Any:
    """Where the last plateau that may still be open at `stop` can have begun; `stop` where none can be.

    A sample that lies apart from one of the two before it is in no plateau's third place or later.
    """
    at = stop
    while at > start:
        last, before, earlier = wave[at - 1], wave[at - 2], wave[at - 3]
        if max(last, max(before, earlier)) - min(last, min(before, earlier)) > tolerance:
            break
        at -= 1
    return at


@njit(cache=True, nogil=True)
def innermost(wave: Any, start: int, stop: int, level: float) -> Any:
    """The sample nearest to zero, or farthest past it, as seen from a plateau at `level`."""
    best = wave[start]
    for i in range(start + 1, stop):
        best = min(best, wave[i]) if level > 0.0 else max(best, wave[i])
    return best


@njit(cache=True, nogil=True)
def note(table: Any, state: Any, level: float, length: float, start: float, band: float) -> None:
    """Enter a plateau into the table; rows that the peak has left behind are counted as lower plateaus."""
    row = -1
    free = -1
    for k in range(len(table)):
        if table[k, COUNT] > 0.0 and table[k, LEVEL] < state[PEAK] * band:
            state[BELOW] += table[k, COUNT]
            state[BELOW_FRAMES] += table[k, FRAMES]
            table[k, COUNT] = 0.0
        if table[k, COUNT] == 0.0:
            free = k
        elif abs(table[k, LEVEL] - level) <= level * 0.0007:
            row = k
    if row < 0:
        if free < 0:
            state[BELOW] += 1.0
            state[BELOW_FRAMES] += length
            return
        row = free
        table[row, LEVEL] = level
        table[row, FRAMES] = 0.0
        table[row, LONGEST] = 0.0
        table[row, FIRST] = start
    table[row, COUNT] += 1.0
    table[row, FRAMES] += length
    table[row, LONGEST] = max(table[row, LONGEST], length)


@njit(cache=True, nogil=True)
def judge(
    leave: float, state: Any, table: Any, quantum: float, slack: float, steep: float, band: float
) -> None:
    """One finished run: a plateau with corners on both sides? At the top, or below it?

    leave: the innermost of the `span` samples after the run, as RUN_ENTRY is of those before it.
    """
    low = state[RUN_LOW]
    high = state[RUN_HIGH]
    level = (low + high) / 2.0
    height = abs(level)
    limit = max(steep * height, 10.0 * (high - low + quantum))
    entered = level - state[RUN_ENTRY]
    left = level - leave
    if abs(entered) < limit or abs(left) < limit:
        return
    if level < 0.0:
        entered = -entered
        left = -left
    if entered > 0.0 and left > 0.0 and height >= state[PEAK] * band - slack:
        note(table, state, height, state[RUN_LENGTH], state[RUN_START], band)
    else:
        state[BELOW] += 1.0
        state[BELOW_FRAMES] += state[RUN_LENGTH]


@njit(cache=True, nogil=True)
def extend(wave: Any, start: int, stop: int, state: Any, tolerance: Any) -> Any:
    """Follow the open run from `start` on; the first frame that no longer belongs to it, or `stop`."""
    low = np.float32(state[RUN_LOW])
    high = np.float32(state[RUN_HIGH])
    at = start
    while at < stop:
        lower = min(low, wave[at])
        higher = max(high, wave[at])
        if higher - lower > tolerance:
            break
        low = lower
        high = higher
        at += 1
    state[RUN_LOW] = low
    state[RUN_HIGH] = high
    state[RUN_LENGTH] += at - start
    state[PEAK] = max(state[PEAK], high, -low)
    return at


@njit(cache=True, nogil=True)
def look_closely(
    wave: Any, start: int, stop: int, frame: float, state: Any, table: Any, span: int, limits: Any
) -> None:
    """Every sample of a stretch that may hold a plateau; arguments as in `scan`.

    Sample by sample, so that the peak so far never depends on where a block began.
    """
    tolerance, sound, quantum, steep, band = limits[:5]
    peak = state[PEAK]
    i = start
    while i < stop:
        if state[RUN_LENGTH] > 0.0:
            i = extend(wave, i, stop, state, tolerance)
            if i == stop:
                return
            peak = max(state[PEAK], abs(wave[i]))
            state[PEAK] = peak
            leave = innermost(wave, i, i + span, state[RUN_LOW])
            judge(leave, state, table, quantum, tolerance, steep, band)
            state[RUN_LENGTH] = 0.0
        value = wave[i]
        peak = max(peak, abs(value))
        i += 1
        if abs(value - wave[i - 3]) > tolerance or abs(value) < max(sound, np.float32(peak * NEAR_ZERO)):
            continue
        low = min(value, wave[i - 2], wave[i - 3])
        high = max(value, wave[i - 2], wave[i - 3])
        if high - low <= tolerance:
            state[PEAK] = peak
            state[RUN_LENGTH] = 3.0
            state[RUN_START] = frame + i - 3
            state[RUN_LOW] = low
            state[RUN_HIGH] = high
            state[RUN_ENTRY] = innermost(wave, i - 3 - span, i - 3, value)
    state[PEAK] = peak


@njit(cache=True, nogil=True)
def is_pair(wave: Any, i: int, level: float, slack: float, fall: float) -> bool:
    """Whether wave[i - 1] and wave[i] stand at `level`, and both their neighbours `fall` and more below it.

    Not where those two are one of two equal samples each: that is a wave that holds every value twice.
    """
    sign = 1.0 if wave[i] > 0.0 else -1.0
    held = abs(wave[i - 2] - wave[i - 3]) <= slack and abs(wave[i + 1] - wave[i + 2]) <= slack
    return (
        sign * wave[i - 1] >= level - slack
        and sign * wave[i - 2] <= level - fall
        and sign * wave[i + 1] <= level - fall
        and not held
    )


@njit(cache=True, nogil=True)
def note_pair(before: float, after: float, at: float, state: Any, apart: float) -> None:
    """Count a pair by its neighbours' values, unless one like it has been: the same sound again."""
    known = min(int(state[PAIRS]), KNOWN_PAIRS)
    if known < KNOWN_PAIRS:
        for k in range(known):
            place = PAIR_SIDES + 2 * k
            if abs(state[place] - before) <= apart and abs(state[place + 1] - after) <= apart:
                return
        state[PAIR_SIDES + 2 * known] = before
        state[PAIR_SIDES + 2 * known + 1] = after
    if state[PAIRS] == 0.0:
        state[PAIR_AT] = at
    state[PAIRS] += 1.0


@njit(cache=True, nogil=True)
def count_touches(
    wave: Any, start: int, stop: int, frame: float, state: Any, slack: float, fall: float
) -> None:
    """How often the wave comes to within `slack` of its highest level so far, APART samples between them, and
    how often two samples in a row do, `fall` above their neighbours.

    What is more than `slack` higher begins the counts anew.
    """
    for i in range(start, stop):
        level = abs(wave[i])
        if level < state[TOUCH_LEVEL] - slack:
            continue
        if level > state[TOUCH_LEVEL] + slack:
            state[TOUCHES] = 0.0
            state[PAIRS] = 0.0
            state[TOUCHED_AT] = -1e18
        if frame + i - state[TOUCHED_AT] > APART:
            state[TOUCHES] += 1.0
        state[TOUCHED_AT] = frame + i
        state[TOUCH_LEVEL] = max(state[TOUCH_LEVEL], level)
        if is_pair(wave, i, state[TOUCH_LEVEL], slack, fall):
            apart = 10.0 * slack + 0.001 * level
            note_pair(wave[i - 2], wave[i + 1], frame + i - 1, state, apart)


@njit(cache=True, nogil=True)
def scan(
    wave: Any, start: int, stop: int, frame: float, state: Any, table: Any, span: int, limits: Any
) -> None:
    """Look for plateaus in [start, stop) of one channel.

    wave: float32, with span + 2 samples before `start` and span from `stop` on. frame: place of wave[0] in
    the file. limits: tolerance and sounding level (float32), quantum, steepness and band (see FlatTopMeter),
    and how far the neighbours of two equal samples lie below them.
    """
    tolerance, sound, quantum, steep = limits[0], limits[1], limits[2], limits[3]
    codes = wave.view(np.int32)
    peak_code = np.zeros(1, np.int32)
    at = start
    while at < stop:
        end = min(at + CHUNK, stop)
        floor = max(sound, np.float32(state[PEAK] * NEAR_ZERO))
        peak, sounding, candidates = survey(
            wave[at:end],
            codes[at:end],
            wave[at - 1 : end - 1],
            wave[at - 2 : end - 2],
            tolerance,
            floor,
            sound,
        )
        state[SOUNDING] += sounding
        peak_code[0] = peak
        height = peak_code.view(np.float32)[0]
        if height >= state[TOUCH_LEVEL] - tolerance and height >= sound:
            count_touches(wave, at, end, frame, state, tolerance, limits[5])
        first = at
        if state[RUN_LENGTH] == 0.0 and (
            candidates == 0
            or not may_have_a_corner(
                wave, at, end, tolerance, floor, np.float32(quantum), np.float32(steep), span
            )
        ):
            first = open_from(wave, at, end, tolerance) if candidates > 0 else end
            state[PEAK] = max(state[PEAK], height if first == end else highest(codes[at:first]))
        look_closely(wave, first, end, frame, state, table, span, limits)
        at = end
