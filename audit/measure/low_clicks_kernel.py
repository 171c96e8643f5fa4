"""The compiled half of `low_clicks`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.prediction_kernel import dot, levinson, middle, residual, windowed_model

_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}

SURVEY_ORDER = 16
ORDER = 24
WHOLE_ORDER = 64
NEAR = 4
"""Thinned samples that a click's answer to the low-pass spreads over, to either side."""

AT, BEFORE, AFTER, REST_BEFORE, REST_AFTER, OTHER, SIZE, AGREE, WORSE = range(9)


@njit(cache=True, nogil=True, fastmath=_FAST)
def thinned(wave: Any, taps: Any, factor: int, out: Any) -> None:
    """Low-passed and taken every `factor` samples: out[k] = Σ taps[j] · wave[factor·k + j]. All float32."""
    count = len(taps)
    for k in range(len(out)):
        piece = wave[k * factor : k * factor + count]
        total = np.float32(0.0)
        for j in range(count):
            total += taps[j] * piece[j]
        out[k] = total


@njit(cache=True, nogil=True, fastmath=_FAST)
def _lags(wave: Any, order: int) -> Any:
    """Σ x[n] x[n + k], k = 0 … order, of a few hundred float32."""
    found = np.zeros(order + 1)
    for k in range(order + 1):
        early = wave[: len(wave) - k]
        late = wave[k:]
        total = np.float32(0.0)
        for i in range(len(early)):
            total += early[i] * late[i]
        found[k] = total
    return found


@njit(cache=True, nogil=True, fastmath=_FAST)
def surprises(wave: Any, block: int, window: Any, floor: float, out: Any) -> None:
    """What a model of each block, and half a block on either side, cannot foretell of it; zeros where that
    is all below `floor`.

    wave: float32, half a block longer than out on either side; out: whole blocks. window: two blocks long.
    """
    shaped = np.empty(2 * block, np.float32)
    half = block // 2
    for first in range(0, len(out), block):
        energy = np.float32(0.0)
        for i in range(2 * block):
            shaped[i] = wave[first + i] * window[i]
            energy += shaped[i] * shaped[i]
        mine = out[first : first + block]
        mine[:] = 0.0
        if energy < floor * floor * block:
            continue
        # What float32 leaves of a sum, some 1e-6 of it, must not be taken for a tone.
        a = levinson(_lags(shaped, SURVEY_ORDER), SURVEY_ORDER, 1e-6).astype(np.float32)
        for j in range(SURVEY_ORDER + 1):
            factor = a[j]
            values = wave[first + half - j : first + half - j + block]
            for i in range(block):
                mine[i] += factor * values[i]


@njit(cache=True, nogil=True)
def outstanding(rest: Any, reach: int, limits: Any, out: Any) -> int:
    """Places whose |rest| stands out of everything within `reach` of them, NEAR samples left out.

    limits: factor over the mean on either side, factor over the highest there, least |rest|. The first and
    the last `reach` places are not looked at. Returns how many were written to `out`.
    """
    factor, alone, floor = limits
    count = 0
    sizes = np.abs(rest)
    sums = np.zeros(len(sizes) + 1)
    for i in range(len(sizes)):
        sums[i + 1] = sums[i] + sizes[i]
    width = reach - NEAR
    for i in range(reach, len(sizes) - reach):
        top = sizes[i]
        if top < floor or top < sizes[i - 1] or top <= sizes[i + 1] or count >= len(out):
            continue
        past = sums[i - NEAR] - sums[i - reach]
        future = sums[i + 1 + reach] - sums[i + 1 + NEAR]
        if top * width < factor * past or top * width < factor * future:
            continue
        highest = 0.0
        for j in range(NEAR + 1, reach + 1):
            highest = max(highest, sizes[i - j], sizes[i + j])
        if top >= alone * highest and top >= sizes[i - NEAR : i + NEAR + 1].max():
            out[count] = i
            count += 1
    return count


@njit(cache=True, nogil=True)
def _shape(curve: Any, factor: int, offset: int) -> Any:
    """A click `offset` frames after a thinned sample, as the thinned samples about that one show it.

    curve: a click's answer to the low-pass, frame by frame, its middle in the middle.
    """
    half = len(curve) // 2
    side = half // factor + 1
    shape = np.zeros(2 * side + 1)
    for j in range(2 * side + 1):
        at = half + (j - side) * factor - offset
        if 0 <= at < len(curve):
            shape[j] = curve[at]
    return shape


@njit(cache=True, nogil=True)
def _with_itself(wave: Any, count: int) -> Any:
    """Σ x[n] x[n + k], k = 0 … count − 1; 0 past its length."""
    found = np.zeros(count)
    for k in range(min(count, len(wave))):
        found[k] = dot(wave[: len(wave) - k], wave[k:])
    return found


@njit(cache=True, nogil=True)
def _energy(shape: Any, reflected: Any) -> Any:
    """Energy of a model's answer to a shape. reflected: the model with itself, as `_with_itself`."""
    own = _with_itself(shape, len(shape))
    energy = own[0] * reflected[0]
    for k in range(1, len(own)):
        energy += 2.0 * own[k] * reflected[k]
    return energy


