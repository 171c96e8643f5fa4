"""Whether two stems are one recording: excerpts of both, laid over each other to the sample.

    compare(excerpts, reach, alike=…) -> Overlay | None

Each excerpt of the first stem is searched for in a longer one of the second. One recording, copied, turned up
or down, moved or stored in another format, keeps one lag in all excerpts and a correlation near 1 there. Two
takes, or two instruments on the same notes, have no common lag to the sample.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
import numpy.typing as npt

Wave = npt.NDArray[np.float64]

ALIKE = 0.97
"""Correlation from which on an excerpt counts as the same (own measurement: copies at 16 bit or by MP3 at
128 kbit/s stay above 0.98, second takes below 0.8: tests/lab)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """How two stems lie over each other."""

    lag_frames: int  # of the second's excerpts against where they were expected
    likeness: float  # 0 … 1: median of the excerpts' correlations at that lag, whatever their polarity
    share: float  # 0 … 1: part of the excerpts that are the same
    level_db: float  # of the second over the first
    opposed: bool  # upside down


def compare(excerpts: Sequence[tuple[Wave, Wave]], reach: int, *, alike: float = ALIKE) -> Overlay | None:
    """excerpts: pairs of waves, the second `2 · reach` frames longer than the first and beginning `reach`
    frames earlier. alike: correlation from which on an excerpt is the same. None where no excerpt has sound
    in both."""
    curves: list[Wave] = []
    gains: list[Wave] = []
    for one, other in excerpts:
        energy = float(one @ one)
        moving = np.concatenate([[0.0], np.cumsum(other**2)])
        under = moving[len(one) :] - moving[: len(moving) - len(one)]
        if energy <= 0.0 or under.max() <= 0.0:
            continue
        # What a transform of the second's length folds over lies past the lags that are asked.
        size = _fast_length(len(other))
        product = np.conj(np.fft.rfft(one, size)) * np.fft.rfft(other, size)
        common = np.fft.irfft(product, size)[: 2 * reach + 1]
        # A window of next to nothing beside loud ones is no place where anything could be the same.
        floor = 1e-9 * under.max()
        curves.append(common / np.sqrt(energy * np.maximum(under, floor)))
        gains.append(common / energy)
    if not curves:
        return None
    best = int(np.argmax(np.abs(np.sum(curves, axis=0))))
    sign = 1.0 if sum(float(curve[best]) for curve in curves) >= 0.0 else -1.0
    likeness = [max(0.0, sign * float(curve[best])) for curve in curves]
    gain = median(abs(float(curve[best])) for curve in gains)
    return Overlay(
        lag_frames=best - reach,
        likeness=min(1.0, median(likeness)),
        share=sum(value >= alike for value in likeness) / len(likeness),
        level_db=20.0 * math.log10(max(gain, 1e-12)),
        opposed=sign < 0.0,
    )


def _fast_length(frames: int) -> int:
    """The shortest transform of so many frames and more that factors well."""
    return min(part << max(0, (-(-frames // part) - 1).bit_length()) for part in (1, 3, 5, 9, 15, 45))
