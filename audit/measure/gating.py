"""From block energies to loudness figures: gates, averages, percentiles. Plain arithmetic on arrays.

    to_lufs(power)               the loudness equation, BS.1770-5 Eq. 4
    integrated_lufs(powers)      both gates of BS.1770-5, Eq. 5-7
    range_lu(powers)             Loudness Range, EBU Tech 3342

A power is the sum over channels of weight times mean square of the K-weighted samples.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

OFFSET_LUFS = -0.691
"""Makes a full-scale 997 Hz sine on one channel read −3.01. BS.1770-5 Eq. 4."""

ABSOLUTE_GATE_LUFS = -70.0
RELATIVE_GATE_LU = -10.0
RANGE_RELATIVE_GATE_LU = -20.0
RANGE_LOW_PERCENTILE = 10.0
RANGE_HIGH_PERCENTILE = 95.0

Powers = npt.NDArray[np.float64]


def to_lufs(power: float) -> float | None:
    """Loudness of a power; None for none at all. Source: BS.1770-5 Eq. 4."""
    return OFFSET_LUFS + 10.0 * math.log10(power) if power > 0.0 else None


def to_power(lufs: float) -> float:
    """The power that reads `lufs`."""
    return float(10.0 ** ((lufs - OFFSET_LUFS) / 10.0))


def integrated_lufs(powers: Powers) -> float | None:
    """Gated loudness of 400 ms blocks at 100 ms; None where no block passes. Both gates are strict (>).

    Source: ITU-R BS.1770-5 Annex 1, Eq. 5-7.
    """
    heard = powers[powers > to_power(ABSOLUTE_GATE_LUFS)]
    if heard.size == 0:
        return None
    kept = heard[heard > heard.mean() * 10.0 ** (RELATIVE_GATE_LU / 10.0)]
    return to_lufs(float(kept.mean()))


def range_lu(powers: Powers) -> float | None:
    """Loudness Range of 3 s blocks at 100 ms; None where no block passes. Both gates keep equals (≥).

    Percentiles are nearest-rank, as in the code of EBU Tech 3342 §5: index round((n − 1) · p / 100 + 1),
    counted from 1, halves upward.
    """
    heard = powers[powers >= to_power(ABSOLUTE_GATE_LUFS)]
    if heard.size == 0:
        return None
    kept = np.sort(heard[heard >= heard.mean() * 10.0 ** (RANGE_RELATIVE_GATE_LU / 10.0)])
    low, high = (
        float(kept[math.floor((kept.size - 1) * percentile / 100.0 + 0.5)])
        for percentile in (RANGE_LOW_PERCENTILE, RANGE_HIGH_PERCENTILE)
    )
    return 10.0 * math.log10(high / low)
