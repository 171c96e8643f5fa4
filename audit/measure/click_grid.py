"""The grid of a click: where beats are missing, where one is too many, where a run ends, where tempo halves.

    find_extras(at_s) -> Extra rows    find_breaks(at_s, accents, bar) -> what lies between the beats

A tempo map may do anything a musician wants: steps, ramps, fermatas, stops. Only what returns to the same
grid as if nothing had happened is a fault.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import Literal

import numpy as np
import numpy.typing as npt

Flags = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.float64]

OFF_GRID_S = 0.005
"""Displacements up to this are no fault: about the least that is heard, 6 ms (Friberg & Sundberg 1995)."""

JITTERS = 6.0
"""A beat is off the grid only if it lies this many times farther off than beats around it usually do."""

SAME_TEMPO = 0.015
NEAR_TEMPO = 0.12
GRID_S = 0.002
GRID_SHARE = 0.003
"""The grid resumes where the beat after a gap lies within 2 ms or 0.3 % of a beat of its place, or as far off
as the beats around it usually are."""

MOST_UNEVEN = 0.05
WITHIN_S = 0.004
WITHIN_SHARE = 0.012
"""A tick too many leaves the beats around it as far apart as the others, within this."""

RAMP_BEND = 0.02
MOST_EXTRAS = 3
AROUND = 12
LIVE_SHARE = 0.003
LIVE_OFF = 0.2
"""Where beats wander by over 0.3 % (a tempo map drawn from a live take) only a fifth of a beat is off."""

SETTLED = 8
"""Half or double time: eight beats of each tempo, side by side."""


@dataclass(frozen=True, slots=True)
class Extra:
    """A tick that stands on no beat: its row, how far off, and whether its beat is missing instead."""

    row: int
    off_s: float
    instead: bool


@dataclass(frozen=True, slots=True)
class Break:
    """What lies between a beat and the next: `gap` with its number of beats, a `pause`, or a `change`."""

    after: int  # row of the beat before it
    what: Literal["gap", "pause", "change", "shift"]
    beats: int = 0
    ratio: float = 1.0


def find_extras(at_s: Numbers) -> list[Extra]:
    """Rows of `at_s` (seconds, ascending) that stand on no beat."""
    extras: list[Extra] = []
    rows = list(range(len(at_s)))
    jitter = _jitter(at_s)
    place = 1
    while place < len(rows) - 1:
        found = _added(at_s, rows, place) or _moved(at_s, rows, place, jitter)
        if found:
            extras.extend(found)
            gone = {extra.row for extra in found}
            rows = [row for row in rows if row not in gone]
            place = max(1, place - 1)
            continue
        place += 1
    return sorted(extras, key=lambda extra: extra.row)


def _step(at_s: Numbers, rows: Sequence[int], first: int) -> float | None:
    """The interval from place `first` to the next; None outside."""
    if first < 0 or first + 1 >= len(rows):
        return None
    return float(at_s[rows[first + 1]] - at_s[rows[first]])


def _around(at_s: Numbers, rows: Sequence[int], left: int, right: int) -> tuple[float | None, float | None]:
    """Beat before the place `left` and after the place `right`, each the nearest that two intervals agree on.

    Where another fault lies next to this one, the intervals one or two farther off still tell.
    """
    sides: list[float | None] = []
    for order in (range(left - 1, left - 5, -1), range(right, right + 4)):
        steps = [step for first in order if (step := _step(at_s, rows, first)) is not None]
        agreed = next((a for a, b in pairwise(steps) if abs(math.log(a / b)) < 2 * SAME_TEMPO), None)
        sides.append(agreed if agreed is not None else (steps[0] if len(steps) == 1 else None))
    return sides[0], sides[1]


def _added(at_s: Numbers, rows: Sequence[int], place: int) -> list[Extra]:
    """One to three ticks from `place` on that lie within a single beat of the grid around them."""
    for more in range(MOST_EXTRAS):
        left, right = place - 1, place + 1 + more
        if right >= len(rows):
            break
        span = float(at_s[rows[right]] - at_s[rows[left]])
        before, after = _around(at_s, rows, left, right)
        beat = _beat(before, after)
        if beat is None or abs(span - beat) > max(WITHIN_S, WITHIN_SHARE * beat) + _bend(before, after):
            continue
        if before is None or after is None:
            continue
        return [Extra(rows[k], _off(at_s, rows, left, right, k), False) for k in range(left + 1, right)]
    return []


def _off(at_s: Numbers, rows: Sequence[int], left: int, right: int, place: int) -> float:
    """Distance of a tick from the nearer of the beats at the places `left` and `right`, signed."""
    since = float(at_s[rows[place]] - at_s[rows[left]])
    until = float(at_s[rows[right]] - at_s[rows[place]])
    return since if since <= until else -until


def _moved(at_s: Numbers, rows: Sequence[int], place: int, jitter: Numbers) -> list[Extra]:
    """The tick at `place` where its neighbours lie two beats apart and it is not in their middle."""
    left, right = place - 1, place + 1
    before, after = _around(at_s, rows, left, right)
    if before is None or after is None or abs(math.log(before / after)) > NEAR_TEMPO:
        return []
    nearest = (_step(at_s, rows, left - 1), _step(at_s, rows, right))
    if not all(_multiple(step, side) for step, side in zip(nearest, (before, after), strict=True)):
        return []  # the tempo moves right here
    span = float(at_s[rows[right]] - at_s[rows[left]])
    room = max(0.002, 0.003 * span, 2 * _bend(before, after))
    if abs(span - before - after) > room:
        return []
    since, until = float(at_s[rows[place]] - at_s[rows[left]]), float(at_s[rows[right]] - at_s[rows[place]])
    off = since - span * before / (before + after)
    # A change of tempo puts one of the two intervals right; a moved beat makes one too long, one too short.
    if min((since - before) * math.copysign(1, off), (after - until) * math.copysign(1, off)) < 0.5 * abs(
        off
    ):
        return []
    uneven = float(jitter[rows[place]])
    bound = max(OFF_GRID_S, JITTERS * uneven, _bend(before, after))
    if uneven > LIVE_SHARE * before:
        bound = max(bound, LIVE_OFF * before)
    return [Extra(rows[place], off, True)] if bound < abs(off) < 0.75 * span else []


def _multiple(step: float | None, beat: float) -> bool:
    """Whether an interval is one beat or several (some missing); none is no objection."""
    if step is None:
        return True
    whole = max(1, round(step / beat))
    return abs(step / beat - whole) < 2 * SAME_TEMPO * whole


def _beat(before: float | None, after: float | None) -> float | None:
    """The beat between two sides; None where they disagree."""
    if before is None or after is None:
        return before if after is None else after
    return math.sqrt(before * after) if abs(math.log(before / after)) < NEAR_TEMPO else None


def _bend(before: float | None, after: float | None) -> float:
    """What a change of tempo from one side to the other leaves open, in seconds."""
    return 0.0 if before is None or after is None else 0.5 * abs(after - before)


def _jitter(at_s: Numbers) -> Numbers:
    """How far beats around each row usually lie off the middle of their neighbours, seconds (robust)."""
    out = np.zeros(len(at_s))
    if len(at_s) < 5:
        return out
    off = at_s[1:-1] - 0.5 * (at_s[:-2] + at_s[2:])
    # From one beat to the next, so that a ramp, which puts all beats nearly equally far off, is no jitter.
    # For beats that wander each by itself the difference is the square root of three times what `off` is.
    change = (np.abs(np.diff(off)) / math.sqrt(3.0)).tolist()
    for row in range(len(at_s)):
        # change[k] tells of rows k to k + 3: those that a move of this row would show in are left out.
        near = change[max(0, row - 3 - AROUND) : max(0, row - 3)] + change[row + 1 : row + 1 + AROUND]
        out[row] = 1.4826 * median(near) if near else 0.0
    # A map that wanders everywhere may keep still by chance for a few bars.
    return np.asarray(np.maximum(out, 0.7 * np.median(out)))


def find_breaks(at_s: Numbers, accents: Flags, bar: int | None) -> list[Break]:
    """Gaps, pauses, shifts of the grid and half or double time, in order. at_s: beats without extras."""
    steps = np.diff(at_s)
    breaks: list[Break] = []
    for i, step in enumerate(steps.tolist()):
        before, after = _sides(steps, i)
        if before is None and after is None:
            continue
        near = [math.log(step / side) for side in (before, after) if side is not None]
        change = _change(steps, i)
        if change is not None:
            breaks.append(Break(i, "change", ratio=change))
        if min(abs(ratio) for ratio in near) < 0.22:
            continue
        if all(ratio < 0 for ratio in near):
            breaks.append(Break(i, "shift"))
            continue
        if not all(ratio > 0 for ratio in near):
            # Between one tempo and a slower one: a step that fits neither is a held beat.
            continue
        missing = _missing(i, step, before, after, steps, accents, bar)
        breaks.append(Break(i, "gap", beats=missing) if missing else Break(i, "pause"))
    return breaks


def _sides(steps: Numbers, i: int) -> tuple[float | None, float | None]:
    """The beat before and after interval i: the smaller of the two nearest intervals' medians."""
    before = steps[max(0, i - 3) : i]
    after = steps[i + 1 : i + 4]
    return (
        median(before.tolist()) if len(before) else None,
        median(after.tolist()) if len(after) else None,
    )


