"""Whether a stretch of audio is digital silence. Imported when a meter is made: numba stays out of start-up.

numpy asks every sample whether any is not zero; this ends soon after the first that is not, so sound costs
nothing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

STRETCH = 256
"""Samples that are asked at once: without branches the loop is compiled to wide registers."""


@njit(cache=True, nogil=True)
def is_silent(wave: Any) -> bool:
    """Whether all of float32 `wave`, one channel, is zero."""
    for begin in range(0, len(wave), STRETCH):
        some = wave[begin : begin + STRETCH]
        sounding = np.int32(0)
        for i in range(len(some)):
            sounding += np.int32(some[i] != np.float32(0.0))
        if sounding > 0:
            return False
    return True
