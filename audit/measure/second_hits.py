"""Ticks that hit twice: a sound with a second hit in it, a slap-back echo, a flam.

    first_hits(ticks) -> Ticks without what follows each of them at one short distance

Where most sounds of a click are followed by another that is no louder, always so many milliseconds later and
much sooner than the next one comes, those are one tick each. Subdivisions are even, or swung by a third or a
quarter, and a beat that is doubled by mistake is one among many.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.tick_events import Ticks

NEAREST_S, FARTHEST_S = 0.024, 0.15
"""Sounds nearer than this are heard as one anyway; farther ones are notes."""

SAME_S = 0.003
"""The distance is the same within this."""

STRAYING = 1.6
"""In a click that is known to hit twice, up to so many times the distance."""

MOST = 0.6
"""Of the sounds that begin something are followed so."""

SOONER = 0.4
"""The second hit comes within this part of the time to the next tick."""

SWUNG, NEAR = (1 / 3, 1 / 4), 0.006
"""Where it comes after such a part of that time it is a note: swung and dotted ones."""

LATE, FAINTER_DB = 0.2, 3.0
"""From the first part of that time on a second hit is an echo and fainter by so much: other swings are as
loud."""

LOUDER_DB = 0.5
"""A second hit is no louder than the first; rounding aside."""

FEWEST = 6
"""Sounds below which nothing comes round often enough to tell."""

Flags = npt.NDArray[np.bool_]


def first_hits(ticks: Ticks) -> Ticks:
    """The same ticks where they do not hit twice."""
    again = _second(ticks)
    if not again.any():
        return ticks
    keep = ~again
    return Ticks(
        at_s=ticks.at_s[keep], level_db=ticks.level_db[keep], kind=ticks.kind[keep],
        likeness=ticks.likeness[keep], sounds=ticks.sounds,
    )  # fmt: skip


def _second(ticks: Ticks) -> Flags:
    """Which sounds are the second hit of the one before."""
    none = np.zeros(len(ticks), dtype=np.bool_)
    if len(ticks) < FEWEST:
        return none
    step = np.diff(ticks.at_s)
    after = np.append(step[1:], np.inf)
    short = (step >= NEAREST_S) & (step <= FARTHEST_S) & (step <= SOONER * (step + after))
    short &= np.diff(ticks.level_db) <= LOUDER_DB
    if not short.any():
        return none
    usual_s = float(np.median(step[short]))
    share = float(np.median((step / (step + after))[short]))
    as_loud = float(np.median(np.diff(ticks.level_db)[short])) > -FAINTER_DB
    if any(abs(share - part) <= NEAR for part in SWUNG) or (share > LATE and as_loud):
        return none
    same = short & (np.abs(step - usual_s) <= SAME_S)
    firsts = len(ticks) - int(same.sum())
    if same.sum() < max(3.0, MOST * firsts):
        return none
    # Some begin to be heard a little later.
    return np.append(False, same | (short & (step <= STRAYING * usual_s)))
