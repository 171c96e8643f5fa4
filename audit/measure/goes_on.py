"""Whether a sound goes on behind a hole, or is struck again: for holes just behind a stroke.

goes_on(before, after, rate_hz) -> bool

A stroke rises from nothing, so its level says little of what a hole of some milliseconds interrupts. A
sampler that lets go of a stroke before the next one leaves such a hole as well. What comes after it then
begins: softly, if only for some samples, or as the stroke before it began. What a hole interrupts is in full
swing.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.float64]

AT_ONCE_S, SOON_S, AT_ONCE = 0.0002, 0.002, 0.5
"""RMS of the first moment over that of ten times as much. Own measurement: of 89 holes just behind strokes
nine in ten have more than 0.4, of 245 strokes after one that was let go half have less than 0.3."""

STROKE_S = 0.015
"""So long a stroke has to have sounded: bursts of a clap and ticks end sooner."""

ALIKE_S, ONSET, NEARLY_S, ALIKE = 0.004, 0.05, 0.001, 0.85
"""Correlation with the stroke's own beginning, which is its first sample above a twentieth of its peak, or up
to 1 ms beside it. The same sample struck again: 1.0; half of the holes: less than 0.65."""


def goes_on(before: Wave, after: Wave, rate_hz: int) -> bool:
    """before, after: the sound on both sides of the hole, in their order, shape (n,), some 40 ms."""
    if len(before) - _onset(before) < round(STROKE_S * rate_hz):
        return False
    soon, at_once = (after[: max(2, round(time_s * rate_hz))] for time_s in (SOON_S, AT_ONCE_S))
    if _rms(at_once) < AT_ONCE * _rms(soon):
        return False
    return begins_alike(before, after, rate_hz) < ALIKE


def begins_alike(before: Wave, after: Wave, rate_hz: int) -> float:
    """0 … 1: how much what comes after the hole is like the beginning of what came before it. 1 where either
    is too short to tell."""
    length, beside = round(ALIKE_S * rate_hz), round(NEARLY_S * rate_hz)
    onset = _onset(before)
    first, last = max(0, onset - beside), min(onset + beside, len(before) - length)
    start = after[:length]
    if last < onset or len(start) < length:
        return 1.0
    pieces = np.lib.stride_tricks.sliding_window_view(before[first : last + length], length)
    sizes = np.linalg.norm(pieces, axis=1) * np.linalg.norm(start)
    return float(np.max(np.abs(pieces @ start) / np.maximum(sizes, 1e-12)))


def _onset(wave: Wave) -> int:
    size = np.abs(wave)
    return int(np.argmax(size > ONSET * size.max()))


def _rms(wave: Wave) -> float:
    return float(np.sqrt(np.mean(wave**2)))
