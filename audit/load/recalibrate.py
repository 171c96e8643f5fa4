"""A forecast corrected by what the user's own load meter said: least squares, with its residuals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from audit.errors import UsageError

ENOUGH_FOR_LINE = 3
"""Readings from which on a constant is fitted too."""

SPREAD_FOR_LINE = 2.0
"""Heaviest over lightest song from which on a constant can be told from a factor."""

LEAST_FACTOR, MOST_FACTOR = 0.2, 5.0
"""Factors outside of these are a slip of the keyboard or another meter: own estimate."""

MOST_RMS = 0.20
"""Of the mean reading: above this the readings and the model do not belong together. Own estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """reading = constant + factor · forecast, all in % of one core."""

    factor: float
    constant_pct: float
    residuals_pct: tuple[float, ...]
    rms_pct: float

    @property
    def readings(self) -> int:
        return len(self.residuals_pct)


def correct(forecast_pct: Sequence[float], reading_pct: Sequence[float]) -> Correction:
    """The factor, and from three readings of unlike songs on the constant, that fit best.

    Raises UsageError where the readings cannot be right.
    """
    if not forecast_pct or len(forecast_pct) != len(reading_pct):
        raise UsageError("--reading: no reading to go by: give what the meter showed while a song played")
    if min(forecast_pct) <= 0:
        raise UsageError("--reading: the forecast of that song is nothing: take one with stems that stream")
    factor, constant = _fit(forecast_pct, reading_pct)
    residuals = tuple(o - constant - factor * p for p, o in zip(forecast_pct, reading_pct, strict=True))
    rms = math.sqrt(sum(r * r for r in residuals) / len(residuals))
    mean = sum(reading_pct) / len(reading_pct)
    if not LEAST_FACTOR <= factor <= MOST_FACTOR:
        raise UsageError(
            f"--reading: the machine would be {factor:.2g} times as loaded as forecast, which cannot be: "
            "check the song, --meter and --cores"
        )
    if rms > MOST_RMS * mean:
        raise UsageError(
            f"--reading: the readings lie {rms:.1f} % beside the best fit, {100 * rms / mean:.0f} % of their "
            "mean: they do not belong to one machine and meter; take them again"
        )
    return Correction(factor=factor, constant_pct=constant, residuals_pct=residuals, rms_pct=rms)


def _fit(p: Sequence[float], o: Sequence[float]) -> tuple[float, float]:
    through_zero = sum(a * b for a, b in zip(p, o, strict=True)) / sum(a * a for a in p)
    if len(p) < ENOUGH_FOR_LINE or max(p) / min(p) < SPREAD_FOR_LINE:
        return through_zero, 0.0
    mean_p, mean_o = sum(p) / len(p), sum(o) / len(o)
    slope = sum((a - mean_p) * (b - mean_o) for a, b in zip(p, o, strict=True)) / sum(
        (a - mean_p) ** 2 for a in p
    )
    constant = mean_o - slope * mean_p
    return (slope, constant) if slope >= 0 and constant >= 0 else (through_zero, 0.0)


def as_one_core(reading_pct: float, *, whole_machine: bool, cores: int) -> float:
    """A reading in % of one core; meters of the whole machine divide by its cores."""
    return reading_pct * cores if whole_machine else reading_pct
