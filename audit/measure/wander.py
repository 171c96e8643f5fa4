"""DC offset that comes and goes within seconds, seen where it outweighs the sound.

    wandering_offset(means, powers) -> Wander   of one channel's 100 ms steps

Over ten seconds and more an offset is told from a lopsided waveform by arithmetic (`offset`). In a shorter
stretch notes differ too much for that: so tried, windows of 5 s accused a one-sided synth pad and windows of
3 s a brass line behind a 1 Hz coupling. What is left is to look at it. In a step of m on average, with an RMS
of r about that, m above OUTWEIGHS times r is hardly a sound; where it stays on one side for LEAST_S it is
none that can be heard.

Why it does not speak of
* bass notes, sub drops, kick tails: a wave that comes back to zero within the step has m far below r; slower
  ones change sides at least once a second;
* rumble, wind, the warp of a record (0.56 Hz and up): so do they;
* brass, voices, one-sided synths, with or without tremolo or ducking: their mean goes with their own level.
  In the louder half of the stem it is LOPSIDED times smaller in proportion than what is told;
* the swing back behind a coupling of 1 Hz and more: it is over sooner.
Such a wave that comes to rest off zero for that long (a drop that ends at 0 Hz) is told: it is an offset.

Loud steps say nothing, neither that there is an offset nor that there is none; quiet ones that show none do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.steps import STEP_S

Floats = npt.NDArray[np.floating]

LIMIT = 10.0 ** (-50.0 / 20.0)
"""Of the mean of a step: what the rule tells (0.3 % of full scale)."""

OUTWEIGHS = 2.0
LOPSIDED = 3.0
LOUD = 1e-3
"""RMS from which on a step of the louder half is asked how lopsided the stem is: −60 dBFS."""

LEAST_S = 1.0
GAP_STEPS = 5
"""So many steps in a row may be too loud to say anything within a stretch."""

FEWEST_STEPS = 5
"""A stretch is seen in so many at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wander:
    """The stretch farthest from zero: its middle value, signed, full scale 1.0; where, how long. None: 0."""

    offset: float = 0.0
    first_step: int = 0
    steps: int = 0


def wandering_offset(means: Floats, powers: Floats) -> Wander:
    """means, powers: mean and mean square of each 100 ms, shape (steps,)."""
    mean = means.astype(np.float64)
    level = np.sqrt(np.maximum(powers - mean**2, 0.0))
    bound = max(OUTWEIGHS, LOPSIDED * _lopsided(mean, level)) * level
    shown = np.where((np.abs(mean) > LIMIT) & (np.abs(mean) > bound), np.sign(mean), 0.0)
    telling = np.flatnonzero((shown != 0.0) | (bound < LIMIT))
    if not np.any(shown):
        return Wander()
    side = shown[telling]
    begins = np.flatnonzero(
        (np.diff(side, prepend=0.0) != 0.0) | (np.diff(telling, prepend=-1) > GAP_STEPS + 1)
    )
    ends = np.append(begins[1:], len(telling))
    worst = Wander()
    for begin, end in zip(begins[side[begins] != 0.0], ends[side[begins] != 0.0], strict=True):
        steps = int(telling[end - 1] - telling[begin]) + 1
        if end - begin >= FEWEST_STEPS and steps >= round(LEAST_S / STEP_S):
            offset = float(np.median(mean[telling[begin:end]]))
            if abs(offset) > abs(worst.offset):
                worst = Wander(offset=offset, first_step=int(telling[begin]), steps=steps)
    return worst


def _lopsided(mean: Floats, level: Floats) -> float:
    """|m| over r that one in ten steps of the louder half passes; 0.0 where none sounds."""
    sounding = level[level > LOUD]
    if not len(sounding):
        return 0.0
    louder = level >= np.median(sounding)
    return float(np.quantile(np.abs(mean[louder]) / level[louder], 0.9))
