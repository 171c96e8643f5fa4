"""Every stem against the harmony of its song's others: whole beats or bars early or late.

    shift_by_beats(slots, motions, pairs, names, beats_a_bar) -> one Beats a stem; None: not told

Two stems of one song change their tones at the same times: chords, roots, tunes on chord tones. What begins
(and, with less weight, what sounds) in each slot of one stem is laid against the other's at every lag of up
to 32 beats. The lags of a stem against all others are added up, each other stem weighted by how well it fits
the rest itself, so that one that is astray, or a tune of its own, says little.

Songs come round: after a loop of four bars all is as before, and a lag of that loop fits as well as none.
So the question is never which lag is best, but whether one is better than none, and whether at least two
other stems say so: a canon, an echo or an answer follows one stem, a stem that was shifted is off from all.
Sureness is counted in bars: the sum of what each bar says over the root of the sum of its squares, once for
all other stems and once without the one that says it loudest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.beat_pairs import REACH_BEATS, Pairs, fit_by_slot, lateness, witnesses
from audit.measure.beat_place import place_in_beats
from audit.measure.beat_slots import BeatSlots, Motion, added
from audit.results import Beats

Numbers = npt.NDArray[np.float64]

NEAR_A_BEAT = 0.7
"""From this part of a beat on a lag is nearly a beat: pushes of an eighth, swung or not, lie below."""

ALIKE = 0.9
"""Lags that fit nearly as well as the best: of these the smallest is taken, the others are told."""

BESIDE = 0.8
"""Whole bars are taken if they fit this nearly as well as a lag a beat beside them."""

SAYS = 0.03
"""Another stem speaks for a lag or against it from this difference of its fit on (correlation −1 … 1)."""


def shift_by_beats(
    slots: BeatSlots, motions: Sequence[Motion], pairs: Pairs, names: Sequence[str], beats_a_bar: int
) -> tuple[Beats | None, ...]:
    """One result a stem, in the order given. names: labels for the result and nothing else."""
    return tuple(_shift(number, slots, motions, pairs, names, beats_a_bar) for number in range(len(motions)))


def _shift(
    number: int,
    slots: BeatSlots,
    motions: Sequence[Motion],
    pairs: Pairs,
    names: Sequence[str],
    beats_a_bar: int,
) -> Beats | None:
    others = witnesses(number, motions, pairs)
    if len(others) < 2:
        return None
    weights = pairs.weights[others] / pairs.weights[others].sum()
    late = [lateness(other, [one for one in others if one != other], pairs) for other in others]

    def against(kind: dict[tuple[int, int], Numbers]) -> Numbers:
        """Fit with each of the others, each where it is not late."""
        laid: Numbers = np.stack(
            [np.roll(kind[number, other], by) for other, by in zip(others, late, strict=True)]
        )
        return laid

    curves = against(pairs.curves)
    total: Numbers = weights @ curves
    places = {
        beat: top
        for beat in range(-REACH_BEATS, REACH_BEATS + 1)
        if beat and (top := _top(total, pairs.reach, beat, slots.per_beat)) is not None
    }
    beats, tops = list(places), list(places.values())
    fits = [float(total[top]) for top in tops]
    best = int(np.argmax(fits))
    alike = [k for k in alike_to(fits, best) if abs(beats[k] - beats[best]) > 1]
    taken = min([best, *alike], key=lambda k: (abs(beats[k]), -fits[k]))
    # Chords played off the beat fit a beat beside as well: whole bars are what edits leave behind.
    beside = [k for k in range(len(beats)) if abs(beats[k] - beats[taken]) == 1]
    whole = [k for k in beside if beats[k] % beats_a_bar == 0 and fits[k] >= BESIDE * fits[taken]]
    if beats[taken] % beats_a_bar:
        smaller = [k for k in beside if fits[k] >= BESIDE * fits[taken] and abs(beats[k]) < abs(beats[taken])]
        taken = next(iter([*whole, *smaller]), taken)
    second = max((k for k in range(len(beats)) if abs(beats[k] - beats[taken]) > 1), key=lambda k: fits[k])
    zero, lag = pairs.reach + pairs.at_zero(total), tops[taken]
    said: Numbers = curves[:, lag] - curves[:, zero]
    votes: Numbers = curves[:, lag - 1 : lag + 2].max(axis=1) - curves[
        :, pairs.reach - pairs.near : pairs.reach + pairs.near + 1
    ].max(axis=1)
    best_lag, as_is = lag - pairs.reach, zero - pairs.reach
    bars: Numbers = weights[:, None] * np.stack([
        bar_sums(motions[number], motions[other], best_lag - by, as_is - by, slots, beats_a_bar)
        for other, by in zip(others, late, strict=True)
    ])  # fmt: skip
    loudest = int(np.argmax(weights * said))
    rest = np.delete(weights, loudest)

    strokes = Strokes.of(
        motions[number], added([motions[other] for other in others], weights), slots.per_beat
    )

    def gain(*kinds: dict[tuple[int, int], Numbers]) -> float:
        curve: Numbers = weights @ sum(against(kind) for kind in kinds)
        return float(curve[lag] - curve[pairs.reach + pairs.at_zero(curve)])

    return Beats(
        shift_beats=float(beats[taken]),
        at_best=fits[taken],
        at_best_without_loudest=float(rest @ np.delete(curves[:, lag], loudest) / rest.sum()),
        at_zero=float(total[zero]),
        half_late=_half(total, pairs, 1),
        half_early=_half(total, pairs, -1),
        gain_by_changes=gain(pairs.changes, pairs.turns),
        gain_by_state=gain(pairs.state),
        second_beats=float(beats[second]),
        at_second=fits[second],
        sure=sureness(bars.sum(axis=0)),
        sure_without_loudest=sureness(np.delete(bars, loudest, axis=0).sum(axis=0)),
        usual=float(np.median(pairs.weights[others])),
        backbeat=strokes.backbeat,
        on_turns=strokes.on_turns,
        saying_so=tuple(names[other] for other, one in zip(others, votes, strict=True) if one >= SAYS),
        against=tuple(names[other] for other, one in zip(others, votes, strict=True) if one <= -SAYS),
        place=place_in_beats(number, others, late, weights, slots, motions, pairs, names),
    )


@dataclass(frozen=True, slots=True)
class Strokes:
    """How often a stem begins beside the band's turns of chord."""

    backbeat: float
    on_turns: float

    @classmethod
    def of(cls, one: Motion, band: Motion, per_beat: int) -> Strokes:
        """backbeat: how many times more on the beats beside the turns than on those beats and two beats
        later: chops on two and four. The smaller count of the former over the larger of the latter.
        on_turns: on the turns themselves over a beat after them; 0 for whoever never strikes there."""
        turns = (band.turns**2).sum(axis=1)
        turns = np.maximum(turns - np.median(turns), 0.0)
        begun = np.maximum(one.changes - np.median(one.changes, axis=0), 0.0).sum(axis=1)
        about = np.convolve(begun, np.ones(3), mode="same")
        edge = 2 * per_beat
        inner = turns[edge:-edge]

        def after(beats: int) -> float:
            lag = beats * per_beat
            return float(inner @ about[edge + lag : len(about) - edge + lag])

        beside, on = (after(-1), after(1)), (after(0), after(2))
        # Counts near none are no rhythm: a stem that begins on one beat of a bar has no backbeat.
        return cls(
            backbeat=min(beside) / max(*on, 0.3 * max(beside), 1e-12),
            on_turns=on[0] / max(beside[1], 1e-12),
        )


