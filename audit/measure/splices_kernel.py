"""The compiled half of `splices`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.prediction_kernel import dot, highest, middle, residual, windowed_model

_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}

HOP = 64
AROUND = 10
ORDER = 24

AT, PEAK, SPREAD, IMPULSE, IMPULSE_SIZE, STEP, STEP_SIZE, UNLIKE, OTHER, RISE, NEAR_RISE = range(11)


@njit(cache=True, nogil=True, fastmath=_FAST)
def bends(wave: Any, before: Any, earlier: Any, earliest: Any, sums: Any, tops: Any) -> float:
    """Mean and highest |third difference| of every hop. The four waves are one, each a sample earlier.

    Returns the mean of them all.

    tops: int32, the bits of a float32: a maximum of integers is compiled to wide registers, one of floats
    is not.
    """
    three = np.float32(3.0)
    work = np.empty(len(sums) * HOP, dtype=np.float32)
    for i in range(len(work)):
        work[i] = abs(wave[i] - earliest[i] - three * (before[i] - earlier[i]))
    codes = work.view(np.int32)
    whole = 0.0
    for k in range(len(sums)):
        values = work[k * HOP : (k + 1) * HOP]
        total = np.float32(0.0)
        for i in range(len(values)):
            total += values[i]
        bits = codes[k * HOP : (k + 1) * HOP]
        top = np.int32(0)
        for i in range(len(bits)):
            code = bits[i]
            top = code if code > top else top
        sums[k] = total / np.float32(HOP)
        tops[k] = top
        whole += sums[k]
    return whole / len(sums)


@njit(cache=True, nogil=True, fastmath=_FAST)
def energy(wave: Any) -> float:
    """Σ x² of float32, added up in float64."""
    total = 0.0
    for i in range(len(wave)):
        value = float(wave[i])
        total += value * value
    return total


@njit(cache=True, nogil=True)
def suspects(sums: Any, tops: Any, first: int, last: int, limits: Any, out: Any) -> int:
    """Hops whose highest bend stands out of everything around them, with the sound alike on both sides.

    limits: factor over the mean of the hops 2 … 7 on either side; floor; factor over the highest bend of the
    hops 2 … AROUND on either side; largest ratio of the two means; factor from which it may be larger.
    Returns how many were written to `out`.
    """
    factor, floor, alone, apart, far = limits
    count = 0
    for k in range(first, last):
        top = tops[k]
        if top < floor or top < tops[k - 1] or top <= tops[k + 1] or count >= len(out):
            continue
        past = 0.0
        future = 0.0
        for j in range(2, 8):
            past += sums[k - j]
            future += sums[k + j]
        past /= 6.0
        future /= 6.0
        if top < factor * past or top < factor * future:
            continue
        if max(past, future) > apart * min(past, future) and top < far * max(past, future):
            continue
        other = 0.0
        for j in range(2, AROUND + 1):
            other = max(other, tops[k - j], tops[k + j])
        if top >= alone * other:
            out[count] = k
            count += 1
    return count


@njit(cache=True, nogil=True)
def examine(wave: Any, at: int, span: int, score: float, other_most: float) -> Any:
    """One suspect. wave: float64; at: a place in it within HOP of the click.

    Returns, by the names above: its place; the highest residual there; the residual's robust spread on the
    louder side; the part of the burst, 0 … 1, that one to three wrong samples explain, and their size; the
    same for a jump; how much worse the two sides foretell each other than themselves; the highest residual
    elsewhere within the span; the spread after over the spread before; the same of the quarters of the span
    next to the click. All zeros where it is plainly none:
    less than `score` times the spread, or with a residual past `other_most` of it before.
    """
    out = np.zeros(11)
    # A first model, of everything before: good enough to find the place.
    left = wave[at - HOP - span : at - HOP]
    a = windowed_model(left, ORDER)
    begin = at - HOP - ORDER
    e = residual(wave[begin : at + 2 * HOP], a)
    place = 0
    for i in range(len(e) - ORDER - 1):
        if abs(e[i]) > abs(e[place]):
            place = i
    own = residual(left, a)
    # Most suspects fail the first of these, which costs a tenth of the second.
    if highest(own) > other_most * abs(e[place]) or abs(e[place]) < score * middle(own):
        return out
    # A model of dark sound answers a wrong sample with a burst that grows: the click is where the answer
    # fits.
    step = np.cumsum(a)
    best = 0.0
    latest = place
    for i in range(max(0, latest - ORDER - 2), latest + 1):
        fit = dot(e[i : i + ORDER + 1], a) ** 2 / dot(a, a)
        jump = dot(e[i : i + ORDER + 1], step) ** 2 / dot(step, step)
        if max(fit, jump) > best:
            best = max(fit, jump)
            place = i
    n = begin + ORDER + place
    out[0] = n
    before = wave[n - 2 - span : n - 2]
    after = wave[n + 4 : n + 4 + span]
    a = windowed_model(before, ORDER)
    b = windowed_model(after, ORDER)
    own_before = residual(before, a)
    own_after = residual(after, b)
    spread_before = middle(own_before)
    spread_after = middle(own_after)
    burst = residual(wave[n - ORDER : n + ORDER + 4], a)
    peak = 0.0
    for i in range(ORDER):
        peak = max(peak, abs(burst[i]))
    spread = max(spread_before, spread_after)
    out[1] = peak
    out[2] = spread
    # What a wrong sample, and a jump, leave of themselves: the model's own answer to them.
    count = len(burst)
    energy = dot(burst, burst)
    rest = burst.copy()
    size = 0.0
    left_over = energy
    shapes = np.zeros((3, count))
    for j in range(3):
        shape = shapes[j]
        shape[j : min(count, j + ORDER + 1)] = a[: min(count, j + ORDER + 1) - j]
        for i in range(j):  # Gram and Schmidt: only what the samples before it do not explain
            shape -= dot(shape, shapes[i]) / max(dot(shapes[i], shapes[i]), 1e-30) * shapes[i]
        weight = dot(shape, rest) / max(dot(shape, shape), 1e-30)
        tried = rest - weight * shape
        now = dot(tried, tried)
        # One wrong sample is the rule; another one has to explain most of what is left.
        if j == 0 or now < 0.25 * left_over:
            rest = tried
            left_over = now
            size = max(size, abs(weight))
    out[3] = 1.0 - left_over / energy if energy > 0.0 else 0.0
    out[4] = size
    step = np.cumsum(a)
    answer = np.full(count, step[ORDER])
    answer[: min(count, ORDER + 1)] = step[: min(count, ORDER + 1)]
    weight = dot(answer, burst) / max(dot(answer, answer), 1e-30)
    tried = burst - weight * answer
    out[5] = 1.0 - dot(tried, tried) / energy if energy > 0.0 else 0.0
    out[6] = abs(weight)
    across = residual(wave[n + 4 : n + 4 + span], a)
    back = residual(before, b)
    worse_after = middle(across) / spread_after if spread_after > 0.0 else np.inf
    worse_before = middle(back) / spread_before if spread_before > 0.0 else np.inf
    out[7] = max(worse_after, worse_before)
    other = 0.0
    for i in range(len(own_before)):
        other = max(other, abs(own_before[i]))
    for i in range(ORDER, len(own_after)):
        other = max(other, abs(own_after[i]))
    out[8] = other
    out[9] = spread_after / spread_before if spread_before > 0.0 else np.inf
    near = span // 4
    near_before = middle(own_before[len(own_before) - near :])
    out[10] = middle(own_after[ORDER : ORDER + near]) / near_before if near_before > 0.0 else np.inf
    return out
