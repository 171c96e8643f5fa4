"""How well a stem's rhythm lies on a click: a stem of another song has the beat of that song.

rhythm_fit(onsets, beats_s) -> RhythmFit | None
placed_on(onsets, beats_s) -> (beats, weights) | None
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.results import Onsets, RhythmFit

Numbers = npt.NDArray[np.float64]

LEAST_ONSETS = 24
LEAST_BEATS = 12

LEVELS = (1, 2, 3, 4, 6)
"""Equal parts of a beat that onsets may stand on: beats, eighths, triplets, sixteenths, sextuplets."""

FAST, FAST_BEATS = 8, 0.18
"""Thirty-seconds, and what half of the steps from one stroke to the next are shorter than where a stem plays
them: an arpeggio at 90 beats a minute lies on sextuplets at 120 as well. Slower ones would, too, if they were
asked."""

LONGEST = 1.6
"""So many usual beats: what is longer is a pause, and no beat is laid over it."""

STRENGTH_DB = 40.0
"""Onsets weigh by their strength up to this: twice the sum is not twice the beat."""


def rhythm_fit(onsets: Onsets | None, beats_s: npt.NDArray[np.float64]) -> RhythmFit | None:
    """How the onsets gather in the beats of a click, in either half of the stem; None for too few of them.

    For each subdivision the length of the mean of e^(2πi·k·phase): 1 for onsets that all stand at one place
    of it, about 1/√n for those of another tempo (Rayleigh's test). The best subdivision tells.
    """
    placed = None if onsets is None else placed_on(onsets, beats_s)
    if placed is None:
        return None
    phase, weights = placed
    half = len(phase) // 2
    fast = float(np.median(np.diff(phase))) < FAST_BEATS
    best = max((*LEVELS, FAST) if fast else LEVELS, key=lambda level: abs(_mean(phase, weights, level)))
    return RhythmFit(
        fit=abs(_mean(phase, weights, best)),
        first_half=abs(_mean(phase[:half], weights[:half], best)),
        second_half=abs(_mean(phase[half:], weights[half:], best)),
        onsets=len(phase),
    )


def placed_on(onsets: Onsets, beats_s: Numbers) -> tuple[Numbers, Numbers] | None:
    """Where onsets lie on a click, in its beats, and what they weigh: arrays of one length. None for too few
    beats, or too few onsets under them."""
    if len(beats_s) < LEAST_BEATS:
        return None
    times_s = np.array(onsets.times_s)
    weights = np.minimum(np.array(onsets.strengths_db, dtype=np.float64), STRENGTH_DB)
    steps = np.diff(beats_s)
    place = np.searchsorted(beats_s, times_s, side="right") - 1
    inside = (place >= 0) & (place < len(steps))
    inside[inside] &= steps[place[inside]] < LONGEST * np.median(steps)
    if inside.sum() < LEAST_ONSETS:
        return None
    times_s, weights, place = times_s[inside], weights[inside], place[inside]
    return place + (times_s - beats_s[place]) / steps[place], weights


def _mean(phase: npt.NDArray[np.float64], weights: npt.NDArray[np.float64], level: int) -> complex:
    turned = np.exp(2j * np.pi * level * phase)
    return complex((weights * turned).sum() / max(float(weights.sum()), 1e-9))
