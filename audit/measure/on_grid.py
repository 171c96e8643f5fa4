"""Where a stem's strokes lie beside the parts of the click's beat, whatever the song's other stems do.

on_grid(times_s, offset_s, grid, spread_s=…, within_s=…) -> ms, or None where they lie on no part
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.beatgrid import BeatGrid

Numbers = npt.NDArray[np.float64]

GRIDS, GATHERED = (1, 2, 3, 4), 0.82
"""Parts of a beat that strokes may lie on, and how well they gather at one distance from them (1: all alike;
0.82 for a normal spread of a tenth of a part)."""

TWO_PLACES, TWO_PLACES_S = 2.0, 0.012
"""Strokes that spread so much more about the beat's parts than about the others' pattern lie at two places
beside the parts. Own measurement: stems on the parts spread 0 to 8 ms wider, lightly swung ones 22 and 26."""

APART_S, FEW_THERE = 0.005, 8
"""Strokes on the beats and strokes between them, so many of each, that lie at distances from their parts
which differ by so much, and by more than the strokes spread: off-beats at 0.65 of a beat are no third."""


def on_grid(
    times_s: Numbers, offset_s: float, grid: BeatGrid, *, spread_s: float, within_s: float
) -> float | None:
    """Median distance from the beat's parts, in ms, where the onsets gather at one distance from them.

    spread_s: how widely (interquartile range) they lie about the others' pattern. Who lies much wider about
    the parts lies at two distances from them, as swung off-beats do: then these say nothing. within_s: how
    near to the pattern's place the parts have to say the same.

    Of whole beats, halves, thirds and quarters it is the coarsest that agree with the pattern (`offset_s`),
    whole parts more or less; where none does, those that the onsets lie nearest to. A circular mean says
    where (Mardia & Jupp 2000, Directional Statistics [memory]).
    """
    phases = grid.phases(times_s)
    nearest_s = None
    for parts in GRIDS:
        turns = np.exp(2j * np.pi * parts * phases).mean()
        if np.abs(turns) < GATHERED:
            continue
        middle = float(np.angle(turns)) / (2.0 * np.pi)
        beside = (parts * phases - middle + 0.5) % 1.0 - 0.5
        part_s = grid.usual_s / parts
        low, high = np.percentile(beside, [25, 75])
        if part_s * float(high - low) > max(TWO_PLACES * spread_s, spread_s + TWO_PLACES_S):
            continue
        between = np.round(parts * phases - middle) % parts != 0
        if part_s * _apart(beside, between) > max(APART_S, spread_s):
            continue
        off_s = part_s * (middle + float(np.median(beside)))
        alike_s = off_s + part_s * round((offset_s - off_s) / part_s)
        if abs(alike_s - offset_s) <= within_s:
            return 1000.0 * alike_s
        nearest_s = off_s if nearest_s is None or abs(off_s) < abs(nearest_s) else nearest_s
    return None if nearest_s is None else 1000.0 * nearest_s


def _apart(beside: Numbers, between: npt.NDArray[np.bool_]) -> float:
    """How far from one another two groups lie in their middle; 0.0 where one is hardly there."""
    if min(np.count_nonzero(between), np.count_nonzero(~between)) < FEW_THERE:
        return 0.0
    return abs(float(np.median(beside[between])) - float(np.median(beside[~between])))
