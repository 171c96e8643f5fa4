"""The compiled half of `dropouts`. Imported when a meter is made, so that numba stays out of start-up."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from audit.measure.prediction_kernel import burg, carried_on, highest, residual, rms, windowed_model

BEGIN, END, VALUE, MAYBE = range(4)
COLUMNS = 4

ORDER = 32
LIKENESS_ORDER, LIKENESS_REST = 16, 1e-4


@njit(cache=True, nogil=True)
def run_end(wave: Any, begin: int, value: Any, tolerance: Any) -> int:
    """The first sample after `begin` that is not `value`; len(wave) where there is none."""
    i = begin
    while i < len(wave) and abs(wave[i] - value) <= tolerance:
        i += 1
    return i


@njit(cache=True, nogil=True)
def find_runs(wave: Any, start: int, stop: int, shortest: int, tolerance: Any, table: Any) -> int:
    """Runs of one value that begin in start … stop and have `shortest` samples; rows written to `table`.

    Only every shortest // 2 − 1st sample is looked at: a run holds one of them and its two successors.
    MAYBE is left at 0. Returns the number of rows; a run that begins before `start` is not one.
    """
    step = max(1, shortest // 2 - 1)
    rows = 0
    i = start
    while i < stop and rows < len(table):
        value = wave[i]
        if not (abs(wave[i + 1] - value) <= tolerance and abs(wave[i + 2] - value) <= tolerance):
            i += step
            continue
        end = run_end(wave, i, value, tolerance)
        begin = i
        while begin > start and abs(wave[begin - 1] - value) <= tolerance:
            begin -= 1
        if end - begin >= shortest and (begin > start or abs(wave[begin - 1] - value) > tolerance):
            table[rows, BEGIN] = begin
            table[rows, END] = end
            table[rows, VALUE] = value
            table[rows, MAYBE] = 0.0
            rows += 1
        i = max(end, i + 1)
    return rows


@njit(cache=True, nogil=True)
def stops_short(before: Any, value: float, short: int, floor: float) -> Any:
    """Whether the sound before a run of `value` reaches it undamped: loud in its last `short` samples.

    before: the samples up to the run. A coarse test that spares most rests the fine one.
    """
    last = 0.0
    for i in range(max(0, len(before) - short), len(before)):
        last = max(last, abs(before[i] - value))
    top = highest(before)
    return top >= floor and last >= 0.05 * top


@njit(cache=True, nogil=True)
def edge(before: Any, value: float, gap: int, fade: int, zone: int, horizon: int) -> Any:
    """How the sound before a hole breaks off. -> (kept, missing), both as ratios of amplitudes.

    kept: level of the `zone` samples that end `fade` before the hole, over what the sound up to them lets
    expect there; 1 for a cut, well below for a fade. missing: what the sound would have done in the hole,
    measured from `value`, over the sound's own level.
    """
    count = len(before)
    known = count - fade - zone
    a, power = burg(before[:known], ORDER)
    expected, spread = carried_on(before[:known], a, power, fade + zone + min(gap, horizon))
    real = 0.0
    due = 0.0
    for i in range(zone):
        real += before[known + i] ** 2
        due += expected[i] ** 2 + spread[i]
    lost = 0.0
    for i in range(zone + fade, len(expected)):
        lost += (expected[i] - value) ** 2 + spread[i]
    lost /= max(1, len(expected) - zone - fade)
    level = rms(before[known // 2 : known])
    kept = np.sqrt(real / due) if due > 0.0 else 0.0
    return kept, np.sqrt(lost) / level if level > 0.0 else 0.0


@njit(cache=True, nogil=True)
def likeness(one: Any, other: Any) -> Any:
    """How much worse the model of `one` foretells `other` than its own model does, as a ratio (1: as well).

    The models hear a floor of noise at −40 dB: what lies below it is no part of the likeness.
    """
    a = windowed_model(one, LIKENESS_ORDER, LIKENESS_REST)
    b = windowed_model(other, LIKENESS_ORDER, LIKENESS_REST)
    own = rms(residual(other, b))
    return rms(residual(other, a)) / own if own > 0.0 else np.inf
