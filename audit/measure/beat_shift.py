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

from audit.measure.beat_company import Company
from audit.measure.beat_pairs import REACH_BEATS, Pairs, witnesses
from audit.measure.beat_place import place_in_beats
from audit.measure.beat_slots import BeatSlots, Motion
from audit.results import Beats, OneBar

Numbers = npt.NDArray[np.float64]

NEAR_A_BEAT = 0.7
"""From this part of a beat on a lag is nearly a beat: pushes of an eighth, swung or not, lie below."""

ALIKE = 0.9
"""Lags that fit nearly as well as the best: of these the smallest is taken, the others are told."""

BESIDE = 0.8
"""Whole bars are taken if they fit this nearly as well as a lag a beat beside them."""


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
    company = Company(number, others, slots, motions, pairs, names, beats_a_bar)
    total = company.total
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
    lag = tops[taken]
    here = company.at(lag)
    strokes = Strokes.of(motions[number], company.band(), slots.per_beat)
    return Beats(
        shift_beats=float(beats[taken]),
        at_best=fits[taken],
        at_best_without_loudest=here.without_loudest,
        at_zero=float(total[company.zero]),
        half_late=_half(total, pairs, 1),
        half_early=_half(total, pairs, -1),
        gain_by_changes=company.gain(lag, pairs.changes, pairs.turns),
        gain_by_state=company.gain(lag, pairs.state),
        second_beats=float(beats[second]),
        at_second=fits[second],
        sure=here.sure,
        sure_without_loudest=here.sure_without_loudest,
        usual=float(np.median(pairs.weights[others])),
        backbeat=strokes.backbeat,
        on_turns=strokes.on_turns,
        saying_so=here.saying_so,
        against=here.against,
        place=place_in_beats(
            number, others, company.late, company.weights, slots, motions, pairs, names
        ),
        a_bar=_a_bar(company, pairs, beats_a_bar),
    )  # fmt: skip


def _a_bar(company: Company, pairs: Pairs, beats_a_bar: int) -> OneBar | None:
    """How it fits a bar late or early, whichever is better, whatever other lag fits better still: parts that
    sound seldom fit somewhere within 32 beats by chance."""
    tops = {
        beats: top
        for beats in (-beats_a_bar, beats_a_bar)
        if (top := _top(company.total, pairs.reach, beats, pairs.per_beat)) is not None
    }
    if not tops:
        return None
    beats, top = max(tops.items(), key=lambda one: company.total[one[1]])
    here = company.at(top)
    return OneBar(
        shift_beats=float(beats),
        fit=here.fit,
        without_loudest=here.without_loudest,
        loudest=here.loudest,
        gain_by_changes=company.gain(top, pairs.changes, pairs.turns),
        gain_by_state=company.gain(top, pairs.state),
        sure=here.sure,
        sure_without_loudest=here.sure_without_loudest,
        saying_so=here.saying_so,
        against=here.against,
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
