"""The compiled half of `steps`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

# A step has a fixed length and a fixed place in the file, so a changed order of its additions is the same
# change for every block size.
_FAST = {"nnan", "ninf", "nsz", "reassoc", "contract"}


@njit(cache=True, nogil=True, fastmath=_FAST)
def sum_channel(wave: Any, step: int, sums: Any, squares: Any, peaks: Any) -> None:
    """Sum, sum of squares and highest |sample| of every step of one channel.

    peaks: int32, the bits of a float32. Floats without their sign are in the order of their bits, and a
    maximum of integers is compiled to wide registers where one of floats is not.
    """
    mask = np.int32(0x7FFFFFFF)
    for k in range(len(sums)):
        # Slices with indices from 0: a start that might be negative keeps the loop out of wide registers.
        values = wave[k * step : (k + 1) * step]
        codes = values.view(np.int32)
        total = 0.0
        square = 0.0
        for i in range(len(values)):
            value = np.float64(values[i])
            total += value
            square += value * value
        sums[k] = total
        squares[k] = square
        peak = np.int32(0)
        for i in range(len(codes)):
            code = np.int32(codes[i] & mask)
            peak = code if code > peak else peak
        peaks[k] = peak


@njit(cache=True, nogil=True, fastmath=_FAST)
def sum_pair(left: Any, right: Any, step: int, products: Any) -> None:
    """Σ l·r, Σ (l−r)² and Σ (l+r)² of every step; products: shape (steps, 3)."""
    for k in range(len(products)):
        lefts = left[k * step : (k + 1) * step]
        rights = right[k * step : (k + 1) * step]
        product = 0.0
        difference = 0.0
        together = 0.0
        for i in range(len(lefts)):
            a = np.float64(lefts[i])
            b = np.float64(rights[i])
            product += a * b
            difference += (a - b) * (a - b)
            together += (a + b) * (a + b)
        products[k, 0] = product
        products[k, 1] = difference
        products[k, 2] = together
