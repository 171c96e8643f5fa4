"""How a new audio lies over an old sketch: moved as a whole, or by something put in or taken out.

    laid_over(old, new, at_hand, coarser) -> Overlap | None

A stem that was moved as a whole has one lag; one into which bars were put has two: one before the place, one
behind it. The best lag, or pair of lags, is the one that leaves the least of both unexplained: in music whose
bars are all alike, any number of bars fits nearly as well, but then a part of the new audio is nobody's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
import numpy.typing as npt

from audit.measure.sketch import crest_frames, crests_of, wave_weights
from audit.measure.sketch_fit import AtHand, Fit, Flags, Floats, clear, fit_at, sounding
from audit.results import Sketch

MOST_LAGS = 6
"""Lags that are tried, beside none and the difference of the lengths."""

MOST_LANDMARKS = 1500

WHOLE = 0.97
"""Share of the sounding chunks from which on all of it counts as the same: the first and last may be cut."""

LEAST_PUT_IN = 48
"""Frames. Filters move sound by less; a shorter piece counts where both sides are the same to the bit."""

SEARCHED, REACH_S, ALIGNED = 24, 2.0, 0.6
SEARCH_BELOW = 0.8
"""Where no lag explains more than that, the new audio is added up around so many of the old highest samples,
so far either way: at the right lag all of them come together, and reach that share of what they add up to."""

BETTER, BETTER_FITTING = 0.04, 0.005
"""By which share two lags have to explain more of both than one; and where they make up the new length."""

LEAST_SHARE = 0.25
"""Less in common than this is another recording."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """How the new audio lies over the old one."""

    before: Fit
    behind: Fit | None  # where something was put in or taken out: what lies behind that
    split: int  # the first old chunk that is not before it
    latest: int  # as `split`: in music whose bars are alike it can as well be any up to there
    gone: int  # chunks from `split` on that are in none of both: taken out
    sounding: Flags  # old chunks that count
    share: float  # 0 … 1: of those, what is alike, or follows a gain that changes slowly

    @property
    def found(self) -> Flags:
        """The old chunks that are found again: to the bit where most of them are, else alike."""
        before = self._found_in(self.before)
        return before if self.behind is None else self._joined(before, self._found_in(self.behind))

    @property
    def gains(self) -> Floats:
        """Of each old chunk, over the gain of the whole; NaN where nothing tells."""
        if self.behind is None:
            return self.before.gains
        return np.concatenate([self.before.gains[: self.split], self.behind.gains[self.split :]])

    @property
    def follows(self) -> Flags:
        """At a gain that changes slowly."""
        if self.behind is None:
            return self.before.follows
        return self._joined(self.before.follows, self.behind.follows)

    @property
    def silent(self) -> Flags:
        """Old chunks that sounded, and do no longer."""
        if self.behind is None:
            return self.before.silent
        return self._joined(self.before.silent, self.behind.silent)

    def _joined(self, before: Flags, behind: Flags) -> Flags:
        return np.concatenate([before[: self.split], behind[self.split :]])

    def _found_in(self, fit: Fit) -> Flags:
        same = (fit.same & self.sounding).sum() * 2 > (fit.alike & self.sounding).sum()
        return fit.same if same else fit.alike


def laid_over(
    old: Sketch, new: Sketch, at_hand: AtHand | None = None, *, coarser: bool = False
) -> Overlap | None:
    """None where the two have less than LEAST_SHARE in common. Both at one rate, and not silent."""
    loud, claimed = sounding(old), _Claimed(old, new)
    fits = [fit_at(old, new, lag, at_hand, coarser=coarser) for lag in _lags(old, new)]
    reached = max(claimed.score([(fit, fit.explained & loud)]) for fit in fits)
    if at_hand is not None and reached < SEARCH_BELOW:
        fits += [fit_at(old, new, lag, at_hand, coarser=coarser) for lag in _searched(old, at_hand)]
    whole, score = _as_a_whole(fits, loud, claimed)
    best = whole
    if whole.share < WHOLE or score < WHOLE:
        best = _in_two(old, new, fits, whole, score, claimed)
    return best if best.share >= LEAST_SHARE else None


def _as_a_whole(fits: Sequence[Fit], loud: Flags, claimed: _Claimed) -> tuple[Overlap, float]:
    """At the one lag that explains most, with its score."""
    total = max(1, int(loud.sum()))

    def share(flags: Flags) -> float:
        return float((flags & loud).sum()) / total

    one = max(
        fits,
        key=lambda fit: (
            round(claimed.score([(fit, fit.explained & loud)]), 2), round(share(fit.exact), 1),
            -abs(fit.lag_frames),
        ),
    )  # fmt: skip
    whole = Overlap(
        before=one, behind=None, split=len(loud), latest=len(loud), gone=0, sounding=loud,
        share=share(one.explained),
    )  # fmt: skip
    return whole, claimed.score([(one, one.explained & loud)])


def _in_two(
    old: Sketch, new: Sketch, fits: Sequence[Fit], whole: Overlap, score: float, claimed: _Claimed
) -> Overlap:
    """The best of all pairs of lags, where one explains enough more than a single lag does; else that."""
    best, loud = whole, whole.sounding
    total = max(1, int(loud.sum()))
    for before, behind in product(fits, fits):
        if not _are_apart(before, behind, loud):
            continue
        gone = max(0, (before.lag_frames - behind.lag_frames) // old.chunk_frames)
        first, second = before.explained & loud, behind.explained & loud
        # Of bars that are alike, those that are the same to the bit tell the place.
        split, latest = _split(first + 1e-4 * before.same, second + 1e-4 * behind.same, gone)
        first[split:], second[: split + gone] = False, False
        if not first.any() or not second.any():
            continue
        reached = claimed.score([(before, first), (behind, second)])
        better = 0.0
        if best is whole:
            fitting = behind.lag_frames == new.frames - old.frames
            better = _has_to_be_better(before, whole, score, claimed, fitting=fitting)
        if reached > score + better:
            best = Overlap(
                before=before, behind=behind, split=split, latest=latest, gone=gone, sounding=loud,
                share=(int(first.sum()) + int(second.sum())) / total,
            )  # fmt: skip
            score = reached
    return best


def _are_apart(before: Fit, behind: Fit, loud: Flags) -> bool:
    """Far enough for something to have been put in; or at all, where both sides are the same to the bit."""
    apart = abs(behind.lag_frames - before.lag_frames)
    exact = bool((before.same & loud).any() and (behind.same & loud).any())
    return apart >= LEAST_PUT_IN or (apart > 0 and exact)


def _has_to_be_better(
    before: Fit, whole: Overlap, score: float, claimed: _Claimed, *, fitting: bool
) -> float:
    """By how much two lags have to pass the score of the whole. fitting: they make up the new length."""
    # Of what lies, in good part, where it lay nothing was moved: equal bars look so.
    if fitting and before.lag_frames == 0 != whole.before.lag_frames:
        stays = claimed.score([(before, before.explained & whole.sounding)])
        if stays >= 0.5 * score:
            return -BETTER_FITTING
    return BETTER_FITTING if fitting else BETTER


class _Claimed:
    """Which share of both, of what sounds, is explained by old chunks found again at their lags."""

    def __init__(self, old: Sketch, new: Sketch) -> None:
        self._chunk = old.chunk_frames
        self._old, self._new = int(sounding(old).sum()), sounding(new)

    def score(self, found: Sequence[tuple[Fit, Flags]]) -> float:
        """0 … 1. A part of the new audio that two old ones claim counts once, for both."""
        claimed = np.zeros(len(self._new) + 1, dtype=np.bool_)
        old = 0
        for fit, flags in found:
            chunks = np.flatnonzero(flags)
            old += len(chunks)
            first = chunks + fit.lag_frames // self._chunk
            for touched in (first, first + (fit.lag_frames % self._chunk > 0)):
                claimed[touched[(touched >= 0) & (touched < len(claimed))]] = True
        new = int((claimed[:-1] & self._new).sum())
        return 2 * min(old, new) / max(1, self._old + int(self._new.sum()))


def _lags(old: Sketch, new: Sketch) -> Sequence[int]:
    """None, the difference of the lengths, and those lags that most highest samples agree on."""
    first, second = _landmarks(old), _landmarks(new)
    found, votes = np.unique((second[None, :] - first[:, None]).ravel(), return_counts=True)
    ranked = np.lexsort((np.abs(found), -votes))[:MOST_LAGS]
    chosen = [int(found[at]) for at in ranked if votes[at] >= 2]
    return list(dict.fromkeys([0, new.frames - old.frames, *chosen]))


def _searched(old: Sketch, at_hand: AtHand) -> list[int]:
    """The lag at which the new audio is high where the old one was; none where it is so at no lag.

    For what is equally high all the time, as timecode is: there any chunk's highest sample is another one
    once the grid begins elsewhere.
    """
    loud = np.flatnonzero(clear(old))
    chosen = loud[np.linspace(0, len(loud) - 1, min(len(loud), SEARCHED)).astype(int)] if len(loud) else loud
    reach = int(REACH_S * old.rate_hz)
    heights, places = crests_of(old)[chosen], crest_frames(old)[chosen]
    total = np.zeros(2 * reach + 1)
    power = 0.0
    for height, place in zip(heights, places.tolist(), strict=True):
        around = at_hand.chunk(place - reach, 2 * reach + 1)
        wave = (around @ wave_weights(around.shape[1])).astype(np.float64)
        total += np.sign(height) * wave
        power += float(np.abs(wave).max())
    best = int(np.argmax(np.abs(total)))
    return [best - reach] if power > 0.0 and abs(float(total[best])) >= ALIGNED * power else []


def _landmarks(sketch: Sketch) -> npt.NDArray[np.int64]:
    """Frames of the highest samples; of a long stem those that stand out, which a gain leaves as they are."""
    loud = np.flatnonzero(sounding(sketch))
    highest = loud[np.argsort(-np.abs(crests_of(sketch)[loud]), kind="stable")[:MOST_LANDMARKS]]
    return crest_frames(sketch)[np.sort(highest)]


def _split(before: Floats, behind: Floats, gone: int) -> tuple[int, int]:
    """The chunk up to which the first lag explains, so that the second, from `gone` chunks later on, explains
    the most; and the last one that does as well."""
    left = np.concatenate([[0.0], np.cumsum(before)])
    right = np.concatenate([np.cumsum(behind[::-1])[::-1], np.zeros(gone + 1)])
    sums = left + right[gone : gone + len(left)]
    sums[0] = 0.0  # at the very start the first lag explains nothing
    best = np.flatnonzero(sums >= sums.max() - 1e-6)
    return int(best[0]), int(best[-1])
