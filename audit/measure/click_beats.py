"""Which of a click part's sounds are its beats: not the eighths between them, not the voice over them.

    choose_beats(ticks) -> Chosen | None

Sounds are ranked by level. Each level from which upwards they are evenly spaced is a possible answer: the
accents alone, the beats, the beats with what lies between. The answer is the one whose tempo and metre people
count in. Ties between "2/4" and "eighths between" are settled by how much quieter the lower ones are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from audit.measure.click_metre import Numbers, bar_length, find_accents, find_classes
from audit.measure.tick_events import Ticks

FEWEST = 3
FAINTEST_DB = 30.0
"""What lies farther below the ticks is a room's tail, not a subdivision."""

EVEN = 0.06
"""Neighbouring intervals within 6 % are even: more than a ramp changes them, less than swung pairs differ."""

EVEN_SHARE = 0.65
ALL_EVEN_SHARE = 0.8
"""Sounds that repeat a waveform are a click even where a voice hides some; all sounds of a part need more."""

TYPICAL_BPM = 115.0
TEMPO_WIDTH = 0.45
SLOWEST_BPM, FASTEST_BPM = 25.0, 420.0
BAR_COST = {4: 0.0, 3: 0.2, 6: 0.5, 5: 0.7, 7: 0.7, 2: 1.0, 12: 1.2, 9: 1.2, 8: 2.0}
NO_BAR_COST = 1.2
ODD_BAR_COST = 3.0
LEVEL_GAP_DB = 2.5
SAME_DB = 0.5
SHAKER_DB = 7.0
SAME_CLICK = 0.35
SAME_SOUND = 0.95
TURNED_DOWN_DB = 15.0
SHORT_CLICK = 24
"""Up to this many beats (three bars of eight) an accent may sound but once or twice."""

ON_GRID = 0.02
"""Such an accent lies where a beat is missing, within 2 % of a beat."""

LONG_BEATS = 4
"""Stretches without beats at least this long are asked for a click that is turned down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Rows of `Ticks` that are beats (extras and off-grid ones among them), and what lies between."""

    beats: npt.NDArray[np.int64]
    subdivision: int
    cost: float


def choose_beats(ticks: Ticks) -> Chosen | None:
    """The beats; None where nothing is evenly spaced.

    Sounds that repeat a waveform are tried first, then all of them: a voice over the click never repeats,
    and a click made of ever new noise never does either.
    """
    if len(ticks) < FEWEST:
        return None
    every = np.arange(len(ticks))
    names, sizes = np.unique(ticks.kind, return_counts=True)
    repeating = every[np.isin(ticks.kind, names[sizes >= 3])]
    if len(ticks) <= SHORT_CLICK:
        # Two bars of a count-in hold two accents; without them a hole would make the beats look uneven.
        twice = _among(ticks, every[np.isin(ticks.kind, names[sizes >= 2])], EVEN_SHARE)
        if twice is not None:
            return _with_rare_accents(ticks, twice)
    found = []
    for rows in (repeating, every):
        chosen = _among(ticks, rows, EVEN_SHARE if rows is repeating else ALL_EVEN_SHARE)
        if chosen is not None:
            found.append(_with_rare_accents(ticks, chosen))
        if len(repeating) == len(every):
            break
    if not found:
        return None
    if len(found) == 2 and len(found[1].beats) > 1.6 * len(found[0].beats):
        # The accents may be one sound and the beats ever new noise; but noise far below is a shaker.
        more = np.setdiff1d(found[1].beats, found[0].beats)
        lowest = float(np.percentile(ticks.level_db[found[0].beats], 10))
        if len(more) and lowest - float(np.median(ticks.level_db[more])) < SHAKER_DB:
            return found[1]
    return found[0]


def _among(ticks: Ticks, rows: npt.NDArray[np.int64], even_share: float) -> Chosen | None:
    if len(rows) < FEWEST:
        return None
    level = ticks.level_db[rows]
    rows = rows[level >= np.percentile(level, 90) - FAINTEST_DB]
    if len(rows) < FEWEST:
        return None
    chosen = _by_level(ticks, rows, even_share)
    return None if chosen is None else _filled(ticks, rows, chosen)


def _with_rare_accents(ticks: Ticks, chosen: Chosen) -> Chosen:
    """The choice, and in a short click the accents whose sound is heard too rarely to be known by its wave.

    Two bars of a count-in hold two accents: each stands where exactly one beat is missing, or one beat before
    the first, and no quieter than the beats around it.
    """
    if not FEWEST <= len(chosen.beats) <= SHORT_CLICK:
        return chosen
    beats_s = ticks.at_s[chosen.beats]
    period = float(np.median(np.diff(beats_s)))
    middles = 0.5 * (beats_s[:-1] + beats_s[1:])[np.abs(np.diff(beats_s) - 2 * period) < 2 * ON_GRID * period]
    wanted = np.concatenate(([beats_s[0] - period], middles))
    lowest = float(ticks.level_db[chosen.beats].min())
    others = np.setdiff1d(np.flatnonzero(ticks.level_db >= lowest - SAME_DB), chosen.beats)
    near = np.abs(ticks.at_s[others][:, None] - wanted).min(axis=1) if len(others) else np.zeros(0)
    rare = others[near <= ON_GRID * period]
    return replace(chosen, beats=np.union1d(chosen.beats, rare)) if len(rare) else chosen


