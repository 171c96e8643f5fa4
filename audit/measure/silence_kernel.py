"""Whether a stretch of audio is digital silence. Imported when a meter is made: numba stays out of start-up.

numpy asks every sample whether any is not zero; this ends at the first that is not, so sound costs nothing.
"""

from __future__ import annotations

from typing import Any

from numba import njit


@njit(cache=True, nogil=True)
def is_silent(wave: Any) -> bool:
    """Whether all of float32 `wave`, one channel, is zero."""
    for i in range(len(wave)):  # noqa: SIM110 (numba compiles no generator)
        if wave[i] != 0.0:
            return False
    return True
