"""The compiled search for the loudest window. Imported when a meter is made: numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


# Each window is summed afresh: a running sum would carry the rounding of what it has left behind, and the
# block size would show. reassoc: the order inside a sum is the compiler's, but the same for every window.
@njit(cache=True, nogil=True, fastmath={"nnan", "ninf", "nsz", "reassoc"})
def raise_maxima(
    energies: Any, first_end: int, length: int, groups: Any, maxima: Any, ends: Any, offset: int
) -> None:
    """Raise each group's maximum by the windows that end after first_end … the last step.

    energies: float64 (channels, steps). groups: float64 (groups, channels), the weight of each channel.
    maxima, ends (groups): the highest sum of a window and the number of steps before its end, in place;
    offset: the number of steps before energies[:, 0].
    """
    channels = energies.shape[0]
    sums = np.empty(channels)
    for end in range(first_end, energies.shape[1] + 1):
        for c in range(channels):
            window = energies[c, end - length : end]
            total = 0.0
            for k in range(length):
                total += window[k]
            sums[c] = total
        for g in range(groups.shape[0]):
            power = 0.0
            for c in range(channels):
                power += groups[g, c] * sums[c]
            if power > maxima[g]:
                maxima[g] = power
                ends[g] = offset + end