def _by_level(ticks: Ticks, rows: npt.NDArray[np.int64], even_share: float) -> Chosen | None:
    """The best of the possible answers."""
    at_s, level = ticks.at_s[rows], ticks.level_db[rows]
    bounds = _bounds(level, ticks.kind[rows])
    best: Chosen | None = None
    for number, bound in enumerate(bounds):
        upper = np.flatnonzero(level >= bound - SAME_DB)
        even, period = _evenness(at_s[upper])
        if len(upper) < FEWEST or even < even_share or not SLOWEST_BPM <= 60.0 / period <= FASTEST_BPM:
            continue
        accents = find_accents(level[upper], ticks.kind[rows][upper])
        cost = 0.5 * (math.log(60.0 / period / TYPICAL_BPM) / TEMPO_WIDTH) ** 2 + 1.5 * (1.0 - even)
        bar = bar_length(accents)
        cost += NO_BAR_COST if bar is None else BAR_COST.get(bar, ODD_BAR_COST)
        subdivision = 1
        if number + 1 < len(bounds):
            lower = (level < bound - SAME_DB) & (level >= bounds[-1] - SAME_DB)
            subdivision = _between(at_s[upper], at_s[lower])
            step_db = float(
                np.median(np.sort(level[upper])[: max(1, len(upper) // 4)]) - np.median(level[lower])
            )
            if subdivision > 1:
                cost -= 0.8 * min(1.0, max(-1.0, (step_db - 6.0) / 2.0))
        if best is None or cost < best.cost:
            best = Chosen(beats=rows[upper], subdivision=subdivision, cost=cost)
    return best


def _bounds(level: Numbers, kind: npt.NDArray[np.int64]) -> list[float]:
    """Levels between which a step lies, falling; the last takes in every class of some size."""
    classes = find_classes(level, kind, LEVEL_GAP_DB)
    names, sizes = np.unique(classes, return_counts=True)
    lows = sorted(
        (float(level[classes == name].min()), float(level[classes == name].max()))
        for name, size in zip(names, sizes, strict=True)
        if size >= max(2.0, 0.02 * len(level))
    )
    if not lows:
        return [float(level.min())]
    bounds = []
    lowest_above = math.inf
    for low, high in reversed(lows):
        if high < lowest_above - LEVEL_GAP_DB and lowest_above < math.inf:
            bounds.append(lowest_above)
        lowest_above = min(lowest_above, low)
    bounds.append(lowest_above)
    return bounds


def _evenness(at_s: Numbers) -> tuple[float, float]:
    """Share of the intervals that resemble a neighbour, and the median interval."""
    step = np.diff(at_s)
    if len(step) < 2 or step.min() <= 0.0:
        return 0.0, 1.0
    ratio = np.abs(np.diff(np.log(step)))
    like = np.concatenate((ratio, [math.inf]))
    like = np.minimum(like, np.concatenate(([math.inf], ratio)))
    return float(np.mean(like < EVEN)), float(np.median(step))


def _between(beats_s: Numbers, lower_s: Numbers) -> int:
    """Ticks a beat, the usual number of lower ones in an interval and the beat itself."""
    inside = np.searchsorted(lower_s, beats_s)
    return 1 + round(float(np.median(np.diff(inside)))) if len(beats_s) > 1 else 1


def _filled(ticks: Ticks, rows: npt.NDArray[np.int64], chosen: Chosen) -> Chosen:
    """The choice, and the beats of stretches where the click is turned down, found there by themselves."""
    beats_s = ticks.at_s[chosen.beats]
    period = float(np.median(np.diff(beats_s)))
    edges = [-math.inf, *beats_s.tolist(), math.inf]
    found = [chosen.beats]
    at_s = ticks.at_s[rows]
    # Without subdivision a tick of the same sound is a beat, however few of them there are.
    kinds = ticks.kind[chosen.beats]
    lowest = float(np.percentile(ticks.level_db[chosen.beats], 10))
    same = np.isin(ticks.kind[rows], kinds) & (ticks.likeness[rows] >= SAME_SOUND)
    same &= (ticks.level_db[rows] >= lowest - TURNED_DOWN_DB) & (chosen.subdivision == 1)
    for left, right in pairwise(edges):
        if right - left >= 1.6 * period:
            inside = (at_s > left + 0.6 * period) & (at_s < right - 0.6 * period)
            found.append(rows[inside & same])
        if right - left < LONG_BEATS * period:
            continue
        inside = rows[(at_s > left + 0.6 * period) & (at_s < right - 0.6 * period)]
        if len(inside) >= LONG_BEATS - 1:
            quieter = _by_level(ticks, inside, ALL_EVEN_SHARE)
            if quieter is None:
                continue
            steps = np.diff(ticks.at_s[quieter.beats])
            alike = quieter.subdivision > 1 or chosen.subdivision == 1
            if alike and abs(math.log(float(np.median(steps)) / period)) < SAME_CLICK:
                found.append(quieter.beats)
    return replace(chosen, beats=np.unique(np.concatenate(found))) if len(found) > 1 else chosen
