"""The tempo map of a click: stretches of one tempo, and ramps from one to another.

tempi(at_s, missing) -> the stretches of beats that follow one another

A tempo is read from beat to beat; a stretch is what one straight line over the beats tells to a fifth
of a per cent. Where one does not, it is parted where two lines fit best, if they surely fit better: ticks
of a player or a worn machine scatter, and a scatter is no tempo.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from audit.results import ClickTempo

Numbers = npt.NDArray[np.float64]

STEADY, FITS = 0.005, 0.002
"""As much of a tempo is no change of it; a line that is nowhere farther off than the second is enough."""

SURELY = 20.0
"""Two stretches in place of one: what they explain of the squared rest for each number they need more, over
what is left for each step (the F of two nested fits). Chance has such a one in a hundred of eight steps."""

SHORTEST = 3
"""Steps of a stretch: two have a line that fits for nothing."""

MOST = 32


def tempi(at_s: Numbers, missing: frozenset[int] = frozenset()) -> tuple[ClickTempo, ...]:
    """at_s: times of beats, two and more, seconds. missing: beats after which others are missing (their step
    is left out). In order; at_s of a stretch is the first beat of its first step."""
    kept = np.array([step for step in range(len(at_s) - 1) if step not in missing], dtype=np.int64)
    if not len(kept):
        return ()
    bpm = 60.0 / np.diff(at_s)[kept]
    edges = [*sorted(_parts(bpm, 0, len(bpm))), len(bpm)]
    found: list[ClickTempo] = []
    for first, end in pairwise(edges):
        one = _stretch(bpm[first:end], float(at_s[kept[first]]))
        if found and _alike(found[-1], one):
            continue
        found.append(one)
    return tuple(found)


def _parts(bpm: Numbers, first: int, end: int) -> Iterator[int]:
    """Where stretches begin."""
    todo, begins = [(first, end)], 0
    while todo:
        first, end = todo.pop()
        whole = bpm[first:end]
        rest = whole - _line(whole)
        place = _best_parting(whole) if np.max(np.abs(rest)) > FITS * whole.mean() else None
        if place is not None and begins + len(todo) < MOST:
            left = _both(whole, place)
            if (float(rest @ rest) - left) / 2.0 >= SURELY * left / max(1, len(whole) - 4):
                todo += [(first + place, end), (first, first + place)]
                continue
        begins += 1
        yield first


def _best_parting(bpm: Numbers) -> int | None:
    places = range(SHORTEST, len(bpm) - SHORTEST + 1)
    # Far apart first, then closely about the best: a song has some thousand beats.
    coarse = max(1, len(bpm) // 64)
    best = min(places[::coarse], key=lambda place: _both(bpm, place), default=None)
    if best is None:
        return None
    near = [place for place in range(best - coarse, best + coarse + 1) if place in places]
    return min(near, key=lambda place: _both(bpm, place))


def _both(bpm: Numbers, place: int) -> float:
    return _rest(bpm[:place]) + _rest(bpm[place:])


def _rest(bpm: Numbers) -> float:
    rest = bpm - _line(bpm)
    return float(rest @ rest)


def _line(bpm: Numbers) -> Numbers:
    """The straight line through the tempi of the steps (least squares)."""
    at = np.arange(len(bpm)) - (len(bpm) - 1) / 2.0
    slope = float(at @ bpm) / float(at @ at) if len(bpm) > 1 else 0.0
    return np.asarray(bpm.mean() + slope * at)


def _stretch(bpm: Numbers, at_s: float) -> ClickTempo:
    """From its first beat to its last: half a step beyond the middles of its steps."""
    line = _line(bpm)
    half = (line[-1] - line[0]) / max(1, len(bpm) - 1) / 2.0
    if abs(line[-1] - line[0]) <= STEADY * line.mean():
        mean = 60.0 / float(np.mean(60.0 / bpm))
        return ClickTempo(at_s=at_s, bpm_first=mean, bpm_last=mean)
    # A line through what is none, a held tempo before a ramp, would run past every tempo that was heard.
    least, most = max(bpm.min() - abs(half), bpm.min() / 2.0), bpm.max() + abs(half)
    first, last = np.clip([line[0] - half, line[-1] + half], least, most).tolist()
    return ClickTempo(at_s=at_s, bpm_first=first, bpm_last=last)


def _alike(before: ClickTempo, after: ClickTempo) -> bool:
    """Whether both are of one tempo all the way."""
    all_four = (before.bpm_first, before.bpm_last, after.bpm_first, after.bpm_last)
    return max(all_four) - min(all_four) <= STEADY * min(all_four)
