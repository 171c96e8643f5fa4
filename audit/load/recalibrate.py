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
"""No machine whose speed is known, be it by a guess, is further off than these factors: own estimate."""

MOST_PCT = 100.0
"""What a meter can show of a core. A player's own picture, driver and effects may well take most of that, and
20 to 35 % of a core with next to nothing to stream are common practice; more is a slip of the keyboard, or
another meter."""

MOST_RMS = 0.20
"""Of the mean reading: above this the readings and the model do not belong together. Own estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """reading = constant · share + factor · forecast, all in % of one core."""

    factor: float
    constant_pct: float  # of a callback whose share is 1
    residuals_pct: tuple[float, ...]
    rms_pct: float

    @property
    def readings(self) -> int:
        return len(self.residuals_pct)


def correct(
    forecast_pct: Sequence[float], reading_pct: Sequence[float], shares: Sequence[float] = ()
) -> Correction:
    """The factor and the constant that fit best.

    shares: how many times the constant each reading holds. It is a time per callback, so a reading at half
    the buffer holds it twice; without shares, all were taken at one buffer.

    From three readings of unlike songs on both are told; fewer give a factor. Where a factor that no machine
    has would be needed, or they do not lie on it, the machine is taken to be as forecast, and what the meter
    shows above that to be the player's own load, which no forecast knows.
    Raises UsageError where the readings cannot be right.
    """
    if not forecast_pct or len(forecast_pct) != len(reading_pct):
        raise UsageError("--reading: no reading to go by: give what the meter showed while a song played")
    if min(forecast_pct) <= 0:
        raise UsageError("--reading: the forecast of that song is nothing: take one with stems that stream")
    shares = shares or [1.0] * len(forecast_pct)
    fits = [
        _correction(forecast_pct, reading_pct, shares, *line)
        for line in _lines(forecast_pct, reading_pct, shares)
    ]
    able = [fit for fit in fits if _is_possible(fit, max(reading_pct))]
    if not able:
        times = fits[0].factor
        raise UsageError(
            f"--reading: the machine would be {_times(times)} times as loaded as forecast, which cannot "
            "be: check the number, the song, --meter and --cores"
        )
    mean = sum(reading_pct) / len(reading_pct)
    good = next((fit for fit in able if fit.rms_pct <= MOST_RMS * mean), None)
    if good is None:
        rms = able[0].rms_pct
        raise UsageError(
            f"--reading: the readings lie {rms:.1f} % beside the best fit, {100 * rms / mean:.0f} % of their "
            "mean: they do not belong to one machine and meter; take them again"
        )
    return good


def _times(factor: float) -> str:
    return f"{factor:.0f}" if factor >= 10 else f"{factor:.2g}"


def _correction(
    p: Sequence[float], o: Sequence[float], w: Sequence[float], factor: float, constant: float
) -> Correction:
    residuals = tuple(
        read - constant * share - factor * told for told, read, share in zip(p, o, w, strict=True)
    )
    rms = math.sqrt(sum(r * r for r in residuals) / len(residuals))
    return Correction(factor=factor, constant_pct=constant, residuals_pct=residuals, rms_pct=rms)


def _is_possible(fit: Correction, highest_pct: float) -> bool:
    """A constant explains any reading: so none above a whole core is explained by one."""
    return LEAST_FACTOR <= fit.factor <= MOST_FACTOR and (
        fit.constant_pct == 0.0 or (fit.constant_pct > 0.0 and highest_pct <= MOST_PCT)
    )


def _lines(p: Sequence[float], o: Sequence[float], w: Sequence[float]) -> list[tuple[float, float]]:
    """(factor, constant) that may be right, the likeliest first."""
    above = [read - told for told, read in zip(p, o, strict=True)]
    lines = [_fit(p, o, w)]
    if lines[0][1]:
        lines.append(_through_zero(p, o))
    return [*lines, (1.0, _product(w, above) / _product(w, w))]


def _product(a: Sequence[float], b: Sequence[float]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))


def _through_zero(p: Sequence[float], o: Sequence[float]) -> tuple[float, float]:
    return _product(p, o) / _product(p, p), 0.0


def _fit(p: Sequence[float], o: Sequence[float], w: Sequence[float]) -> tuple[float, float]:
    """Least squares of o = constant · w + factor · p: two normal equations. Each p over its w is the work of
    a callback, and where that hardly differs the two cannot be told apart."""
    work = [told / share for told, share in zip(p, w, strict=True)]
    if len(p) < ENOUGH_FOR_LINE or max(work) / min(work) < SPREAD_FOR_LINE:
        return _through_zero(p, o)
    pp, pw, ww, po, wo = (_product(p, p), _product(p, w), _product(w, w), _product(p, o), _product(w, o))
    both = pp * ww - pw * pw
    factor, constant = (po * ww - wo * pw) / both, (wo * pp - po * pw) / both
    return (factor, constant) if factor >= 0 and constant >= 0 else _through_zero(p, o)


def as_one_core(reading_pct: float, *, whole_machine: bool, cores: int) -> float:
    """A reading in % of one core; meters of the whole machine divide by its cores."""
    return reading_pct * cores if whole_machine else reading_pct
