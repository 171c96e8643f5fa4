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
JOLT_ORDER = 24


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
def last_of(before: Any, value: float, short: int, floor: float) -> Any:
    """How loud the sound before a run of `value` is at its end: highest |x| of its last `short` samples, from
    `value`, over the highest of all; 0.0 where that is below `floor`.

    before: the samples up to the run. A coarse test that spares most rests the fine ones.
    """
    last = 0.0
    for i in range(max(0, len(before) - short), len(before)):
        last = max(last, abs(before[i] - value))
    top = highest(before)
    return last / top if top >= floor else 0.0


@njit(cache=True, nogil=True)
def jolt(before: Any, value: float, fade: int, near: int) -> Any:
    """What a model of the sound before a hole leaves of its edge, over the most it leaves of the `near`
    samples before that: a cut leaves far more, a fade longer than `fade` as much.
    """
    count = len(before)
    a = windowed_model(before[: count - fade], JOLT_ORDER)
    wave = np.full(count + JOLT_ORDER, value)
    wave[:count] = before
    left = residual(wave[count - fade - near - JOLT_ORDER :], a)
    own = highest(left[:near])
    return highest(left[near:]) / own if own > 0.0 else 0.0


@njit(cache=True, nogil=True)
def edge(before: Any, value: float, gap: int, fade: int, zone: int, horizon: int, lead: int = 0) -> Any:
    """How the sound before a hole breaks off. -> (kept, missing), both as ratios of amplitudes.

    kept: level of the `zone` samples that end `fade` before the hole, over what the sound up to `lead`
    samples before them lets expect there; 1 for a cut, well below for a fade. missing: what the sound would
    have done in the hole, measured from `value`, over the sound's own level."""
    count = len(before)
    known = count - fade - zone - lead
    a, power = burg(before[:known], ORDER)
    expected, spread = carried_on(before[:known], a, power, lead + fade + zone + min(gap, horizon))
    real = 0.0
    due = 0.0
    for i in range(zone):
        real += before[known + lead + i] ** 2
        due += expected[lead + i] ** 2 + spread[lead + i]
    lost = 0.0
    for i in range(lead + zone + fade, len(expected)):
        lost += (expected[i] - value) ** 2 + spread[i]
    lost /= max(1, len(expected) - lead - zone - fade)
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


@njit(cache=True, nogil=True)
def find_held(wave: Any, start: int, stop: int, fewest: int, limits: Any, table: Any) -> int:
    """Runs of exactly one value that begin in start … stop, of `fewest` samples and more, in restless sound.

    limits: their most samples; the samples of the sides; the share of these that may stand still; the least
    mean of the third difference on both sides, which the residual of no good model exceeds; or, for a run
    that is not silence, how many times the largest step of either side the step is that ends
    it. Rows (begin, end, value) are written to `table`; their number is returned.
    """
    longest, span, still, least, leap = limits
    step = fewest - 1  # a run holds one of these and the next sample
    rows = 0
    i = start
    while i < stop and rows < len(table):
        value = wave[i]
        if wave[i + 1] != value:
            i += step
            continue
        begin = i
        while begin >= start and wave[begin - 1] == value:  # never far: every step-th sample is looked at
            begin -= 1
        end = i
        while end < len(wave) and wave[end] == value:
            end += 1
        # In this order: square waves are left by the third question, which looks at few of their samples.
        if (
            fewest <= end - begin < longest
            and start <= begin
            and end + span <= len(wave)
            and _moves(wave, begin - span, begin, still * span)
            and _moves(wave, end, end + span, still * span)
        ):
            bend = min(_bend(wave, begin - 64, begin), _bend(wave, end + 3, end + 67))
            if bend >= least or (value != 0.0 and _leaps(wave, begin, end, span, leap)):
                table[rows, BEGIN] = begin
                table[rows, END] = end
                table[rows, VALUE] = value
                rows += 1
        i = max(end, i + 1)
    return rows


@njit(cache=True, nogil=True)
def _bend(wave: Any, begin: int, end: int) -> Any:
    """Mean |third difference|."""
    total = 0.0
    for i in range(begin, end):
        total += abs(wave[i] - wave[i - 3] - 3.0 * (wave[i - 1] - wave[i - 2]))
    return total / (end - begin)


@njit(cache=True, nogil=True)
def _moves(wave: Any, begin: int, end: int, most: float) -> bool:
    """Whether no more than `most` steps from sample to sample are none."""
    count = 0
    for i in range(begin + 1, end):
        count += wave[i] == wave[i - 1]
        if count > most:
            return False
    return True


@njit(cache=True, nogil=True)
def _leaps(wave: Any, begin: int, end: int, span: int, leap: float) -> bool:
    """Whether the run ends by a step `leap` times as large as any within `span` before and after it."""
    most = 0.0
    for i in range(span):
        most = max(most, abs(wave[begin - i] - wave[begin - i - 1]), abs(wave[end + i + 1] - wave[end + i]))
    return bool(abs(wave[end] - wave[begin]) >= leap * most)
