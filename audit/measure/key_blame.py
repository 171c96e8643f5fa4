"""Which of a song's stems is the transposed one: every two of them alone.

KeyPairs(harmonies)   .gain(number, turn)  .lead(number, turn)  .votes(number, turn)  .turn_back(number, turn)

Two stems that stand a semitone apart say nothing of which of them is wrong. The others do: the one is wrong
that, turned, goes better with all of them together than any other would, turned as it likes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt

FEWEST_FRAMES = 8
"""Four seconds together: two stems that share less say nothing of each other."""

MANY_FRAMES = 16
"""With as many a vote needs `VOTE`, with fewer as much more as they are fewer."""

VOTE = 0.2
"""One other stem alone speaks for a turn that fits by so much more, chords and scale added, or against."""

Numbers = npt.NDArray[np.float64]


class KeyPairs:
    """asked: numbers of the stems. compare(i, j): scores of two of them alone, shape (frames in which both
    sound, 12), column k with i turned k semitones up; called when something is first asked. Memory: 13
    numbers a pair."""

    def __init__(self, asked: Sequence[int], compare: Callable[[int, int], Numbers]) -> None:
        self._asked = list(asked)
        self._compare = compare
        self._back = dict.fromkeys(asked, 0)

    @cached_property
    def _pairs(self) -> dict[tuple[int, int], tuple[Numbers, int]]:
        """By two stems their mean scores, and how many frames tell."""
        found: dict[tuple[int, int], tuple[Numbers, int]] = {}
        for place, one in enumerate(self._asked):
            for other in self._asked[:place]:
                scores = self._compare(one, other)
                if len(scores) >= FEWEST_FRAMES:
                    mean = scores.mean(axis=0)
                    found[one, other] = mean, len(scores)
                    found[other, one] = np.roll(mean[::-1], 1), len(scores)
        return found

    def turn_back(self, number: int, turn: int) -> None:
        """From now on the stem is taken as turned by so many semitones up from where it stands."""
        self._back[number] = turn % 12

    def gain(self, number: int, turn: int) -> float:
        """How much better it goes with all others together, turned so: the more, the longer they sound."""
        return float(self._gains(number)[turn % 12])

    def lead(self, number: int, turn: int) -> float:
        """By how much of it that explains more than turning any other stem by anything would, 0 … 1; below 0:
        less. 0 where it explains nothing."""
        own = self.gain(number, turn)
        rival = max((self._gains(other).max() for other in self._asked if other != number), default=0.0)
        return float((own - rival) / own) if own > 0.0 else 0.0

    def votes(self, number: int, turn: int) -> tuple[int, int]:
        """How many others alone fit better to it turned so, and how many worse."""
        agree = disagree = 0
        for scores, frames in self._with_all_others(number):
            needs = VOTE * max(1.0, MANY_FRAMES / frames)
            better = scores[turn % 12] - scores[0]
            agree += bool(better >= needs)
            disagree += bool(better <= -needs)
        return agree, disagree

    def _gains(self, number: int) -> Numbers:
        total = np.zeros(12)
        for scores, frames in self._with_all_others(number):
            total += (scores - scores[0]) * frames**0.5
        return total

    def _with_all_others(self, number: int) -> Iterator[tuple[Numbers, int]]:
        for other in self._asked:
            if (number, other) in self._pairs:
                scores, frames = self._pairs[number, other]
                yield np.roll(scores, self._back[other] - self._back[number]), frames
