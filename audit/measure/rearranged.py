"""Where a stem leaves the song's arrangement: a bar cut out of it or repeated, and all that follows shifted.

    rearranged(slots, motions, pairs, names, beats_a_bar) -> one Rearranged a stem, or None

What each bar of a stem says for a lag of one to eight bars and against none (beat_shift) is added up from the
end of the song backward: the place where that sum is highest is where the other arrangement begins. Before
it the bars must say the opposite. How much of the gain lies where both play is told too: a bass that rests
eight bars after the pads do, and plays on after they have ended, fits eight bars off by its rests alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.measure.beat_company import SAYS, sureness
from audit.measure.beat_pairs import Pairs, fit_by_slot, witnesses
from audit.measure.beat_slots import BeatSlots, Motion, added
from audit.results import Rearranged

Numbers = npt.NDArray[np.float64]

MOST_BARS = 8
FEWEST_BARS = 4
"""Before and after the place."""


def rearranged(
    slots: BeatSlots, motions: Sequence[Motion], pairs: Pairs, names: Sequence[str], beats_a_bar: int
) -> tuple[Rearranged | None, ...]:
    """One result a stem, in the order given; None where no place is better than none."""
    return tuple(_change(number, slots, motions, pairs, names, beats_a_bar) for number in range(len(motions)))


def _change(
    number: int,
    slots: BeatSlots,
    motions: Sequence[Motion],
    pairs: Pairs,
    names: Sequence[str],
    beats_a_bar: int,
) -> Rearranged | None:
    others = witnesses(number, motions, pairs)
    bar = beats_a_bar * slots.per_beat
    if len(others) < 2 or len(slots) < (2 * FEWEST_BARS + MOST_BARS) * bar:
        return None
    weights: Numbers = pairs.weights[others] / pairs.weights[others].sum()

    def by_beat(chosen: Numbers, shares: Numbers) -> Numbers:
        """What each beat adds, of slots; shape (chosen, beats)."""
        beats: Numbers = shares[:, None] * chosen.reshape(len(chosen), -1, slots.per_beat).sum(axis=2)
        return beats

    def fits(lag: int, chosen: Sequence[Motion], shares: Numbers) -> Numbers:
        """To the fit with each of the chosen."""
        return by_beat(np.stack([fit_by_slot(motions[number], other, lag) for other in chosen]), shares)

    everyone = [motions[other] for other in others]
    # Fits are sums of products: that with all others is the fit with their weighted sum.
    together, whole = [added(everyone, weights)], np.ones(1)
    total: Numbers = weights @ np.stack([pairs.curves[number, other] for other in others])
    zero = pairs.at_zero(total)
    as_is = fits(zero, together, whole)[0]
    edge = FEWEST_BARS * beats_a_bar
    best_gain, best = 0.0, None
    for bars in (*range(-MOST_BARS, 0), *range(1, MOST_BARS + 1)):
        for nudge in (-1, 0, 1):
            lag = bars * bar + nudge
            gains = np.cumsum((fits(lag, together, whole)[0] - as_is)[::-1])[::-1]
            at = edge + int(np.argmax(gains[edge:-edge]))
            # Of lags that gain nearly alike the smaller.
            gain = float(gains[at]) * (1.0 - 0.02 * abs(bars))
            if gain > best_gain:
                best_gain, best = gain, (at, bars, lag)
    if best is None:
        return None
    at, bars, lag = best
    gains_by_slot = np.stack([
        fit_by_slot(motions[number], other, lag) - fit_by_slot(motions[number], other, zero)
        for other in everyone
    ])  # fmt: skip
    both = np.stack([_both_play(motions[number], other, zero, lag) for other in everyone])
    better = by_beat(gains_by_slot, weights)
    before, after = better[:, :at], better[:, at:]
    playing = by_beat(gains_by_slot * both, weights)[:, at:]
    loudest = int(np.argmax(after.sum(axis=1)))
    said = after.sum(axis=1) / weights
    return Rearranged(
        at_s=float(slots.starts_s[at * slots.per_beat]),
        shift_beats=float(bars * beats_a_bar),
        sure_before=-sureness(_by_bar(before.sum(axis=0), beats_a_bar)),
        sure_after=sureness(_by_bar(after.sum(axis=0), beats_a_bar)),
        sure_without_loudest=sureness(_by_bar(np.delete(after, loudest, axis=0).sum(axis=0), beats_a_bar)),
        at_best=float(as_is.sum() + after.sum()),
        at_zero=float(as_is.sum()),
        while_playing=float(np.clip(playing.sum() / max(float(after.sum()), 1e-12), 0.0, 1.0)),
        saying_so=tuple(names[other] for other, one in zip(others, said, strict=True) if one >= 0.5 * SAYS),
        against=tuple(names[other] for other, one in zip(others, said, strict=True) if one <= -0.5 * SAYS),
    )


def _both_play(one: Motion, other: Motion, zero: int, lag: int) -> npt.NDArray[np.bool_]:
    """The slots in which both sound, the other laid as it is and with the change; shape (slots,)."""
    both: npt.NDArray[np.bool_] = one.live.copy()
    for later in (zero, lag):
        there = np.roll(other.live, later)
        if later > 0:
            there[:later] = False
        elif later < 0:
            there[later:] = False
        both &= there
    return both


def _by_bar(beats: Numbers, beats_a_bar: int) -> Numbers:
    sums: Numbers = np.add.reduceat(beats, np.arange(0, len(beats), beats_a_bar))
    return sums