def alike_to(fits: Sequence[float], best: int) -> list[int]:
    """Which fits are nearly as good."""
    return [k for k, fit in enumerate(fits) if fit >= ALIKE * fits[best]]


def _top(curve: Numbers, reach: int, beat: int, per_beat: int) -> int | None:
    """Where a lag of so many beats fits best: there or a slot beside. A beat off none has to fit better than
    all that lies between: who plays against pushed chords is half a beat off and not late. None: it does
    not."""
    centre = reach + beat * per_beat
    top = centre - 1 + int(np.argmax(curve[centre - 1 : centre + 2]))
    if abs(beat) > 1:
        return top
    if abs(top - reach) < NEAR_A_BEAT * per_beat:
        top = centre
    low, high = sorted((reach, reach + beat * int(np.ceil(NEAR_A_BEAT * per_beat) - 1)))
    return top if curve[top] > curve[low : high + 1].max() else None


def _half(curve: Numbers, pairs: Pairs, sign: int) -> float:
    """The best fit about half a beat late (sign 1) or early (−1), to an eighth of a beat."""
    half, beside = pairs.per_beat // 2, pairs.per_beat // 8
    return max(float(curve[pairs.reach + sign * lag]) for lag in range(half - beside, half + beside + 1))


def bar_sums(one: Motion, other: Motion, lag: int, zero: int, slots: BeatSlots, beats_a_bar: int) -> Numbers:
    """By how much the lag fits better than none, bar by bar."""
    better = fit_by_slot(one, other, lag) - fit_by_slot(one, other, zero)
    sums: Numbers = np.add.reduceat(better, np.arange(0, len(better), beats_a_bar * slots.per_beat))
    return sums


def sureness(bars: Numbers) -> float:
    """Sum over the root of the sum of squares: bars that say nothing count for nothing."""
    power = float((bars**2).sum())
    return float(bars.sum()) / float(np.sqrt(power)) if power > 1e-12 else 0.0
