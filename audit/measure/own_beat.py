"""Where a stem lies that marks the beat in a figure of its own: by its strokes on the beats alone.

    on_its_own_beat(times_s, grid, band) -> OwnBeat | None
    gathering(at_s, beat_s)              -> how many strokes lie about each place of the beat

Hats swung as nobody else swings, or drums among sounds that hardly strike, meet the others' pattern no better
than chance. Their strokes on the beats still gather at one place, on nearly every beat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.beatgrid import BeatGrid

Numbers = npt.NDArray[np.float64]

GATHER_S, NEAR_S = 0.012, 0.025
"""Strokes of one place of the beat lie so near to one another; what lies farther off is another place."""

MARKED, CLEARLY = 0.8, 1.15
"""It marks the beat if it strikes on so many of the beats that it plays over, and if so many times as many of
its strokes gather there as at any other place of the beat."""

RESTS = 8
"""So many beats without a stroke are a rest, and no beats that it plays over."""

FARTHEST = 0.22
"""Farther from the click than this part of the beat it may as well be an off-beat that it marks."""

FEWEST = 30


@dataclass(frozen=True, slots=True)
class OwnBeat:
    """Strokes on the beats."""

    at_s: Numbers  # when each sounds
    off_s: Numbers  # how far after the band's own beat
    beats: float  # share of the beats from its first to its last one that have a stroke


def on_its_own_beat(times_s: Numbers, grid: BeatGrid, band: float) -> OwnBeat | None:
    """Its strokes on the beats, where nearly every beat has one and most gather there; else None.

    times_s: its strokes within the click's runs, ascending. band: the band's own beat, in beats after the
    click's.
    """
    phases = (grid.phases(times_s) - band + 0.5) % 1.0 - 0.5
    at_s = phases * grid.usual_s
    counts = gathering(np.sort(at_s), grid.usual_s)
    if len(counts) < FEWEST:
        return None
    middle_s = float(np.sort(at_s)[np.argmax(counts)])
    apart = (np.sort(at_s) - middle_s + 0.5 * grid.usual_s) % grid.usual_s - 0.5 * grid.usual_s
    elsewhere = counts[np.abs(apart) > NEAR_S + GATHER_S].max(initial=1.0)
    there = np.abs(at_s - middle_s) <= NEAR_S
    if abs(middle_s) > FARTHEST * grid.usual_s or counts.max() < CLEARLY * elsewhere or there.sum() < FEWEST:
        return None
    middle_of_beats_s = times_s[there] - at_s[there] + (0.5 - band) * grid.usual_s
    beats = np.unique(np.searchsorted(grid.beats_s, middle_of_beats_s))
    steps = np.diff(beats)
    share = len(beats) / float(1 + steps[steps < RESTS].sum() + (steps >= RESTS).sum())
    if share < MARKED:
        return None
    return OwnBeat(at_s=times_s[there], off_s=at_s[there], beats=share)


def gathering(at_s: Numbers, beat_s: float) -> Numbers:
    """How many of the times, ascending within one beat around 0, lie within GATHER_S of each, round it."""
    round_s = np.concatenate([at_s - beat_s, at_s, at_s + beat_s])
    return np.asarray(
        np.searchsorted(round_s, at_s + GATHER_S, side="right") - np.searchsorted(round_s, at_s - GATHER_S),
        dtype=np.float64,
    )
