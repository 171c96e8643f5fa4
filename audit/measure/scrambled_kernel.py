"""The compiled half of `scrambled`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit


@njit(cache=True, nogil=True)
def survey(wave: Any) -> Any:
    """Highest |x|, Σ(x − mean)² and Σ(x[n] − x[n−1])² over all channels of float64 (frames, channels).

    Infinity for all three where a sample is not finite.
    """
    frames, channels = wave.shape
    peak = energy = steps = 0.0
    for channel in range(channels):
        total = 0.0
        for n in range(frames):
            value = wave[n, channel]
            if not np.isfinite(value):
                return np.inf, np.inf, np.inf
            total += value
            peak = max(peak, abs(value))
        middle = total / frames
        last = wave[0, channel]
        for n in range(frames):
            value = wave[n, channel]
            energy += (value - middle) * (value - middle)
            steps += (value - last) * (value - last)
            last = value
    return peak, energy, steps


@njit(cache=True, nogil=True)
def sums_of(window: Any, squares: Any, heights: Any, steps: Any, energies: Any) -> float:
    """The highest |x| of all channels; per channel, written: Σx², Σ|x|, Σ(x[n] − x[n−1])², Σ(x − mean)².

    window: float32, shape (frames, channels), at least one frame.
    """
    frames, channels = window.shape
    highest = 0.0
    for channel in range(channels):
        square = height = step = total = energy = 0.0
        before = float(window[0, channel])
        for n in range(frames):
            value = float(window[n, channel])
            square += value * value
            height += abs(value)
            step += (value - before) * (value - before)
            total += value
            highest = max(highest, abs(value))
            before = value
        for n in range(frames):
            energy += (window[n, channel] - total / frames) ** 2
        squares[channel], heights[channel] = square, height
        steps[channel], energies[channel] = step, energy
    return highest
