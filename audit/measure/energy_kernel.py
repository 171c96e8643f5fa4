"""The compiled half of weighted_energy.py. It is imported when a meter is made: numba stays out of start-up.

K-weighting as one chain: second difference (the high-pass's numerator, exact on float32 input, so DC leaves
nothing behind), the shelf's numerator, then both recursions. The first two have no feedback and run over the
interleaved samples many at a time; the recursions run two channels at a time.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.silence_kernel import is_silent

CHUNK_VALUES = 8192
"""Interleaved values per turn: a double-precision buffer of 64 kB stays in the processor's nearest cache."""

STATES = 5
"""Of a channel: the last two outputs of the shelf's and of the high-pass's recursion; the sum so far."""

_REST = 1e-30
"""A state below this (−600 dB) is set to zero at the end of a step: denormal numbers cost 100 times more."""

_FAST = {"nnan", "ninf", "nsz", "contract"}


# No fused operations here: a block's beginning and body would round differently, and its size would show.
@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz"})
def _feed_forward(
    flat: Any, begin: int, count: int, channels: int, shelf: Any, history: Any, out: Any
) -> None:
    """Both numerators. history: the last 4 · channels values before flat[begin]; it is brought up to date."""
    b0, b1, b2 = shelf[0], shelf[1], shelf[2]
    c = channels
    head = min(count, 4 * c)
    work = np.empty(8 * c)
    for j in range(4 * c):
        work[j] = history[j]
    for j in range(head):
        work[4 * c + j] = flat[begin + j]
    for j in range(head):
        i = 4 * c + j
        d0 = work[i] + work[i - 2 * c] - 2.0 * work[i - c]
        d1 = work[i - c] + work[i - 3 * c] - 2.0 * work[i - 2 * c]
        d2 = work[i - 2 * c] + work[i - 4 * c] - 2.0 * work[i - 3 * c]
        out[j] = b0 * d0 + b1 * d1 + b2 * d2
    # Slices instead of indices like i − c: an index that might be negative keeps the compiler from vectors.
    later = count - head
    now = flat[begin + 4 * c : begin + count] if later > 0 else flat[:0]
    x1s = flat[begin + 3 * c : begin + count]
    x2s = flat[begin + 2 * c : begin + count]
    x3s = flat[begin + c : begin + count]
    x4s = flat[begin : begin + count]
    target = out[head:]
    for j in range(later):
        x1 = np.float64(x1s[j])
        x2 = np.float64(x2s[j])
        x3 = np.float64(x3s[j])
        d0 = np.float64(now[j]) + x2 - 2.0 * x1
        d1 = x1 + x3 - 2.0 * x2
        d2 = x2 + np.float64(x4s[j]) - 2.0 * x3
        target[j] = b0 * d0 + b1 * d1 + b2 * d2
    if count >= 4 * c:
        for j in range(4 * c):
            history[j] = flat[begin + count - 4 * c + j]
    else:
        for j in range(4 * c):
            history[j] = work[count + j]


@njit(cache=True, nogil=True, fastmath=_FAST)
def _recurse_pair(
    values: Any, begin: int, frames: int, stride: int, poles: Any, left: Any, right: Any
) -> None:
    """Both recursions over two neighbouring channels, and their sums of squares. States are in place."""
    a1, a2, c1, c2 = poles[0], poles[1], poles[2], poles[3]
    lw1, lw2, ly1, ly2 = left[0], left[1], left[2], left[3]
    rw1, rw2, ry1, ry2 = right[0], right[1], right[2], right[3]
    left_sum, right_sum = left[4], right[4]
    lefts = values[begin:]
    rights = values[begin + 1 :]
    for i in range(0, frames * stride, stride):
        lw = (lefts[i] - a2 * lw2) - a1 * lw1
        rw = (rights[i] - a2 * rw2) - a1 * rw1
        ly = (lw - c2 * ly2) - c1 * ly1
        ry = (rw - c2 * ry2) - c1 * ry1
        left_sum += ly * ly
        right_sum += ry * ry
        lw2, lw1, ly2, ly1 = lw1, lw, ly1, ly
        rw2, rw1, ry2, ry1 = rw1, rw, ry1, ry
    left[0], left[1], left[2], left[3], left[4] = lw1, lw2, ly1, ly2, left_sum
    right[0], right[1], right[2], right[3], right[4] = rw1, rw2, ry1, ry2, right_sum


@njit(cache=True, nogil=True, fastmath=_FAST)
def _recurse_one(values: Any, begin: int, frames: int, stride: int, poles: Any, state: Any) -> None:
    a1, a2, c1, c2 = poles[0], poles[1], poles[2], poles[3]
    w1, w2, y1, y2 = state[0], state[1], state[2], state[3]
    total = state[4]
    inputs = values[begin:]
    for i in range(0, frames * stride, stride):
        w = (inputs[i] - a2 * w2) - a1 * w1
        y = (w - c2 * y2) - c1 * y1
        total += y * y
        w2, w1, y2, y1 = w1, w, y1, y
    state[0], state[1], state[2], state[3], state[4] = w1, w2, y1, y2, total


@njit(cache=True, nogil=True)
def _is_at_rest(values: Any, history: Any, states: Any) -> bool:
    """Whether silence comes in and the filters have come to rest, so that only silence comes out."""
    return is_silent(history) and not states[:, :4].any() and is_silent(values)


@njit(cache=True, nogil=True)
def gather_energy(
    flat: Any, channels: int, rate_hz: int, first_frame: int, step: int, shelf: Any, poles: Any, history: Any,
    states: Any, finished: Any,
) -> int:  # fmt: skip
    """Add interleaved samples to the running 10 ms step; returns the steps finished, written to `finished`.

    flat: float32, frames · channels values, the first of them frame `first_frame` of the file, inside step
    number `step` (step k ends before frame (k + 1) · rate / 100, rounded). shelf, poles: coefficients.
    history (4 · channels), states (channels, STATES): carried from call to call.
    finished: float64 (steps, channels), sums of squares.
    """
    frames = flat.size // channels
    chunk = max(1, CHUNK_VALUES // channels)
    values = np.empty(chunk * channels)
    done = 0
    taken = 0
    step_end = ((step + 1) * rate_hz + 50) // 100
    while taken < frames:
        count = min(chunk, frames - taken)
        rests = _is_at_rest(flat[taken * channels : (taken + count) * channels], history, states)
        if not rests:
            _feed_forward(flat, taken * channels, count * channels, channels, shelf, history, values)
        at = 0
        while at < count:
            now = min(count - at, step_end - (first_frame + taken + at))
            for c in range(0, 0 if rests else channels - 1, 2):
                _recurse_pair(values, at * channels + c, now, channels, poles, states[c], states[c + 1])
            if channels % 2 == 1 and not rests:
                c = channels - 1
                _recurse_one(values, at * channels + c, now, channels, poles, states[c])
            at += now
            if first_frame + taken + at == step_end:
                for c in range(channels):
                    finished[done, c] = states[c, 4]
                    states[c, 4] = 0.0
                    for k in range(4):
                        if abs(states[c, k]) < _REST:
                            states[c, k] = 0.0
                done += 1
                step += 1
                step_end = ((step + 1) * rate_hz + 50) // 100
        taken += count
    return done
