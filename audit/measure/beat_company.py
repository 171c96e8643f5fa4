"""One stem laid against the others of its song at every lag: how well, by whose word, how surely.

    Company(number, slots, motions, pairs, names, beats_a_bar)   .total  .zero  .at(lag) -> AtLag  .gain(…)

The others are weighted by how well they fit the rest themselves, and each is laid where it is not late.
Sureness is counted in bars: the sum of what each bar says over the root of the sum of its squares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.beat_pairs import Pairs, fit_by_slot, lateness
from audit.measure.beat_slots import BeatSlots, Motion, added

Numbers = npt.NDArray[np.float64]

SAYS = 0.03
"""Another stem speaks for a lag or against it from this difference of its fit on (correlation −1 … 1)."""


@dataclass(frozen=True, slots=True)
class AtLag:
    """How a stem fits at one lag."""

    fit: float
    without_loudest: float  # without the stem that gains most there
    loudest: float  # the fit with that one
    sure: float  # that the lag is better than none
    sure_without_loudest: float
    saying_so: tuple[str, ...]  # the others that fit better there
    against: tuple[str, ...]  # and better as it is


class Company:
    """others: those that can be asked about the stem (`witnesses`), two and more. Curves: correlations at
    every lag, index reach + lag in slots."""

    def __init__(
        self,
        number: int,
        others: Sequence[int],
        slots: BeatSlots,
        motions: Sequence[Motion],
        pairs: Pairs,
        names: Sequence[str],
        beats_a_bar: int,
    ) -> None:
        self.others = list(others)
        self.weights: Numbers = pairs.weights[self.others] / pairs.weights[self.others].sum()
        self.late = [lateness(one, [k for k in self.others if k != one], pairs) for one in self.others]
        self._number, self._slots, self._motions, self._pairs = number, slots, motions, pairs
        self._names, self._beats_a_bar = names, beats_a_bar
        self.curves = self._against(pairs.curves)
        self.total: Numbers = self.weights @ self.curves
        self.zero = pairs.reach + pairs.at_zero(self.total)

    def at(self, lag: int) -> AtLag:
        """lag: an index of the curves."""
        pairs = self._pairs
        said: Numbers = self.curves[:, lag] - self.curves[:, self.zero]
        near = self.curves[:, pairs.reach - pairs.near : pairs.reach + pairs.near + 1]
        votes: Numbers = self.curves[:, lag - 1 : lag + 2].max(axis=1) - near.max(axis=1)
        bars = self._bars(lag)
        loudest = int(np.argmax(self.weights * said))
        rest = np.delete(self.weights, loudest)
        names = [self._names[other] for other in self.others]
        return AtLag(
            fit=float(self.total[lag]),
            without_loudest=float(rest @ np.delete(self.curves[:, lag], loudest) / rest.sum()),
            loudest=float(self.curves[loudest, lag]),
            sure=sureness(bars.sum(axis=0)),
            sure_without_loudest=sureness(np.delete(bars, loudest, axis=0).sum(axis=0)),
            saying_so=tuple(name for name, vote in zip(names, votes, strict=True) if vote >= SAYS),
            against=tuple(name for name, vote in zip(names, votes, strict=True) if vote <= -SAYS),
        )

    def gain(self, lag: int, *kinds: dict[tuple[int, int], Numbers]) -> float:
        """By how much it fits better at that lag than near none, by some kinds of evidence alone."""
        pairs = self._pairs
        curve: Numbers = self.weights @ sum(self._against(kind) for kind in kinds)
        return float(curve[lag] - curve[pairs.reach + pairs.at_zero(curve)])

    def band(self) -> Motion:
        """The others as one."""
        return added([self._motions[other] for other in self.others], self.weights)

    def _against(self, kind: dict[tuple[int, int], Numbers]) -> Numbers:
        """Fit with each of the others, each where it is not late."""
        laid: Numbers = np.stack([
            np.roll(kind[self._number, other], by)
            for other, by in zip(self.others, self.late, strict=True)
        ])  # fmt: skip
        return laid

    def _bars(self, lag: int) -> Numbers:
        """By how much that lag fits better than none, shape (others, bars)."""
        at, as_is = lag - self._pairs.reach, self.zero - self._pairs.reach
        one = self._motions[self._number]
        found: Numbers = self.weights[:, None] * np.stack([
            bar_sums(one, self._motions[other], at - by, as_is - by, self._slots, self._beats_a_bar)
            for other, by in zip(self.others, self.late, strict=True)
        ])  # fmt: skip
        return found


def bar_sums(one: Motion, other: Motion, lag: int, zero: int, slots: BeatSlots, beats_a_bar: int) -> Numbers:
    """By how much the lag fits better than none, bar by bar."""
    better = fit_by_slot(one, other, lag) - fit_by_slot(one, other, zero)
    sums: Numbers = np.add.reduceat(better, np.arange(0, len(better), beats_a_bar * slots.per_beat))
    return sums


def sureness(bars: Numbers) -> float:
    """Sum over the root of the sum of squares: bars that say nothing count for nothing."""
    power = float((bars**2).sum())
    return float(bars.sum()) / float(np.sqrt(power)) if power > 1e-12 else 0.0
