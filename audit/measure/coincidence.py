"""Two lists of onsets against each other: at which lag they meet, and how surely.

    strong(times_s, strengths_db), lag_peak(...), meetings(...)

Times are seconds, float64, ascending. A lag is positive where the first list plays after the second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

BIN_S = 0.001
KERNEL_S = 0.006
"""Standard deviation of the bell that every lag is smeared by: people's and instruments' spread."""

LEAST_DB, LEAST_SHARE = 12.0, 0.2
"""An onset counts from this rise on, and from this share of the stem's strong ones (its 90th percentile)."""


def strong(times_s: Numbers, strengths_db: Numbers) -> Numbers:
    """Times of the onsets that are no ripple of a sustained tone."""
    if len(times_s) == 0:
        return times_s
    least = max(LEAST_DB, LEAST_SHARE * float(np.percentile(strengths_db, 90)))
    return times_s[strengths_db >= least]


def _pairs(times_s: Numbers, others_s: Numbers, reach_s: float) -> tuple[npt.NDArray[np.int64], Numbers]:
    """Every pair whose lag is at most `reach_s`: the first list's index, and the lag."""
    first = np.searchsorted(others_s, times_s - reach_s, side="left")
    last = np.searchsorted(others_s, times_s + reach_s, side="right")
    counts = last - first
    index = np.repeat(np.arange(len(times_s)), counts)
    inside = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    return index, times_s[index] - others_s[np.repeat(first, counts) + inside]


def lag_curve(times_s: Numbers, others_s: Numbers, reach_s: float, kernel_s: float = KERNEL_S) -> Numbers:
    """Pairs a lag, smeared: shape (2n + 1,), from −reach to +reach in steps of 1 ms.

    A perfect meeting counts as 1.
    """
    half = int(np.ceil(reach_s / BIN_S))
    _, lags = _pairs(times_s, others_s, (half + 0.5) * BIN_S)
    bins = np.clip(np.rint(lags / BIN_S).astype(np.int64) + half, 0, 2 * half)
    counts = np.bincount(bins, minlength=2 * half + 1).astype(np.float64)
    width = int(np.ceil(3.0 * kernel_s / BIN_S))
    bell = np.exp(-0.5 * (np.arange(-width, width + 1) * BIN_S / kernel_s) ** 2)
    return np.convolve(counts, bell, mode="full")[width : width + len(counts)]


@dataclass(frozen=True, slots=True)
class LagPeak:
    """The lag at which most onsets meet."""

    lag_s: float
    height: float  # meetings there
    chance: float  # meetings at a lag taken at random
    zero: float  # meetings at the best lag within 8 ms of none
    rival: float  # meetings at the next best lag, 40 ms off and more

    @property
    def sure(self) -> float:
        """How far it stands over chance, in standard deviations of chance."""
        return (self.height - self.chance) / float(np.sqrt(max(self.chance, 1.0)))


def lag_peak(curve: Numbers, *, toward_zero: float = 0.15) -> LagPeak:
    """The highest place of a lag curve. toward_zero: how much a place at the end of the reach is marked down,
    so that of two lags that fit alike (an eighth early, an eighth late, none) the smaller is taken."""
    half = len(curve) // 2
    lags = np.arange(-half, half + 1)
    judged = curve * (1.0 - toward_zero * np.abs(lags) / max(half, 1))
    best = int(np.argmax(judged))
    away = np.abs(lags - lags[best]) >= 40
    return LagPeak(
        lag_s=float(lags[best]) * BIN_S,
        height=float(curve[best]),
        chance=float(curve.mean()),
        zero=float(curve[np.abs(lags) <= 8].max()),
        rival=float(curve[away].max()) if away.any() else 0.0,
    )


def meetings(
    times_s: Numbers, others_s: Numbers, lag_s: float, within_s: float
) -> tuple[npt.NDArray[np.int64], Numbers]:
    """Which of the times meet one of the others at about that lag, and their whole lag, each with its
    nearest."""
    if len(times_s) == 0 or len(others_s) == 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    wanted = times_s - lag_s
    after = np.clip(np.searchsorted(others_s, wanted), 0, len(others_s) - 1)
    before = np.maximum(after - 1, 0)
    nearer = np.where(np.abs(others_s[before] - wanted) < np.abs(others_s[after] - wanted), before, after)
    lags = times_s - others_s[nearer]
    met = np.flatnonzero(np.abs(lags - lag_s) <= within_s)
    return met, lags[met]


def centred(times_s: Numbers, others_s: Numbers, lag_s: float, within_s: float) -> tuple[float, Numbers]:
    """Median lag of the meetings around `lag_s`, found again around itself, and every meeting's lag."""
    lags = np.zeros(0)
    for _ in range(3):
        _, lags = meetings(times_s, others_s, lag_s, within_s)
        if len(lags) == 0:
            return lag_s, lags
        lag_s = float(np.median(lags))
    return lag_s, lags
