"""How an offset changes over time: a line through residuals, robustly, with its bounds.

fit_line(at_s, off_s) -> Line       hough(...) -> slope that most onsets agree on
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from audit.measure.coincidence import KERNEL_S, lag_curve
from audit.measure.medians import middle_of

Numbers = npt.NDArray[np.float64]

ROUNDS = 30
TUKEY = 4.685
"""Tukey's biweight at 95 % efficiency on normal data. Source: Beaton & Tukey 1974, Holland & Welsch 1977
[memory]."""

WINDOWS = 24

STRETCH_S, FEWEST_STRETCHES = 16.0, 6
"""A player pushes for a section (some eight bars) and lies back in the next: only stretches of a song so long
are off independently of one another, and a song counts as many onsets as it has stretches."""

T_95 = (1.96, 2.372, 2.822, 2.556, 1.587)
"""Student's t at 97.5 % by powers of 1/degrees of freedom. Source: Abramowitz & Stegun 1964, 26.7.5
[memory]."""


@dataclass(frozen=True, slots=True)
class Line:
    """off = offset + slope · (at − middle)."""

    slope: float  # seconds a second: 1e-6 is 1 ppm
    error: float  # its standard error
    offset_s: float  # at the middle
    offset_error_s: float
    middle_s: float
    spread_s: float  # robust standard deviation around the line


def fit_line(at_s: Numbers, off_s: Numbers, *, least_spread_s: float = 3e-4) -> Line:
    """Iteratively re-weighted least squares with Tukey's biweight.

    Residuals of onsets that lie close in time depend on one another: the errors allow for that (`_error`).
    At least three points.
    """
    middle_s = float(np.mean(at_s))
    x = at_s - middle_s
    slope, offset = _medians(x, off_s)
    weights = np.ones_like(x)
    spread = least_spread_s
    for _ in range(ROUNDS):
        rest = off_s - offset - slope * x
        spread = max(least_spread_s, 1.4826 * middle_of(np.abs(rest)))
        u = np.clip(np.abs(rest) / (TUKEY * spread), 0.0, 1.0)
        weights = (1.0 - u**2) ** 2
        total = weights.sum()
        mean_x = float((weights * x).sum() / total)
        power = float((weights * (x - mean_x) ** 2).sum())
        if power <= 0.0:
            break
        before = slope
        slope = float((weights * (x - mean_x) * off_s).sum() / power)
        offset = float((weights * off_s).sum() / total) - slope * mean_x
        if abs(slope - before) < 1e-9:
            break
    rest = off_s - offset - slope * x
    total = float(weights.sum())
    mean_x = float((weights * x).sum() / total)
    power = float((weights * (x - mean_x) ** 2).sum())
    variance = float((weights * rest**2).sum() / max(total - 2.0, 1.0))
    variance = max(variance, least_spread_s**2)
    error = offset_error = float("inf")
    if power > 0.0:
        slope_error, level_error = _errors(at_s, x - mean_x, rest)
        error = max(float(np.sqrt(variance / power)), slope_error)
        offset_error = max(float(np.sqrt(variance / total)), level_error)
    return Line(
        slope=slope, error=error, offset_s=offset, offset_error_s=offset_error, middle_s=middle_s,
        spread_s=spread,
    )  # fmt: skip


def _errors(at_s: Numbers, x: Numbers, rest: Numbers) -> tuple[float, float]:
    """Standard errors of slope and offset by the medians of stretches, such that 1.96 of them hold 95 %."""
    span_s = float(at_s[-1] - at_s[0])
    count = max(FEWEST_STRETCHES, round(span_s / STRETCH_S))
    where = np.minimum((count * (at_s - at_s[0]) / max(span_s, 1e-9)).astype(np.int64), count - 1)
    filled = [number for number in range(count) if (where == number).sum() >= 3]
    free = len(filled) - 2
    if free < 1:
        return 0.0, 0.0
    level = np.array([middle_of(rest[where == number]) for number in filled])
    place = np.array([np.mean(x[where == number]) for number in filled])
    place = place - place.mean()
    power = float((place**2).sum())
    slope = float((place * level).sum()) / power
    scatter = float(((level - level.mean() - slope * place) ** 2).sum()) / free
    wider = sum(term / free**number for number, term in enumerate(T_95)) / T_95[0]
    return wider * float(np.sqrt(scatter / power)), wider * float(np.sqrt(scatter / len(filled)))


def _medians(x: Numbers, y: Numbers) -> tuple[float, float]:
    """A start: the line through the medians of the first and the last third."""
    third = max(1, len(x) // 3)
    order = np.argsort(x, kind="stable")
    first, last = order[:third], order[-third:]
    span = middle_of(x[last]) - middle_of(x[first])
    slope = (middle_of(y[last]) - middle_of(y[first])) / span if span > 0.0 else 0.0
    return slope, middle_of(y - slope * x)


def agreed_slope(
    times_s: Numbers, others_s: Numbers, *, reach_s: float, most_ppm: float
) -> tuple[float, float, float]:
    """The slope, and the lag at the middle of the times, at which most onsets meet those of the others.

    Returns (slope, lag in seconds, meetings). Lag curves of WINDOWS equal stretches of time are added along
    every slope; lags go to ±reach_s.
    """
    begin, end = float(times_s[0]), float(times_s[-1])
    middle = 0.5 * (begin + end)
    most_s = most_ppm * 1e-6 * 0.5 * (end - begin)
    wide_s = reach_s + most_s
    edges = np.linspace(begin, end, WINDOWS + 1)
    curves, centres = [], []
    for first, last in pairwise(edges):
        some = times_s[(times_s >= first) & (times_s < last if last < end else times_s <= last)]
        curves.append(lag_curve(some, others_s, wide_s, kernel_s=1.5 * KERNEL_S))
        centres.append(0.5 * (first + last) - middle)
    half = len(curves[0]) // 2
    reach = int(reach_s * 1000.0)
    step_ppm = max(5.0, 4000.0 / max(end - begin, 1.0))  # 4 ms from end to end
    best = (0.0, 0.0, -1.0)
    slopes = np.arange(-np.floor(most_ppm / step_ppm), np.floor(most_ppm / step_ppm) + 1) * step_ppm * 1e-6
    for slope in slopes:
        total = np.zeros(2 * reach + 1)
        for curve, centre in zip(curves, centres, strict=True):
            shift = round(slope * centre * 1000.0)
            total += curve[half + shift - reach : half + shift + reach + 1]
        # Of slopes that fit nearly alike the smaller: 5 % off at the far end.
        judged = total * (1.0 - 0.05 * abs(slope) / (most_ppm * 1e-6))
        judged *= 1.0 - 0.5 * np.abs(np.arange(-reach, reach + 1)) / max(reach, 1)
        top = int(np.argmax(judged))
        if judged[top] > best[2]:
            best = (float(slope), (top - reach) / 1000.0, float(judged[top]))
    return best
