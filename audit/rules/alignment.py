"""The rule on stems that sit beside the beat."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Phase
from audit.rules.alignment_words import Judged, Verdict, between_hit, offset_hit
from audit.rules.half_beats import STRIKES_ON, a_quarter_off, strikes_between, told_apart
from audit.rules.phases import MARKING, SLOW, sure_phases
from audit.rules.places import Habit, as_far, band_ms, click_habits, habits, lie_off, past_habit_ms
from audit.rules.rule import Limit, NotApplicable, Outcome, rule
from audit.rules.shifted import off_by_beats
from audit.rules.whole_song import another_tempo, beside_the_beat
from audit.rules.whole_song_words import beat_hit
from audit.rules.witnesses import STILL, ByClick, Ways, by_click, by_strokes, is_a_part, ways_of
from audit.rules.zero import MANY, at_zero, moved_songs, moved_stems, sure_at_zero

Habits = Mapping[Role, Habit]

STEADY = frozenset({Role.DRUMS, Role.LOOP})
"""Roles that lie as steadily from song to song as from note to note, or more so."""

ENOUGH_TO_BE_SURE = 5


@rule(
    id="offset-from-click",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=10.0,
        unit="ms",
        more={
            "alone": 20.0,
            "lent": 15.0,
            "alone_pitched": 50.0,
            "pitched": 17.0,
            "near_pitched": 14.0,
            "near_bass": 16.0,
            "slow": 30.0,
            "near": 7.5,
            "spreads": 3.0,
            "loose": 1.35,
            "loose_percussion": 1.6,
            "surely": 6.0,
            "figure_ms": 12.0,
            "figure_on_beat": 0.9,
            "figure_before": 0.25,
            "sixteenths": 0.1,
            "alone_slow": 90.0,
            "onsets": 30,
            "confidence": 0.5,
            "precedent": 0.9,
            "precedent_ms": 40.0,
            "few_onsets": 12,
            "few_spread": 0.35,
            "few_confidence": 0.8,
            "click": 20.0,
            "click_lent": 30.0,
            "click_loose": 2.0,
            "tight": 6.0,
            "zero": 4.0,
            "zero_pitched": 5.6,
            "click_slow": 45.0,
            "click_most": 60.0,
            "click_songs": 3,
            "click_surely": 1.5,
            "unwitnessed": 1.2,
            "on_click": 30.0,
            "together": 20.0,
            "together_spreads": 2.0,
            "together_songs": 5,
            "together_warning": 70.0,
        },
    ),
    message="{early_late} by {size_ms:.1f} ms ({samples} samples) against {than}{half}, limit {bound:.0f} "
    "ms; half of its {strokes} lie within {iqr_ms:.1f} ms, {witnesses}",
    cure="{farther}Move it {samples} samples ({size_ms:.1f} ms) {cure_way}{or_samples}, or bounce it again "
    "from bar 1 of the current version.",
    again="{size_ms:.1f} ms {cure_way} ({samples} samples){or_samples}, from bar 1 of the current version",
    means="The whole stem sits early or late against the click and against the song's other stems, by more "
    "than {limit:g} ms past what its role does in the show's other songs (late = plays after the click). "
    "Where the show has fewer than four songs with that role, only drums, percussion and loops are errors, "
    "from {alone:g} ms on; other roles are a warning from {alone_pitched:g} ms (slow ones {alone_slow:g}). "
    "If most stems do so together, it is said once for the song: the click is off, or all of them.",
    on_stage="The groove falls apart: flams between drums and bass, a band that plays to one stem and is "
    "off the rest.",
    measured="Median distance of the stem's onsets from the beat pattern that the song's other stems share "
    "(straight, swung, triplet), anchored to the click (audit.measure.alignment); its role's median over "
    "the show's other songs is taken off (that against the click alone, where it is the steadier one). "
    "Where all music of a song lies more than 20 ms off its click, each stem is read from where the others "
    "lie: the drums, or quick sounds that agree; {zero:g} ms is the least that its place is uncertain by "
    "then, {zero_pitched:g} ms of what does not mark the beat. Asked for: {onsets:g} onsets, or "
    "{few_onsets:g} that lie close together and nearly all fit; at least two other stems that agree with "
    "each other and lie the same way from it (where only one shares its strokes, those that share that "
    "one's and agree with it count, and as much is asked as by the click, below, but of notes half of which"
    " lie within {tight:g} ms); spread (interquartile range) below the displacement; {spreads:g} times what"
    " the role's place differs by between songs (robust; few songs lean on the show). Past {limit:g} ms "
    "drums, percussion and loops are an error, and from {near:g} ms a warning. People lie back by so much "
    "and no file is off, so guitars and keys are a warning from {near_pitched:g} ms, bass from "
    "{near_bass:g} ms, both an error past {pitched:g} ms; brass, swelling and sung stems past {slow:g} ms, "
    "or {alone_slow:g} ms with nothing to compare. Up to {precedent_ms:g} ms these are a note where the "
    "role lies {precedent:g} times as far off the same way in another song: some of its sounds speak so, or"
    " both are off. Where too few stems share its strokes, the click says it, if the role is known from "
    "{click_songs:g} other songs: from {near:g} ms for drums and loops, {click_lent:g} ms for percussion "
    "and roles that borrow a habit, {click:g} ms for others, {click_slow:g} ms for slow ones, up to "
    "{click_most:g} ms, {spreads:g} times farther than the role's place is uncertain by and {click_loose:g}"
    " times as far as its notes spread, {unwitnessed:g} times the bound where fewer than two other stems "
    "lie on the click as their roles do elsewhere; a warning up to {click_surely:g} times the bound. Drums,"
    " percussion and loops that borrow each other's habit need {lent:g} ms. Who lies on the click as its "
    "role does elsewhere is told only where the others have moved more than {on_click:g} ms from it. If "
    "most stems lie off the click alike, past their roles' habits by {together:g} ms and "
    "{together_spreads:g} times what these differ by, the song is told once: a warning where "
    "{together_songs:g} other songs tell the habits, and from {together_warning:g} ms, else, and where "
    "another song lies off its click about as far, a note; so is one in which two stems and more strike "
    "between the beats and their roles do in no other song, while nobody strikes on them, or chords alone "
    "where drums and bass are between: the click, or all stems, are half a beat off; a note where neither "
    "drums, percussion, loops nor bass say so. Stems whose notes spread widely, drums and loops apart, need"
    " {loose:g} times that spread, percussion, which is another instrument in every song, "
    "{loose_percussion:g} times; less is a warning where five songs and more have the role so steadily that"
    " the displacement is {surely:g} times what its place is uncertain by. Onsets do not tell half beats: "
    "the stem's harmony does, laid half a beat later and earlier, or drums and bass that strike on the "
    "beats in every other song and here between them, or drums, percussion, loops and bass that strike "
    "beside the eighths here (a warning alone; of a bass half a beat off a note, as off-beat basses are "
    "written so); where neither tells, all places that look the same are named. A stem all of whose strokes"
    " lie on one third or quarter of the beat (within {figure_ms:g} ms), drums and loops apart, plays a "
    "figure; one that plays all four quarters ({sixteenths:.0%} of its strokes on each) tells no "
    "displacement of a quarter; a bass plays a figure where {figure_before:.0%} of its strokes lie on the "
    "beat as they stand.",
    source="Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524–2531: a displacement is heard from 6 "
    "ms or 2.5 % of the interval on; the limits: own judgement above that. Spreads of ensembles 30–50 ms: "
    "Rasch 1979 [memory].",
)
def offset_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    whole, moved, song = song, moved_stems(song), at_zero(song)
    placed = _placed(song)
    usual = habits(show, without=song.name)
    if not placed:
        yield NotApplicable(reason="no click, or no stem with onsets to compare with it")
        return
    beside = beside_the_beat(whole, show, limit) if another_tempo(whole) is None else None
    if beside is not None:
        yield beat_hit(beside)
    # Where all lie off alike and their own zero is known, each is judged from there.
    whole_only = beside is not None and (beside.half or (beside.sure and not moved))
    spoken_of = (*beside.stems, *beside.standing) if beside is not None and whole_only else ()
    as_ever, ways = _past_their_clicks(whole, show), ways_of(song, usual)
    found: list[Verdict] = []
    between: list[Judged] = []
    for stem, phase in placed:
        if stem.name in spoken_of:
            continue
        judged = _judge(stem, phase, usual, limit, moved=stem.name in moved)
        if judged is not None and (as_ever_ms := as_ever.get(stem.name)) is not None:
            judged = replace(judged, as_ever_ms=as_ever_ms)
        said = _verdict(judged, song, usual, ways, limit) if judged is not None else None
        if said is not None and (alike_in := _alike_in(said.judged, song, show, limit)):
            said = replace(said, severity=Severity.NOTE, alike_in=alike_in)
        # A stem that is off by whole beats is told so once, its place within the beat included.
        if said is not None and not off_by_beats(stem, song, show):
            found.append(said)
        elif judged is not None and said is None and _strikes_between(judged, song, show):
            between.append(judged)
    # One stem that is late makes the others look early: of two directions the fault is what others agree on,
    # and the farther one.
    surest = max(
        found,
        key=lambda one: (one.severity is not Severity.NOTE, bool(one.agreeing), abs(one.judged.off_ms)),
        default=None,
    )
    for one in found:
        if surest is not None and one.judged.off_ms * surest.judged.off_ms > 0.0:
            yield offset_hit(one, told_apart(one.judged.stem, song, show, one.judged.off_ms))
    for judged in between:
        told = told_apart(judged.stem, song, show, judged.off_ms)
        # Its chords may say that it stands where it should: then its strokes are written so.
        if told.part and not off_by_beats(judged.stem, song, show):
            yield between_hit(judged, told)


def _placed(song: SongEvidence) -> list[tuple[StemEvidence, Phase]]:
    return [
        (stem, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None and not stem.silent
    ]


def _past_their_clicks(song: SongEvidence, show: ShowEvidence) -> Mapping[str, float]:
    """How far stems lie off the click itself, past where their roles lie off theirs in the other songs."""
    usual = click_habits(show, without=song.name)
    return {
        stem.name: phase.click_ms - usual[stem.role].click_ms
        for stem, phase in _placed(song)
        if stem.role in usual
    }


def _judge(stem: StemEvidence, phase: Phase, habits: Habits, limit: Limit, *, moved: bool) -> Judged | None:
    """The stem against the bound that its role and spread ask for; None where it cannot be judged."""
    usual = habits.get(stem.role)
    off_ms = past_habit_ms(phase, usual)
    if not _enough_onsets(stem, phase, off_ms, limit):
        return None
    if usual is None:
        slow = limit["alone_slow"] if stem.role in SLOW else limit["alone_pitched"]
        least = limit["alone"] if stem.role in MARKING else slow
    elif stem.role in MARKING:
        # A tambourine speaks later than drums: what they lend it is no habit of its own.
        least = limit["lent"] if usual.lent else limit.value
    else:
        least = limit["slow"] if stem.role in SLOW else limit["pitched"]
    zero_ms = limit["zero" if stem.role in MARKING else "zero_pitched"] if moved else 0.0
    spread_ms = max(phase.error_ms, usual.spread_ms if usual else 0.0, zero_ms)
    return Judged(
        stem=stem,
        phase=phase,
        habit=usual,
        off_ms=off_ms,
        limit_ms=max(least, limit["spreads"] * spread_ms),
        spread_ms=spread_ms,
        zero_ms=zero_ms,
    )


def _enough_onsets(stem: StemEvidence, phase: Phase, off_ms: float, limit: Limit) -> bool:
    """Few do where they lie close together, far off, and all but all of them fit."""
    if phase.onsets >= limit["onsets"]:
        return phase.confidence >= limit["confidence"]
    return (
        stem.role not in SLOW
        and phase.onsets >= limit["few_onsets"]
        and phase.iqr_ms <= limit["few_spread"] * abs(off_ms)
        and phase.confidence * limit["onsets"] >= limit["few_confidence"] * phase.onsets
    )


def _verdict(judged: Judged, song: SongEvidence, habits: Habits, ways: Ways, limit: Limit) -> Verdict | None:
    """How bad it is, and who says so; None: not at all."""
    if _is_a_figure(judged, song, limit):
        return None
    size, marking = abs(judged.off_ms), judged.stem.role in MARKING
    least = judged.limit_ms
    if judged.habit is not None and judged.stem.role not in SLOW:
        bass = judged.stem.role is Role.BASS
        near = limit["near" if marking else "near_bass" if bass else "near_pitched"]
        if marking and judged.habit.lent:
            near = limit["lent"]
        least = max(near, limit["spreads"] * judged.spread_ms)
    strokes = by_strokes(judged, ways, limit)
    error_ms = judged.limit_ms
    if strokes.direct < 2:  # one distance alone says it: as much is asked as where the click does
        least = max(least, _by_one(judged, song, limit))
        error_ms = max(error_ms, limit["click_surely"] * least)
    spreads = _loose(judged, limit) * judged.phase.iqr_ms >= size
    surely = _is_steady(judged, limit) and judged.phase.iqr_ms < size
    if (
        size <= least
        or (spreads and not surely)
        or not _off_the_click(judged, song, habits, limit)
        or not strokes.agreeing
    ):
        click = by_click(judged, song, habits, ways, limit)
        return None if click is None else _told_by_click(judged, click, limit)
    warned = size <= error_ms or spreads
    return Verdict(
        judged=judged,
        severity=Severity.WARNING if warned or (judged.habit is None and not marking) else Severity.ERROR,
        bound_ms=least if warned else error_ms,
        agreeing=strokes.agreeing,
    )


def _alike_in(judged: Judged, song: SongEvidence, show: ShowEvidence, limit: Limit) -> str:
    """Another song in which its role lies about as far off its habit, the same way: some of its sounds speak
    so late, or one fault went into both. Empty for none, for more than a sound may be late, and for what
    marks the beat."""
    habit = judged.habit
    if habit is None or judged.stem.role in MARKING or abs(judged.off_ms) > limit["precedent_ms"]:
        return ""
    off = lie_off(show) - moved_songs(show)
    return next(
        (
            name
            for name, phases in sure_at_zero(show, by_marks=False)
            if name != song.name and name not in off
            for _, role, phase in phases
            if role is judged.stem.role
            and as_far(past_habit_ms(phase, habit), judged.off_ms, limit["precedent"])
        ),
        "",
    )


def _told_by_click(judged: Judged, click: ByClick, limit: Limit) -> Verdict:
    surely = len(click.standing) >= 2 and abs(click.off_ms) > limit["click_surely"] * click.bound_ms
    return Verdict(
        judged=replace(judged, off_ms=click.off_ms),
        severity=Severity.ERROR if surely else Severity.WARNING,
        bound_ms=click.bound_ms,
        standing=click.standing,
    )


def _is_a_figure(judged: Judged, song: SongEvidence, limit: Limit) -> bool:
    """Whether all its strokes lie on one third or quarter of the beat: an off-beat that is written so. Of a
    bass that is asked where it strikes on the beats too, as they stand."""
    on_beat, bpm = judged.phase.on_beat, song.click.bpm if song.click is not None else None
    if judged.stem.role in {Role.DRUMS, Role.LOOP} or bpm is None or on_beat is None:
        return False
    quarters, beat_ms = judged.phase.quarters, 60_000.0 / bpm
    near_ms = abs(abs(judged.off_ms) - beat_ms / 4)
    if quarters is not None and min(quarters) >= limit["sixteenths"] and near_ms <= limit["figure_ms"]:
        return True  # sixteenths all through: a sixteenth later they strike where they did
    parts: tuple[int, ...] = (3, 4)
    if judged.stem.role is Role.BASS:
        before = 0.0 if quarters is None else quarters[3 if judged.off_ms > 0.0 else 1]
        parts = (4,) if before >= limit["figure_before"] else ()
    near = min((abs(abs(judged.off_ms) - beat_ms / part) for part in parts), default=math.inf)
    return on_beat >= limit["figure_on_beat"] and near <= limit["figure_ms"]


def _by_one(judged: Judged, song: SongEvidence, limit: Limit) -> float:
    """The bound where the others are known by way of one stem; no distance is enough for what may be written
    so, or be an echo."""
    bpm = song.click.bpm if song.click is not None else None
    tight = judged.phase.iqr_ms <= limit["tight"]
    places = (judged.off_ms,) if tight else (judged.off_ms, judged.phase.click_ms)
    if bpm is None or any(is_a_part(place, bpm, limit, tight=tight) for place in places):
        return math.inf
    lent = judged.habit is None or judged.habit.lent or judged.stem.role is Role.PERCUSSION
    if judged.stem.role in SLOW:
        least = limit["click_slow"]
    elif lent:
        least = limit["click" if tight else "click_lent"]
    else:
        least = 0.0 if tight else limit["click"]
    return max(least, 0.0 if tight else limit["click_loose"] * judged.phase.iqr_ms)


def _loose(judged: Judged, limit: Limit) -> float:
    """How many times the spread of its single notes a displacement has to be."""
    if judged.stem.role in STEADY:
        return 1.0
    return limit["loose_percussion" if judged.stem.role is Role.PERCUSSION else "loose"]


def _is_steady(judged: Judged, limit: Limit) -> bool:
    """Whether the show's percussion lies so steadily that a wide spread of its notes says little."""
    habit = judged.habit
    return (
        judged.stem.role is Role.PERCUSSION
        and habit is not None
        and not habit.lent
        and habit.songs >= ENOUGH_TO_BE_SURE
        and abs(judged.off_ms) >= limit["surely"] * judged.spread_ms
    )


