"""Beats that a voice or another sound may hide: where to look for them, and the ticks with those found.

masked_places(ticks) -> seconds     sounds_of(ticks) -> what to look for     with_found(ticks, sought)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from audit.measure.click_beats import choose_beats
from audit.measure.click_grid import find_extras
from audit.measure.tick_events import FOUND, Numbers, Ticks
from audit.measure.tick_search import Sought, TickSound

FARTHEST = 12
"""Beats looked for from either end of a hole."""

MOST_PLACES = 2000
WIDE = 10
APART_S = 0.02
ON_GRID = 0.04
NEAR_S = 1.0
"""Beside the ends: a sound that is no tick begins within a second; words last."""


def masked_places(ticks: Ticks) -> tuple[float, ...]:
    """Where beats would lie in holes of the click, and beside its ends; empty for a click without holes."""
    chosen = choose_beats(ticks)
    if chosen is None or not sounds_of(ticks):
        return ()
    off = {extra.row for extra in find_extras(ticks.at_s[chosen.beats])}
    beats = np.array([row for number, row in enumerate(chosen.beats.tolist()) if number not in off])
    if len(beats) < 3:
        return ()
    places = sorted([*_beside_the_ends(ticks, beats), *_in_holes(ticks.at_s[beats])])
    heard = [place for place in places if place >= 0]
    apart = [b for a, b in zip([-1.0, *heard], heard, strict=False) if b - a > 0.012]
    return tuple(float(place) for place in apart[:MOST_PLACES])


def _beside_the_ends(ticks: Ticks, beats: npt.NDArray[np.int64]) -> list[float]:
    """Before its first beat and after its last a click may be hidden only where something else sounds."""
    known = {int(kind) for kind in ticks.kind[beats]}
    strangers = ticks.at_s[[i for i, kind in enumerate(ticks.kind.tolist()) if kind not in known]]
    if not len(strangers):
        return []
    at_s = ticks.at_s[beats]
    steps = np.diff(at_s)
    ends = [
        *_run(at_s[0], -float(np.median(steps[:4])), 0.0),
        *_run(at_s[-1], float(np.median(steps[-4:])), float(ticks.at_s[-1]) + 0.2),
    ]
    return [place for place in ends if np.abs(strangers - place).min() < NEAR_S]


def _in_holes(at_s: Numbers) -> list[float]:
    """Where beats would lie between two that are farther apart than those around: at even parts of the hole,
    and on from either side at the tempo there."""
    steps = np.diff(at_s)
    places: list[float] = []
    for i, step in enumerate(steps.tolist()):
        beat = _beat_in_a_hole(steps, i)
        if beat is None:
            continue
        count = round(step / beat)
        if count <= FARTHEST:
            places.extend(at_s[i] + step * k / count for k in range(1, count))
        if i:
            places.extend(_run(at_s[i], float(np.median(steps[max(0, i - 3) : i])), at_s[i + 1]))
        if i + 1 < len(steps):
            places.extend(_run(at_s[i + 1], -float(np.median(steps[i + 1 : i + 4])), at_s[i]))
    return places


def _beat_in_a_hole(steps: Numbers, i: int) -> float | None:
    """The beat around a step, where that is so long that beats are missing; None where none are."""
    around = steps[max(0, i - WIDE) : i + WIDE + 1]
    if steps[i] < 1.6 * around.min():
        return None  # whatever the beat is
    # A voice in the click's own rhythm hides every other beat: a wider look tells the true one.
    beat = float(np.percentile(around, 20))
    return beat if steps[i] >= 1.6 * beat else None


def _run(start_s: float, step_s: float, until_s: float) -> list[float]:
    """Places one step after another from `start_s` (not itself) towards `until_s`."""
    most = min(FARTHEST, int(abs((until_s - start_s) / step_s) + 0.3)) if step_s else 0
    return [start_s + k * step_s for k in range(1, most + 1)]


def sounds_of(ticks: Ticks) -> tuple[TickSound, ...]:
    """The kinds of the click's beats that have a waveform, with their usual peaks."""
    chosen = choose_beats(ticks)
    if chosen is None:
        return ()
    kinds = ticks.kind[chosen.beats]
    names, sizes = np.unique(kinds, return_counts=True)
    sounds = []
    for name, size in zip(names.tolist(), sizes.tolist(), strict=True):
        if size >= 3 and name in ticks.sounds:
            level = float(np.median(ticks.level_db[chosen.beats][kinds == name]))
            sound = ticks.sounds[name]
            sounds.append(
                TickSound(kind=name, wave=sound.wave, start_s=sound.start_s, peak=10.0 ** (level / 20.0))
            )
    return tuple(sounds)


def with_found(ticks: Ticks, sought: Sequence[Sought]) -> Ticks:
    """The ticks, with those that were found under other sounds.

    A place where nothing can be told counts as a beat where the beats on both sides keep to one grid across
    it: nobody can say that it is missing.
    """
    ticking = ticks.at_s[np.isin(ticks.kind, [s.kind for s in sought])]
    fresh: list[Sought] = []

    def put(s: Sought) -> None:
        taken = [*ticking[np.abs(ticking - s.at_s) < APART_S], *(f.at_s for f in fresh)]
        if all(abs(s.at_s - at_s) >= APART_S for at_s in taken):
            fresh.append(s)

    for s in sought:
        if s.there:
            put(s)
    certain = np.sort(np.concatenate([ticking, [s.at_s for s in fresh]]))
    for s in sought:
        if s.there is None and _on_the_grid(s.place_s, certain):
            put(s)
    if not fresh:
        return ticks
    at_s = np.concatenate([ticks.at_s, [s.at_s for s in fresh]])
    order = np.argsort(at_s, kind="stable")

    def joined(old: Numbers, values: list[float]) -> Numbers:
        return np.concatenate([old, np.array(values, dtype=old.dtype)])[order]

    return replace(
        ticks,
        at_s=at_s[order],
        level_db=joined(ticks.level_db, [20.0 * float(np.log10(max(s.peak, 1e-9))) for s in fresh]),
        kind=np.concatenate([ticks.kind, np.array([s.kind for s in fresh], dtype=np.int64)])[order],
        likeness=joined(ticks.likeness, [FOUND for _ in fresh]),
    )


def _on_the_grid(place_s: float, beats_s: Numbers) -> bool:
    """Whether a place, and the hole it lies in, are whole numbers of the beats around them."""
    after = int(np.searchsorted(beats_s, place_s))
    if after < 1 or after > len(beats_s) - 1:
        return False
    near = np.diff(beats_s[max(0, after - WIDE) : after + WIDE])
    beat = float(np.percentile(near, 20))
    spans = (beats_s[after] - beats_s[after - 1], place_s - beats_s[after - 1])
    return all(abs(span / beat - round(span / beat)) < ON_GRID for span in spans)
