"""The rule on stems that sit beside the beat."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.alignment_words import Verdict, between_hit, offset_hit
from audit.rules.by_length import begins_beside, beside_hit, farther_by_length
from audit.rules.displaced import displaced, placed, strikes_beside_others
from audit.rules.far_off import Asked, far_hit, far_off
from audit.rules.half_beats import told_apart
from audit.rules.harmony_place import Lies, lies_beside
from audit.rules.head import cut_head, trimmed_heads
from audit.rules.places import habits, past_habit_ms
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.shifted import off_by_beats, shifted_by_beats
from audit.rules.speed import brought_off_ms, drift_from_click
from audit.rules.whole_song import BesideTheBeat, another_tempo, beside_the_beat
from audit.rules.whole_song_words import beat_hit
from audit.rules.zero import at_zero, moved_stems


@rule(
    id="offset-from-click",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(cut_head, drift_from_click),
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
            "figure_off_beat": 0.1,
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
            "click_far": 130.0,
            "click_far_others": 4,
            "click_songs": 3,
            "click_surely": 1.5,
            "unwitnessed": 1.2,
            "on_click": 30.0,
            "ahead": 7.5,
            "loosely": 0.5,
            "together": 20.0,
            "together_spreads": 2.0,
            "together_songs": 5,
            "together_warning": 70.0,
        },
    ),
    message="{early_late} by about {size_ms:.1f} ms ({samples} samples) against {than}{half}, limit "
    "{limit:g} ms{why}; half of its {strokes} lie within {iqr_ms:.1f} ms, {witnesses}",
    cure="{farther}Move it about {samples} samples ({size_ms:.1f} ms) {cure_way}{or_samples}, or bounce it "
    "again from bar 1 of the current version.",
    cure_in_general="Move it by what the finding says, or bounce it again from bar 1 of the current version.",
    again="about {size_ms:.1f} ms {cure_way} ({samples} samples){or_samples}, from bar 1 of the current "
    "version{listen}",
    means="The whole stem sits early or late against the click and against the song's other stems, by more "
    "than {limit:g} ms past what its role does in the show's other songs (late = plays after the click). "
    "Where the show has fewer than four songs with that role, only drums, percussion and loops are errors, "
    "from {alone:g} ms on; other roles are a warning from {alone_pitched:g} ms (slow ones {alone_slow:g}). "
    "If most stems do so together, it is said once for the song: the click is off, or all of them. A file "
    "that is as much shorter as all of it comes early lacks its start: that is said to the sample.",
    on_stage="The groove falls apart: flams between drums and bass, a band that plays to one stem and is "
    "off the rest.",
    measured="Median distance of the stem's onsets from the beat pattern that the song's other stems share "
    "(straight, swung, triplet), anchored to the click, or, where it keeps to a "
    "figure of its own, of its strokes on the beats from these; its role's median over the show's other "
    "songs is taken off (that against the click alone, where it is the steadier one); where a song holds "
    "several stems of a role, that of the stems of its name in three other songs, or its place is as "
    "uncertain as these stems lie apart, or one of its name lies off the role. Where all music of a song "
    "lies more than 20 ms off its click, each stem is read from where the others lie: the drums, or quick "
    "sounds that agree; {zero:g} ms is the least that its place is uncertain by then, {zero_pitched:g} ms "
    "of what does not mark the beat. Asked for: {onsets:g} onsets, or {few_onsets:g} that lie close "
    "together and nearly all fit; at least two other stems that agree with each other, more than half of "
    "all that share its strokes lying that way and their middle as far (slow sounds are asked only by their"
    " like) (where only one shares its strokes, those that share that one's and agree with it count, and as"
    " much is asked as by the click, below, but of notes half of which lie within {tight:g} ms); spread "
    "(interquartile range) below the displacement; {spreads:g} times what the role's place differs by "
    "between songs (robust; few songs lean on the show). Past {limit:g} ms drums, percussion and loops are "
    "an error, and from {near:g} ms a warning. People lie back by so much and no file is off, so guitars "
    "and keys are a warning from {near_pitched:g} ms, bass from {near_bass:g} ms, both an error past "
    "{pitched:g} ms, if their notes lie within {loosely:.0%} of it; brass, swelling and sung stems past "
    "{slow:g} ms (a warning a sixteenth off: stabs), or {alone_slow:g} ms with nothing to compare. Up to "
    "{precedent_ms:g} ms these are a note "
    "where the role lies {precedent:g} times as far off the same way in another song: some of its sounds "
    "speak so, or both are off. Where too few stems share its strokes, the click says it, if the role is "
    "known from {click_songs:g} other songs: from {near:g} ms for drums and loops, {click_lent:g} ms for "
    "percussion and roles that borrow a habit, {click:g} ms for others, {click_slow:g} ms for slow ones, up"
    " to {click_most:g} ms (a warning to {click_far:g} ms of a quick one, where {click_far_others:g} others "
    "lie on the click as usual), {spreads:g} times farther than the role's place is uncertain by and "
    "{click_loose:g} times as far as its notes spread, {unwitnessed:g} times the bound where fewer than two"
    " other stems lie on the click as their roles do elsewhere; a warning up to {click_surely:g} times the "
    "bound. Drums, percussion and loops that borrow each other's habit need {lent:g} ms. What is pitched "
    "and early against a habit alone, not {ahead:g} ms ahead of the click, may speak sooner than its like: "
    "nothing where the habit is borrowed or no other song has a stem of its name, a warning where fewer "
    "than five songs make it. Who lies on the click as its role does elsewhere is told only where the "
    "others have moved more than {on_click:g} ms from it. If most stems lie off the click alike, past their"
    " roles' habits by {together:g} ms and {together_spreads:g} times what these differ by, the song is "
    "told once: a warning where {together_songs:g} other songs tell the habits, or three stems and more, "
    "one of which marks the beat, lie within 4 ms of one another up to 42 ms off, and from "
    "{together_warning:g} ms, else, and where another song lies off its click by the same part of its beat,"
    " a note; so is one in which two stems and more strike between the beats and their roles do in no other"
    " song, while nobody strikes on them, or chords alone where drums and bass are between: the click, or "
    "all stems, are half a beat off; a note where neither drums, percussion, loops nor bass say so. Stems "
    "whose notes spread widely, drums and loops apart, need {loose:g} times that spread, percussion, which "
    "is another instrument in every song, {loose_percussion:g} times; less is a warning where five songs "
    "and more have the role so steadily that the displacement is {surely:g} times what its place is "
    "uncertain by. Onsets do not tell half beats: the stem's harmony does. Where a bass, keys or guitar lies "
    "beside its role's usual place by its chords (a correlation of 0.1 and 40 % of the others' with one "
    "another, alike in both halves of the song and by two other stems, each by itself), that lag is named at "
    "which its strokes meet the others' next to there; a warning from 60 ms and 0.15 beats on where its "
    "strokes alone fit as they stand, up to 0.7 beats (not of guitars, nor of keys that chop between the "
    "beats, nor beside another of its role that lies as usual where no other song has its name, nor where "
    "half as many stems say that it lies as usual, nor faster than 200 beats a minute). Else harmony tells "
    "laid half a beat later and "
    "earlier (but for off-beats that its role may play), or drums and bass that strike on the beats in "
    "every other song and here between them, or drums, percussion, loops and bass that strike beside the "
    "eighths here (a warning alone; of a bass half a beat off a note, as off-beat basses are written so); "
    "where neither tells, the lags are named at which its strokes meet the others' nearly as "
    "often. A stem all of whose strokes lie on one "
    "third or quarter of the beat (within {figure_ms:g} ms; one of 80 ms and more), drums and loops apart, "
    "plays a figure; one "
    "that plays all four quarters ({sixteenths:.0%} of its strokes on each) tells no displacement of a "
    "quarter, nor does one that plays three and never the beat, up to a third; a bass plays a figure where "
    "{figure_before:.0%} of its strokes lie on the beat as they stand. A start that was cut off, or "
    "something put before it, makes a file shorter or longer by as much as all of it comes early or late: "
    "where it differs from the length that the song's others share by 60 ms and more, and moved by just "
    "that its strokes meet theirs (5 standard deviations above chance, 1.4 times as well as it stands, 2 "
    "for slow sounds and for quarters of a beat, and 0.8 of the best lag within 1.2 s, or 0.95), the length"
    " says how far, however its strokes come round; not of a stem within 12 ms of its place. Stems as much "
    "longer or shorter as one that is told, and that meet the others no worse so, went along: a warning, and "
    "no witnesses. What its "
    "strokes and its length say alike, within 5 ms, is a warning from 12 ms on even where nobody confirms "
    "it (slow sounds apart). A slow sound that is read early, but lies 0 to 65 ms behind the sixteenth "
    "before, is not told: such attacks speak so late. A "
    "pitched stem with nothing to compare is a warning from 18 ms on where it and three others that share "
    "its strokes lie as exactly as a sequencer plays (half of their strokes, and the others' places, within "
    "3 ms). Where they do so within 2 ms, this holds however widely the role lies in songs that people play, "
    "and from 14 ms on for one that marks the beat. Of a stem that slides (drift-from-click), or a song, "
    "nothing is told that its slide from the file's start to its end may make.",
    source="Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524–2531: a displacement is heard from 6 "
    "ms or 2.5 % of the interval on; the limits: own judgement above that. Spreads of ensembles 30–50 ms: "
    "Rasch 1979 (from memory).",
)
def offset_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    slides_ms = brought_off_ms(song, show, limit.of(drift_from_click))
    for hit in _beside_the_click(song, show, limit):
        if not isinstance(hit, Hit) or not _slides_so_far(hit, slides_ms):
            yield hit


def _slides_so_far(hit: Hit, slides_ms: Mapping[str | None, float]) -> bool:
    """Whether a stem, or the song, is told to slide and may lie off by that alone: half-way through it has
    come half as far."""
    return hit.value is not None and abs(hit.value) <= slides_ms.get(hit.stem, 0.0)


def _beside_the_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    by_length = _by_length(song, show, limit)
    yield from by_length.values()
    if not by_length and not placed(song):
        yield NotApplicable(reason="no click, or no stem with onsets to compare with it")
        return
    beside = beside_the_beat(song, show, limit) if another_tempo(song) is None else None
    if beside is not None:
        yield beat_hit(beside)
    yield from _by_themselves(song, show, limit, told={*by_length, *_told_together(beside, song)})


def _by_length(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Mapping[str, Hit]:
    """By name, the stems that lie off by what their file is longer or shorter, but those that other rules
    tell."""
    found = begins_beside(show, song.name)
    told = {lead.stem.name for lead in trimmed_heads(song, limit.of(cut_head))} if found else set()
    return {
        name: beside_hit(one)
        for name, one in found.items()
        if abs(one.by.lag_ms) > limit.value
        and name not in told
        and not (one.whole_beats and off_by_beats(one.stem, song, show))
    }


def _told_together(beside: BesideTheBeat | None, song: SongEvidence) -> tuple[str, ...]:
    """The stems of which nothing is said beside what was said of the whole song. Where all lie off alike and
    their own zero is known, each is judged from there."""
    if beside is None or not (beside.half or (beside.sure and not moved_stems(song))):
        return ()
    return (*beside.stems, *beside.standing)


def _by_themselves(
    song: SongEvidence, show: ShowEvidence, limit: Limit, *, told: Collection[str]
) -> Iterator[Hit]:
    """The stems that lie off each by itself, and then those that strike between the beats. One that is off by
    whole beats is told so once, its place within the beat included."""
    from_zero = at_zero(song)
    asked = displaced(song, from_zero, show, limit, without=told)
    off = [said for _, said in asked if said and not off_by_beats(said.judged.stem, from_zero, show)]
    told_ms: dict[str, float] = {}
    where = _by_harmony(song, show)
    for one in _as_the_surest(off):
        stem, off_ms = one.judged.stem, one.judged.off_ms
        if (farther := farther_by_length(stem, song, off_ms)) is not None:
            told_ms[stem.name] = farther.by.lag_ms
            yield beside_hit(farther)
        else:
            apart = told_apart(stem, from_zero, show, off_ms, where[stem.name])
            # By its chords it may stand where it should, and its strokes are written so.
            if apart.part != "by its chords" or abs(apart.places_ms[0]) > limit.value:
                told_ms[stem.name] = apart.places_ms[0]
                yield offset_hit(one, apart, limit)
    said_of = {judged.stem.name for judged, said in asked if said is not None} | set(told)
    elsewhere = far_off(_asked_far(from_zero, show, where, said_of), from_zero, show, told_ms)
    yield from map(far_hit, elsewhere)
    said_of |= {far.asked.stem.name for far in elsewhere}
    for judged, _ in asked:
        stem = judged.stem
        if stem.name in said_of or not strikes_beside_others(judged, from_zero, show):
            continue
        apart = told_apart(stem, from_zero, show, judged.off_ms, where[stem.name])
        # Its chords may say that it stands where it should: then its strokes are written so.
        if apart.part and not off_by_beats(stem, from_zero, show):
            yield between_hit(judged, apart, limit)


def _asked_far(
    song: SongEvidence, show: ShowEvidence, where: Mapping[str, Lies | None], said_of: Collection[str]
) -> list[Asked]:
    """Every stem that has a place and of which nothing is said yet, by other rules neither."""
    usual = habits(show, without=song.name)
    return [
        Asked(
            stem=stem,
            phase=phase,
            past_ms=past_habit_ms(phase, usual.get(stem.role)),
            lies=where[stem.name],
        )
        for stem, phase in placed(song)
        if stem.name not in said_of and not off_by_beats(stem, song, show)
    ]


def _by_harmony(song: SongEvidence, show: ShowEvidence) -> Mapping[str, Lies | None]:
    """Where each stem's harmony lies, by the usual bounds of shifted-by-beats."""
    limit = shifted_by_beats.limit
    assert limit is not None
    return {stem.name: lies_beside(stem, song, show, limit) for stem in song.stems}


def _as_the_surest(off: Sequence[Verdict]) -> list[Verdict]:
    """Those that lie off the same way as the surest. One stem that is late makes the others look early: of
    two directions the fault is what others agree on, and the farther one."""
    if not off:
        return []
    surest = max(off, key=_surely)
    return [one for one in off if one.judged.off_ms * surest.judged.off_ms > 0.0]


SURELY = 1.5
"""An error is surer than a warning of so many times its size."""


def _surely(one: Verdict) -> tuple[bool, bool, float]:
    size_ms = abs(one.judged.off_ms) * (SURELY if one.severity is Severity.ERROR else 1.0)
    return one.severity is not Severity.NOTE, bool(one.agreeing), size_ms


RULES = (offset_from_click,)
