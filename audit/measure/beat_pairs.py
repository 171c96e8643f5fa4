"""Every two stems of a song laid against each other by their harmony, at every lag.

    compare(slots, motions) -> Pairs      witnesses(number, motions, pairs), lateness(other, rest, pairs)
    fit_by_slot(one, other, lag)          what each slot adds to the fit of two stems

What begins, where the chord turns, and with less weight what sounds in each slot of one stem is laid against
the other's at every lag of up to 32 beats.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.beat_slots import BeatSlots, Motion

Numbers = npt.NDArray[np.float64]

REACH_BEATS = 32
AT_ZERO_S, AT_ZERO_BEATS = 0.15, 0.35
"""Slow attacks lie this far from the others, the smaller of the two, and are not shifted."""

CHANGES_WEIGHT, TURNS_WEIGHT, STATE_WEIGHT = 0.4, 0.4, 0.2
"""Of what begins, of where the chord turns, and of what sounds. Strokes repeat a chord on every beat and fit
a beat beside too, where chords turn but once. Tones that ring on make a pad look late by what sounds."""

MOST_LATE = 0.6
"""A witness that plays after the others by up to this part of a beat is laid back by it."""

TOGETHER = 0.4
"""A stem that sounds in less than this share of another's slots is not asked about it: it answers it."""


@dataclass(frozen=True, slots=True)
class Pairs:
    """Fit of every stem with every other at every lag, in slots: curves[i, j][reach + lag]."""

    changes: dict[tuple[int, int], Numbers]  # by what begins
    turns: dict[tuple[int, int], Numbers]  # by where the chord turns
    state: dict[tuple[int, int], Numbers]  # by what sounds
    curves: dict[tuple[int, int], Numbers]  # both, weighted
    reach: int
    per_beat: int
    near: int  # slots to either side of a lag of none that still are none
    weights: Numbers  # of each stem as a witness

    def at_zero(self, curve: Numbers) -> int:
        """The lag near none that fits best."""
        return int(np.argmax(curve[self.reach - self.near : self.reach + self.near + 1])) - self.near


def compare(slots: BeatSlots, motions: Sequence[Motion]) -> Pairs:
    """Every pair's curve. Those of stems of which nothing is told are left out."""
    told = [number for number, motion in enumerate(motions) if motion.told]
    reach = (REACH_BEATS + 1) * slots.per_beat
    size = 1 << int(np.ceil(np.log2(max(2, len(slots) + reach + 1))))
    spectra = {
        number: (
            np.fft.rfft(motions[number].changes, size, axis=0),
            np.fft.rfft(motions[number].turns, size, axis=0),
            np.fft.rfft(motions[number].state, size, axis=0),
        )
        for number in told
    }
    pairs = Pairs(
        changes={}, turns={}, state={}, curves={}, reach=reach, weights=np.zeros(len(motions)),
        per_beat=slots.per_beat,
        near=max(1, round(min(AT_ZERO_S / max(slots.usual_s, 1e-6), AT_ZERO_BEATS) * slots.per_beat)),
    )  # fmt: skip
    for at, first in enumerate(told):
        for second in told[at + 1 :]:
            parts = []
            for kind, curves in enumerate((pairs.changes, pairs.turns, pairs.state)):
                both = np.fft.irfft((spectra[first][kind] * np.conj(spectra[second][kind])).sum(axis=1), size)
                curve = np.concatenate([both[-reach:], both[: reach + 1]])
                curves[first, second], curves[second, first] = curve, curve[::-1]
                parts.append(curve)
            curve = CHANGES_WEIGHT * parts[0] + TURNS_WEIGHT * parts[1] + STATE_WEIGHT * parts[2]
            pairs.curves[first, second], pairs.curves[second, first] = curve, curve[::-1]
    for one in told:
        fits = sorted(
            max(0.0, float(pairs.curves[one, other][reach + pairs.at_zero(pairs.curves[one, other])]))
            for other in told
            if other != one
        )
        pairs.weights[one] = float(np.mean(fits[-3:])) if fits else 0.0
    return pairs


def witnesses(number: int, motions: Sequence[Motion], pairs: Pairs) -> list[int]:
    """The other stems that can be asked about this one: they sound together with it as it stands."""
    live = motions[number].live
    return [
        other
        for other in range(len(motions))
        if (number, other) in pairs.curves
        and pairs.weights[other] > 0.0
        and (motions[other].live & live).sum() >= TOGETHER * min(live.sum(), motions[other].live.sum())
    ]


def lateness(other: int, rest: Sequence[int], pairs: Pairs) -> int:
    """By how many slots a witness plays after the others, up to MOST_LATE of a beat: a pad that swells is
    half a beat late to all of them. 0 where fewer than two others tell."""
    if len(rest) < 2:
        return 0
    curve = sum(pairs.weights[one] * pairs.curves[other, one] for one in rest)
    reach = int(MOST_LATE * pairs.per_beat) + 1
    late = int(np.argmax(curve[pairs.reach - reach : pairs.reach + reach + 1])) - reach
    return late if 0 < late < reach else 0


def fit_by_slot(one: Motion, other: Motion, lag: int) -> Numbers:
    """What each slot of the one adds to its fit with the other, which is laid `lag` slots later."""
    found = np.zeros(len(one.live))
    for mine, theirs, weight in (
        (one.changes, other.changes, CHANGES_WEIGHT),
        (one.turns, other.turns, TURNS_WEIGHT),
        (one.state, other.state, STATE_WEIGHT),
    ):
        if lag > 0:
            found[lag:] += weight * (mine[lag:] * theirs[:-lag]).sum(axis=1)
        elif lag < 0:
            found[:lag] += weight * (mine[:lag] * theirs[-lag:]).sum(axis=1)
        else:
            found += weight * (mine * theirs).sum(axis=1)
    return found