@njit(cache=True, nogil=True)
def examine(wave: Any, at: int, span: int, factor: int, curve: Any, score: float) -> Any:
    """One place. wave: float64, thinned; at: the place in it; curve: as for `_shape`.

    Returns, by the names above: the click's place, in frames after wave[at]'s; how many times a matched
    filter of the click stands over the robust spread of what a model of the sound before leaves, and one of
    the sound after, backward; what is left beside the click, over what that spread makes of such a stretch,
    of both; the highest that the same filters give elsewhere; the size of the wrong sample; the smaller of
    its two sizes over the larger; how much worse the two sides foretell each other than themselves. All zeros
    where the residual is below `score` times its spread on either side.
    """
    out = np.zeros(9)
    side = len(curve) // 2 // factor + 1
    gap = side + 2
    burst = 2 * side + 1 + ORDER
    mirrored = wave[::-1].copy()
    back = len(wave) - 1 - at
    before = wave[at - gap - span : at - gap]
    after = mirrored[back - gap - span : back - gap]
    a = windowed_model(before, ORDER)
    b = windowed_model(after, ORDER)
    own_before = residual(before, a)
    own_after = residual(after, b)
    spread_before = middle(own_before)
    spread_after = middle(own_after)
    ahead = residual(wave[at - side - ORDER : at - side + burst], a)
    behind = residual(mirrored[back - side - ORDER : back - side + burst], b)
    energy_ahead = dot(ahead, ahead)
    energy_behind = dot(behind, behind)
    if (
        min(spread_before, spread_after) <= 0.0
        or energy_ahead < score**2 * spread_before**2
        or energy_behind < score**2 * spread_after**2
    ):
        return out
    best = 0.0
    with_a, with_b = _with_itself(a, 2 * side + 1), _with_itself(b, 2 * side + 1)
    # A shape's product with the residual is the shape's with this.
    seen_ahead, seen_behind = np.empty(2 * side + 1), np.empty(2 * side + 1)
    for m in range(2 * side + 1):
        seen_ahead[m] = dot(ahead[m : m + ORDER + 1], a)
        seen_behind[m] = dot(behind[m : m + ORDER + 1], b)
    for offset in range(-2 * factor, 2 * factor + 1):
        shape = _shape(curve, factor, offset)
        size_one, size_other = _energy(shape, with_a), _energy(shape, with_b)
        met_one, met_other = dot(seen_ahead, shape), dot(seen_behind, shape[::-1])
        if met_one * met_other <= 0.0:
            continue
        told_one = met_one**2 / size_one
        told_other = met_other**2 / size_other
        explained = min(told_one / energy_ahead, told_other / energy_behind)
        if explained > best:
            best = explained
            sizes = (abs(met_one) / size_one, abs(met_other) / size_other)
            out[0] = offset
            out[1] = np.sqrt(told_one) / spread_before
            out[2] = np.sqrt(told_other) / spread_after
            out[3] = (energy_ahead - told_one) / (burst * spread_before**2)
            out[4] = (energy_behind - told_other) / (burst * spread_after**2)
            weights = (out[1] ** 2 / (out[1] ** 2 + out[2] ** 2), out[2] ** 2 / (out[1] ** 2 + out[2] ** 2))
            out[6] = np.sign(met_one) * (weights[0] * sizes[0] + weights[1] * sizes[1])
            out[7] = min(sizes[0], sizes[1]) / max(sizes[0], sizes[1])
    if min(out[1], out[2]) < score:
        return np.zeros(9)
    for own, model, spread in ((own_before, a, spread_before), (own_after, b, spread_after)):
        answer = np.convolve(_shape(curve, factor, 0), model)
        scale = np.sqrt(dot(answer, answer)) * spread
        for i in range(len(own) - len(answer)):
            out[5] = max(out[5], abs(dot(own[i : i + len(answer)], answer)) / scale)
    across = residual(after[::-1].copy(), a)
    backward = residual(before[::-1].copy(), b)
    out[8] = max(middle(across) / spread_after, middle(backward) / spread_before)
    return out


@njit(cache=True, nogil=True)
def in_the_whole(wave: Any, at: int, span: int, reach: int) -> Any:
    """The wrong sample's size as the whole band tells it, and how many times that stands over its error.

    wave: float64, unthinned, `span` and WHOLE_ORDER + 8 samples about `at`, and more. Models of the sound
    before and, backward, after; the place within `reach` of `at` that tells most.
    """
    mirrored = wave[::-1].copy()
    back = len(wave) - 1 - at
    sizes = np.zeros(2 * reach + 1)
    weights = 0.0
    for turn in range(2):
        piece = wave if turn == 0 else mirrored
        here = at if turn == 0 else back
        side = piece[here - reach - 2 - span : here - reach - 2]
        a = windowed_model(side, WHOLE_ORDER)
        power = dot(a, a)
        spread = middle(residual(side, a))
        if spread <= 0.0:
            spread = 1e-12
        weight = power / spread**2
        weights += weight
        for k in range(2 * reach + 1):
            n = here + k - reach
            found = dot(residual(piece[n - WHOLE_ORDER : n + WHOLE_ORDER + 1], a), a) / power
            sizes[k if turn == 0 else 2 * reach - k] += weight * found
    best = 0
    for k in range(len(sizes)):
        if abs(sizes[k]) > abs(sizes[best]):
            best = k
    return sizes[best] / weights, abs(sizes[best]) / np.sqrt(weights)