def _missing(
    i: int, step: float, before: float | None, after: float | None, steps: Numbers, accents: Flags,
    bar: int | None,
) -> int:  # fmt: skip
    """Beats that are missing in interval i; 0 where it is a hold, a free section or another grid."""
    if after is None:
        return 0
    beat = _beat(before, after)
    if beat is None:
        return 0
    whole = round(step / beat)
    sides = (steps[max(0, i - 4) : i], steps[i + 1 : i + 5])
    uneven = 3.0 * max(float(np.median(np.abs(side - np.median(side)))) for side in sides if len(side))
    bend = _bend(before, after)
    room = max(GRID_S, GRID_SHARE * beat, min(uneven, MOST_UNEVEN * beat))
    if bend <= RAMP_BEND * beat:
        room = max(room, 1.2 * whole * bend)
    expected = whole * beat if before is None or after is None else whole * 0.5 * (before + after)
    grid = abs(step - expected) <= room
    missing = whole - 1
    if not grid or not 1 <= missing <= (bar or 4):
        return 0
    counted = _count_says(i, missing, accents, bar)
    if counted is not None:
        return missing if counted else 0
    if before is None or i < 2 or len(steps) - i < 3:
        return 0
    # Twice the beat three times running is half time, not three gaps.
    like = [
        abs(math.log(steps[k] / step)) < 0.05 for k in (i - 2, i - 1, i + 1, i + 2) if 0 <= k < len(steps)
    ]
    return 0 if sum(like) >= 2 else missing


def _count_says(i: int, missing: int, accents: Flags, bar: int | None) -> bool | None:
    """Whether the bar around interval i lacks beats (a hold keeps them all); None where no accents tell."""
    if bar is None or missing % bar == 0:
        return None
    at = np.flatnonzero(accents)
    before, after = at[at <= i], at[at > i]
    if not len(before) or not len(after):
        return None
    # Bars elsewhere keep to the metre, or the count proves nothing.
    lengths = np.diff(at)
    if len(lengths) < 3 or np.mean(lengths % bar == 0) < 0.7:
        return None
    counted = int(after[0] - before[-1])
    if (counted + missing) % bar == 0:
        return True
    return False if counted % bar == 0 else None


def _change(steps: Numbers, i: int) -> float | None:
    """2.0 where double time, 0.5 where half time begins with interval i: steady before and after."""
    if i < SETTLED or i + SETTLED > len(steps):
        return None
    before, after = steps[i - SETTLED : i].tolist(), steps[i : i + SETTLED].tolist()
    for part in (before, after):
        if max(part) - min(part) > 0.02 * median(part):
            return None
    ratio = median(before) / median(after)
    for wanted in (2.0, 0.5):
        if abs(math.log(ratio / wanted)) < 0.01:
            return wanted
    return None
