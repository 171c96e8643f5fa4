"""The compiled half of `side_delay`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

from numba import njit


@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "contract"})
def add_pair(left: Any, right: Any, real: Any, imaginary: Any, energies: Any) -> None:
    """Adds L*·R of every bin to `real` and `imaginary`, |L|² and |R|² to the rows of `energies`.

    left, right: float32 (windows, 2 · bins), real and imaginary parts in turn; window after window, so that
    the sums do not depend on how many come at once.
    """
    for row in range(len(left)):
        one, other = left[row], right[row]
        for k in range(len(real)):
            a, b, c, d = one[2 * k], one[2 * k + 1], other[2 * k], other[2 * k + 1]
            real[k] += a * c + b * d
            imaginary[k] += a * d - b * c
            energies[0, k] += a * a + b * b
            energies[1, k] += c * c + d * d
