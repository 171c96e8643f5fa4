"""The rule on stems that are off by whole beats or bars from end to end."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Beats
from audit.rules.arrangement import NOBODY, follows_another_arrangement
from audit.rules.bars import beat_s, in_bars
from audit.rules.camps import Place, agree, two_camps
from audit.rules.likeness import alike
from audit.rules.parts import listed
from audit.rules.places import SLOW
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule


@rule(
    id="shifted-by-beats",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=1.0,
        unit="beat",
        more={
            "fit": 0.14,
            "of_usual": 0.4,
            "faint_of_usual": 0.5,
            "of_best": 0.62,
            "of_best_least": 0.5,
            "as_is": 0.85,
            "as_is_fast": 0.75,
            "as_is_slow": 0.7,
            "fast_s": 0.4,
            "gain": 0.02,
            "faint": 0.2,
            "faint_gain": 0.04,
            "sure": 2.0,
            "sure_odd": 2.4,
            "without": 1.3,
            "backbeat": 2.0,
            "on_turns": 0.33,
            "held": 0.12,
            "half": 0.95,
            "clear": 0.3,
            "clear_as_is": 0.5,
            "clear_sure": 1.4,
            "clear_without": 1.2,
        },
    ),
    message="{early_late} by {span} ({seconds:.3f} s, {samples} samples): moved by that its chords go with "
    "{witnesses} ({there} alike), as it stands they do not ({here}){or_by}{beside}",
    cure="Listen to it with {first}. If it is off, move it {samples} samples ({span}) {cure_way}, or bounce "
    "it again from bar 1 of the current version.",
    again="{span} {cure_way} ({samples} samples), from bar 1 of the current version",
    means="The whole stem plays whole beats or bars early or late: its chords and notes change when those of "
    "the other stems do, but {limit:g} beat or more beside them.",
    on_stage="Another chord under every bar; a song that cannot be played on.",
    measured="What begins, where the chord turns and what sounds in every part of a beat, by pitch class, "
    "is laid against each other stem at every lag up to 32 beats (audit.measure.beat_shift). Asked for: a "
    "correlation of {fit:g} at that lag and {of_usual:.0%} of what the other stems have with one another "
    "({faint_of_usual:.0%} for correlations under {faint:g}); "
    "without the stem that fits best {of_best:.0%} of it are left, or {of_best_least:.0%} and as much as "
    "the others have; no more than {as_is:.0%} of it as the stem stands ({as_is_fast:.0%} for lags under "
    "{fast_s:g} s, {as_is_slow:.0%} for one beat of stems that swell), by what begins and by what sounds "
    "alike; at least two other stems that say so, more than twice as many as say the opposite; bars that "
    "say so outweigh the others {sure:g} times their own spread ({sure_odd:g} for lags other than one or "
    "two beats or whole bars, which need a correlation of {clear:g} too), and {without:g} times without the "
    "stem that says it loudest (a canon or an echo follows one stem); {clear_sure:g} and {clear_without:g} "
    "times where the correlation is {clear:g} and at most {clear_as_is:.0%} of it as the stem stands. A "
    "stem whose witnesses are themselves off the other way, and more surely, is not told. Songs come round: "
    "a shift by a whole loop of the harmony cannot be told, and of lags that fit alike the smallest is "
    "named. Drums, noise and single held tones are not judged; nor is a stem said to be one beat off that "
    "fits {half:g} times as well half a beat off, or one beat late that begins "
    "{backbeat:g} times as often on two and four as on one and three, or where chords turn less than "
    "{on_turns:g} times as often as a beat after and does not hold the old one on (by what "
    "sounds it gains less than {held:g}): such figures are meant so. Two camps of equal size, each "
    "of which says so of the other alone, are one warning.",
    source="The bounds: own measurement, on songs without fault that were made to provoke (canons, echoes, "
    "answers, pushed chords, pedal basses, loops).",
)
def shifted_by_beats(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if all(stem.alignment is None or stem.alignment.beats is None for stem in song.stems):
        yield NotApplicable(reason=NOBODY)
        return
    for stem, off in _shifted(song):
        if not follows_another_arrangement(song, stem):
            yield _shift_hit(song, stem, off)
    camps = two_camps(
        [
            Place(stem=stem.name, beats=beats.shift_beats, saying_so=beats.saying_so)
            for stem in song.stems
            if stem.alignment is not None
            and (beats := stem.alignment.beats) is not None
            and beats.sure >= limit["sure"]
            and beats.at_best >= limit["fit"]
            and beats.at_zero <= limit["as_is"] * beats.at_best
            and min(beats.gain_by_changes, beats.gain_by_state) >= limit["gain"]
        ]
    )
    if camps is not None:
        late, early, size = camps
        yield Hit(
            value=size,
            severity=Severity.WARNING,
            message="two camps, {span} apart: {late} play after {early}; by their chords alone either may be "
            "right",
            cure="Listen to {first_late} with {first_early}, then bounce the camp that is off again from bar "
            "1 of the current version.",
            again="from bar 1 of the current version, together with the song's other stems",
            facts={
                "span": in_bars(size, song.click),
                "late": listed(late, 4),
                "early": listed(early, 4),
                "first_late": late[0],
                "first_early": early[0],
                "late_stems": late,
                "early_stems": early,
            },
        )


def is_shifted(
    beats: Beats,
    limit: Limit,
    *,
    role: Role | None = None,
    beat_length_s: float | None = None,
    beats_a_bar: int | None = None,
) -> bool:
    """Whether the evidence is enough to say that a stem is off by whole beats."""
    size, rest = abs(beats.shift_beats), beats.at_best_without_loudest
    as_is = limit["as_is"]
    if beat_length_s is not None and size * beat_length_s < limit["fast_s"]:
        as_is = min(as_is, limit["as_is_fast"])
    if size <= 1.0 and role in SLOW:
        as_is = min(as_is, limit["as_is_slow"])
    # Edits leave whole bars behind, a wrong count-in or a trimmed start a beat or two.
    usual = size <= 2.0 or size % (beats_a_bar or 4) == 0.0
    sure, without = limit["sure" if usual else "sure_odd"], limit["without"]
    if usual and beats.at_best >= limit["clear"] and beats.at_zero <= limit["clear_as_is"] * beats.at_best:
        sure, without = limit["clear_sure"], limit["clear_without"]
    faint = beats.at_best < limit["faint"]
    least = limit["fit" if usual else "clear"]
    return (
        size >= limit.value
        and not (size == 1.0 and _is_half(beats, limit))
        and not (beats.shift_beats == 1.0 and _waits_a_beat(beats, limit))
        and beats.at_best >= max(least, limit["faint_of_usual" if faint else "of_usual"] * beats.usual)
        and (
            rest >= limit["of_best"] * beats.at_best
            or rest >= max(limit["fit"], beats.usual, limit["of_best_least"] * beats.at_best)
        )
        and beats.at_zero <= as_is * beats.at_best
        and beats.gain_by_changes >= limit["gain"]
        and beats.gain_by_state >= limit["faint_gain" if faint else "gain"]
        and beats.sure >= sure
        and beats.sure_without_loudest >= without
        and agree(beats.saying_so, beats.against)
    )


def _is_half(beats: Beats, limit: Limit) -> bool:
    """Whether half a beat on the same side fits about as well: then it is no whole one."""
    half = beats.half_late if beats.shift_beats > 0.0 else beats.half_early
    return half >= limit["half"] * beats.at_best


def _waits_a_beat(beats: Beats, limit: Limit) -> bool:
    """Whether it begins beside the others' turns of chord and hardly on them: a figure that is meant so. Who
    is late by a beat strikes the old chord on the new one's beat, or holds it."""
    held = beats.gain_by_state >= limit["held"]
    return beats.backbeat >= limit["backbeat"] or (beats.on_turns < limit["on_turns"] and not held)