def _off_the_click(judged: Judged, song: SongEvidence, habits: Habits, limit: Limit) -> bool:
    """Whether it lies off the click too, in the same direction.

    Where the other stems together lie off the click, the click does not tell which stem is right: the
    others do, if they lie off more than their roles do in the show's other songs. Else they are slow sounds.
    Who lies on the click as its role does in every song is off only where the others have moved far away.
    """
    own = judged.phase.click_ms - (judged.habit.click_ms if judged.habit else 0.0)
    as_ever = judged.as_ever_ms if judged.as_ever_ms is not None else own
    on_click = judged.habit is not None and min(abs(own), abs(as_ever)) < STILL * abs(judged.off_ms)
    quick = sum(name != judged.stem.name and role not in SLOW for name, role, _ in sure_phases(song))
    # From a zero of its own it is off however far the others have moved, if enough of them are quick sounds.
    unsure = judged.zero_ms > 0.0 and quick < MANY
    if on_click and (abs(judged.off_ms) <= limit["on_click"] or unsure):
        return False
    if abs(band_ms(judged.phase)) > 1.5 * limit.value:
        off = _past_their_roles(judged, song, habits)
        return off is None or (off * judged.off_ms > 0.0 and abs(off) >= 0.6 * abs(judged.off_ms))
    return own * judged.off_ms > 0.0 and abs(own) >= 0.6 * abs(judged.off_ms)


def _past_their_roles(judged: Judged, song: SongEvidence, habits: Habits) -> float | None:
    """How much more than the others it lies off the click, each past its habit; None without habits."""
    if judged.habit is None:
        return None
    others = [
        phase.click_ms - habits[role].click_ms
        for name, role, phase in sure_phases(song)
        if name != judged.stem.name and role in habits
    ]
    own = judged.phase.click_ms - judged.habit.click_ms
    return own - median(others) if others else None


def _strikes_between(judged: Judged, song: SongEvidence, show: ShowEvidence) -> bool:
    """Strokes between the beats, or beside the eighths, of a role that strikes on them in all of the show's
    other songs, while two other stems here do."""
    if a_quarter_off(judged.stem, song, show, judged.off_ms, share=1.0) is not None:
        return True
    on_them = [
        phase
        for name, _, phase in sure_phases(song)
        if name != judged.stem.name and phase.on_beat is not None and phase.on_beat >= STRIKES_ON
    ]
    return len(on_them) >= 2 and strikes_between(judged.stem, song, show) is True


RULES = (offset_from_click,)
