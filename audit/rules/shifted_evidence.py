"""What a stem's harmony has to say before it is said to be off by whole beats.

    is_shifted(beats, limit, ...) -> bool               at the lag that fits best
    a_bar_off(beats, limit, beats_a_bar) -> OneBar | None      one bar, however faintly

The limits are those of shifted-by-beats (`shifted.py`), whose text says what each asks.
"""

from __future__ import annotations

from audit.facts import Role
from audit.results import Beats, OneBar
from audit.rules.beat_habits import ON_TURNS
from audit.rules.camps import agree
from audit.rules.phases import SLOW, TUNES
from audit.rules.rule import Limit


def is_shifted(
    beats: Beats,
    limit: Limit,
    *,
    role: Role | None = None,
    beat_length_s: float | None = None,
    beats_a_bar: int | None = None,
    figure: bool = False,
) -> bool:
    """Whether the evidence is enough to say that a stem is off by whole beats. figure: one that waits a beat
    is no excuse."""
    # Edits leave whole bars behind, a wrong count-in or a trimmed start a beat or two.
    usual = abs(beats.shift_beats) <= 2.0 or beats.shift_beats % (beats_a_bar or 4) == 0.0
    return (
        abs(beats.shift_beats) >= limit.value
        and not _may_be_meant(beats, limit, role=role, figure=figure)
        and beats.at_zero <= _most_as_it_stands(beats, limit, role, beat_length_s) * beats.at_best
        and _fits_there(beats, limit, usual=usual)
        and _fits_without_loudest(beats, limit)
        and _gains(beats, limit)
        and _is_sure(beats, limit, usual=usual, tune=role in TUNES)
        and agree(beats.saying_so, beats.against)
    )


def _may_be_meant(beats: Beats, limit: Limit, *, role: Role | None, figure: bool) -> bool:
    """Whether half a beat explains it as well, or a figure that waits a beat or answers half a bar later."""
    if abs(beats.shift_beats) == 1.0 and _is_half(beats, limit):
        return True
    if beats.shift_beats == 1.0 and not figure and _waits_a_beat(beats, limit):
        return True
    answers = abs(beats.shift_beats) == 2.0 and role is not None and role not in ON_TURNS
    return answers and _answers(beats, limit)


def _most_as_it_stands(beats: Beats, limit: Limit, role: Role | None, beat_length_s: float | None) -> float:
    """The most that it may fit as it stands, as a share of its best fit."""
    size, asked = abs(beats.shift_beats), [limit["as_is"]]
    if beat_length_s is not None and size * beat_length_s < limit["fast_s"]:
        asked.append(limit["as_is_fast"])
    if size <= 1.0 and role in SLOW:
        asked.append(limit["as_is_slow"])
    if size == 2.0:  # half a bar: many figures come round so
        asked.append(limit["as_is_two"])
    return min(asked)


def _fits_there(beats: Beats, limit: Limit, *, usual: bool) -> bool:
    """Well enough by itself, and beside how the other stems fit one another."""
    of_usual = limit["faint_of_usual" if _is_faint(beats, limit) else "of_usual"]
    return beats.at_best >= max(limit["fit" if usual else "clear"], of_usual * beats.usual)


def _fits_without_loudest(beats: Beats, limit: Limit) -> bool:
    """Nearly as well as with it, or as well as the other stems fit one another."""
    rest = beats.at_best_without_loudest
    return rest >= limit["of_best"] * beats.at_best or rest >= max(
        limit["fit"], beats.usual, limit["of_best_least"] * beats.at_best
    )


def _gains(beats: Beats, limit: Limit) -> bool:
    """By what begins and by what sounds alike."""
    by_state = limit["faint_gain" if _is_faint(beats, limit) else "gain"]
    return beats.gain_by_changes >= limit["gain"] and beats.gain_by_state >= by_state


def _is_sure(beats: Beats, limit: Limit, *, usual: bool, tune: bool) -> bool:
    """By how far the bars that say so outweigh the others, with and without the stem that says it loudest."""
    if tune:
        return beats.sure >= limit["tune_sure"] and beats.sure_without_loudest >= limit["tune_without"]
    sure, without = limit["sure" if usual else "sure_odd"], limit["without"]
    if usual and beats.at_best >= limit["clear"] and beats.at_zero <= limit["clear_as_is"] * beats.at_best:
        sure, without = limit["clear_sure"], limit["clear_without"]
    return beats.sure >= sure and beats.sure_without_loudest >= without


def _is_faint(beats: Beats, limit: Limit) -> bool:
    return beats.at_best < limit["faint"]


def a_bar_off(beats: Beats, limit: Limit, beats_a_bar: int, *, role: Role) -> OneBar | None:
    """One bar, where it fits better however faintly: who plays few bars or few tones fits faintly wherever it
    is, and somewhere within 32 beats as well by chance. A canon follows one stem that it fits closely, and a
    tune fits two by chance. Own measurement: of 686 stems of 157 clean songs none is told so; two of players,
    that fit better a bar off by what begins alone, were before what sounds was asked too, and a chopped voice
    before three stems were asked for beside a tune."""
    bar = beats.a_bar
    if bar is None or not abs(bar.shift_beats) == beats_a_bar >= limit.value:
        return None
    follows = bar.loudest >= limit["bar_follows"] and bar.without_loudest < limit["of_best"] * bar.fit
    told = (
        bar.fit >= max(limit["bar_fit"], limit["bar_of_usual"] * beats.usual)
        and beats.at_zero <= limit["bar_as_is"] * bar.fit
        and bar.gain_by_changes >= limit["bar_by_changes"]
        and bar.gain_by_state >= limit["bar_by_state"]
        and bar.sure >= limit["bar_sure"]
        and not follows
        and len(bar.saying_so) >= (3 if role in TUNES else 2)
        and agree(bar.saying_so, bar.against)
    )
    return bar if told else None


def _is_half(beats: Beats, limit: Limit) -> bool:
    """Whether half a beat on the same side fits about as well: then it is no whole one."""
    half = beats.half_late if beats.shift_beats > 0.0 else beats.half_early
    return half >= limit["half"] * beats.at_best


def _answers(beats: Beats, limit: Limit) -> bool:
    """Whether a guitar, a horn or a tune may mean to play half a bar after the others: it fits them less than
    they fit one another, or one stem says most of it."""
    of_usual = limit["answer_of_usual" if beats.shift_beats > 0.0 else "ahead_of_usual"]
    return beats.at_best < of_usual * beats.usual or beats.sure_without_loudest < limit["answer_without"]


def _waits_a_beat(beats: Beats, limit: Limit) -> bool:
    """Whether it begins beside the others' turns of chord and hardly on them: a figure that is meant so. Who
    is late by a beat strikes the old chord on the new one's beat, or holds it."""
    held = beats.gain_by_state >= limit["held"]
    return beats.backbeat >= limit["backbeat"] or (beats.on_turns < limit["on_turns"] and not held)
