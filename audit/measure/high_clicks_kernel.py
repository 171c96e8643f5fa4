"""The compiled half of `high_clicks`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.prediction_kernel import dot, middle, residual, windowed_model

ORDER = 64
BELOW_ORDER = 24

_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}


@njit(cache=True, nogil=True, fastmath=_FAST)
def _level_of(wave: Any, codes: Any) -> Any:
    """Mean and highest |x| of float32 samples. codes: their bits, int32 (see `flat_tops_kernel.survey`)."""
    mask = np.int32(0x7FFFFFFF)
    total = np.float32(0.0)
    peak = np.int32(0)
    for i in range(len(wave)):
        total += abs(wave[i])
        code = np.int32(codes[i] & mask)
        peak = code if code > peak else peak
    return total / np.float32(len(wave)), peak


@njit(cache=True, nogil=True)
def stands_out(thin: Any, block: int, times: float) -> bool:
    """Whether the highest |x| of any block is `times` the mean of both blocks beside it. thin: float32, whole
    blocks; silence lies before and after it."""
    blocks = len(thin) // block
    codes = thin.view(np.int32)
    means = np.zeros(blocks + 2, np.float32)
    tops = np.zeros(blocks, np.int32)
    for k in range(blocks):
        piece = slice(k * block, (k + 1) * block)
        means[k + 1], tops[k] = _level_of(thin[piece], codes[piece])
    peaks = tops.view(np.float32)
    for k in range(blocks):  # noqa: SIM110 (numba compiles no generator)
        if peaks[k] > times * max(means[k], means[k + 2]):
            return True
    return False


@njit(cache=True, nogil=True)
def _left(e: Any, shape: Any) -> Any:
    """The least energy that is left of `e` without its best of a shape that begins at one of its first three
    samples. shape: as long as e."""
    least = np.inf
    for k in range(3):
        own = shape[: len(e) - k]
        met = dot(e[k:], own)
        least = min(least, dot(e, e) - met * met / dot(own, own))
    return least


@njit(cache=True, nogil=True)
def sample_or_step(wave: Any, at: int, span: int, least: float) -> Any:
    """How much worse a step explains a place than one wrong sample: the energy of the residual that is left
    without either, as a ratio. `least`: what is left counts as so many times the residual's own at least. The
    smaller of two: by a model of the `span` samples before, and, backward, by one of those after.

    wave: float64; it holds span + 3 samples and more to either side of `at`.
    """
    found = np.inf
    for turn in range(2):
        piece = wave if turn == 0 else wave[::-1].copy()
        here = at if turn == 0 else len(wave) - 1 - at
        side = piece[here - 3 - span : here - 3]
        a = windowed_model(side, ORDER)
        spread = middle(residual(side, a))
        e = residual(piece[here - 1 - ORDER : here + 2 + ORDER], a)
        sample = np.zeros(len(e))
        sample[: len(a)] = a
        step = np.cumsum(sample)
        floor = least * len(e) * spread**2
        found = min(found, _left(e, step) / max(_left(e, sample), floor, 1e-30))
    return found


@njit(cache=True, nogil=True)
def size_below(thin: Any, at: int, span: int, shape: Any, size: float) -> Any:
    """What the low band says of a wrong sample: its size there over `size`, and how many times such a sample
    stands out of that band.

    thin: float64, low-passed and thinned, a sample at the place; shape: what a click of 1 makes of it, its
    middle in the middle. By models of the `span` samples before, and, backward, of those after.
    """
    side = len(shape) // 2
    gap = side + 2
    total = 0.0
    weights = 0.0
    for turn in range(2):
        piece = thin if turn == 0 else thin[::-1].copy()
        here = at if turn == 0 else len(thin) - 1 - at
        before = piece[here - gap - span : here - gap]
        a = windowed_model(before, BELOW_ORDER)
        spread = max(middle(residual(before, a)), 1e-9)
        e = residual(piece[here - side - BELOW_ORDER : here + side + 1 + BELOW_ORDER], a)
        answer = np.convolve(shape, a)[: len(e)]
        energy = dot(answer, answer)
        weight = energy * (size / spread) ** 2
        total += weight * dot(e, answer) / energy / size
        weights += weight
    return total / weights, np.sqrt(weights)