def _shifted(song: SongEvidence) -> list[tuple[StemEvidence, Beats]]:
    """The stems that are off by whole beats. One that is late makes the stems it is laid against look early:
    whoever is off the other way by the word of a surer one needs two other witnesses."""
    told = [(stem, beats) for stem in song.stems if (beats := _told(stem, song)) is not None]
    surest: list[tuple[StemEvidence, Beats]] = []
    for stem, beats in sorted(told, key=lambda one: one[1].at_zero - one[1].at_best):
        opposite = {one.name for one, other in surest if other.shift_beats * beats.shift_beats < 0.0}
        if len(set(beats.saying_so) - opposite) >= 2:
            surest.append((stem, beats))
    return [pair for pair in told if pair in surest]


def _told(stem: StemEvidence, song: SongEvidence) -> Beats | None:
    """Its whole beats off, where the evidence is enough."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    limit = shifted_by_beats.limit
    assert limit is not None
    a_bar = song.click.beats_a_bar if song.click is not None else None
    if beats is None or not is_shifted(
        beats, limit, role=stem.role, beat_length_s=beat_s(song.click), beats_a_bar=a_bar
    ):
        return None
    return beats


def off_by_beats(stem: StemEvidence, song: SongEvidence) -> bool:
    """Whether this rule or stale-arrangement speaks of the stem: others then leave its place in the beat
    to them."""
    return follows_another_arrangement(song, stem) or any(stem is one for one, _ in _shifted(song))


def _shift_hit(song: SongEvidence, stem: StemEvidence, beats: Beats) -> Hit:
    rate_hz = stem.format.sample_rate_hz if stem.format is not None else 48_000
    late = beats.shift_beats > 0.0
    phase = stem.alignment.phase if stem.alignment is not None else None
    beside_ms = phase.from_others_ms if phase is not None and abs(phase.from_others_ms) > 10.0 else 0.0
    seconds = abs(beats.shift_beats * (beat_s(song.click) or 0.5) + beside_ms / 1000.0)
    second = beats.second_beats
    as_good = beats.at_second >= 0.9 * beats.at_best
    return Hit(
        stem=stem.name,
        value=beats.shift_beats,
        confidence=min(1.0, beats.sure_without_loudest / 4.0),
        facts={
            "early_late": "late" if late else "early",
            "cure_way": "earlier" if late else "later",
            "span": in_bars(beats.shift_beats, song.click),
            "seconds": seconds,
            "samples": round(seconds * rate_hz),
            "fit": beats.at_best,
            "as_is_fit": beats.at_zero,
            "there": alike(beats.at_best),
            "here": alike(beats.at_zero),
            "witnesses": listed(beats.saying_so, 4),
            "first": beats.saying_so[0],
            "or_by": f" (or {in_bars(second, song.click)} {'late' if second > 0 else 'early'}, which fits as "
            "well)"
            if as_good
            else "",
            "beside": f"; within the beat {abs(beside_ms):.0f} ms {'late' if beside_ms > 0 else 'early'}"
            if beside_ms
            else "",
            "sure": beats.sure,
            "sure_without_loudest": beats.sure_without_loudest,
            "agreeing": beats.saying_so,
        },
    )


RULES = (shifted_by_beats,)
