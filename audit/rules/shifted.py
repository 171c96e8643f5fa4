"""The rule on stems that are off by whole beats or bars from end to end."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.rules.arrangement import NOBODY, follows_another_arrangement
from audit.rules.astray import Astray, astray, astray_by_default
from audit.rules.bars import in_bars
from audit.rules.by_length import begins_beside
from audit.rules.camps import Place, two_camps
from audit.rules.first_and_last import begins_and_ends_beside
from audit.rules.foreign import foreign_stem
from audit.rules.keys import key_mismatch
from audit.rules.parts import listed
from audit.rules.phases import SLOW
from audit.rules.places import habits, past_habit_ms
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.shifted_by_harmony import by_harmony
from audit.rules.shifted_words import Off, is_note, shift_hit
from audit.rules.whole_bar import beside_the_bar
from audit.rules.whole_song import beats_mislaid
from audit.rules.whole_song_words import bar_hit

ITS_WAY_MS, SLOWLY_MS = 20.0, 45.0
"""Who lies no farther from its role's place within the beat plays so, or speaks so slowly: whole beats are
the fault."""


@rule(
    id="shifted-by-beats",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(key_mismatch, foreign_stem),
    limit=Limit(
        value=1.0,
        unit="beat",
        more={
            "fit": 0.14,
            "of_usual": 0.4,
            "faint_of_usual": 0.5,
            "of_best": 0.62,
            "of_best_least": 0.4,
            "as_is": 0.85,
            "as_is_fast": 0.75,
            "as_is_slow": 0.7,
            "as_is_two": 0.65,
            "fast_s": 0.4,
            "gain": 0.02,
            "faint": 0.2,
            "faint_gain": 0.04,
            "sure": 2.0,
            "sure_odd": 2.4,
            "without": 1.3,
            "tune_sure": 2.6,
            "tune_without": 1.6,
            "backbeat": 2.0,
            "on_turns": 0.33,
            "held": 0.12,
            "half": 0.95,
            "answer_of_usual": 0.9,
            "ahead_of_usual": 0.7,
            "answer_without": 2.0,
            "clear": 0.3,
            "clear_as_is": 0.5,
            "clear_sure": 1.4,
            "clear_without": 1.2,
            "beat_by_state": 0.08,
            "bar_fit": 0.05,
            "bar_of_usual": 0.4,
            "bar_as_is": 0.5,
            "bar_by_changes": 0.05,
            "bar_by_state": 0.1,
            "bar_sure": 2.0,
            "bar_follows": 0.6,
            "habit_fit": 0.12,
            "company": 0.1,
            "beside": 0.2,
            "beside_early": 0.3,
            "place_fit": 0.14,
            "place_fit_early": 0.1,
            "place_of_usual": 0.6,
            "place_of_usual_early": 0.35,
            "place_near": 0.3,
            "spreads": 3.0,
            "as_good": 0.9,
            "always_on_turns": 0.8,
            "rings": 0.03,
            "turns": 0.65,
            "turns_first": 0.2,
            "turns_others": 0.5,
            "turns_bars": 12,
            "turns_sure": 2.5,
            "turns_struck": 0.25,
            "turns_custom": 0.5,
            "turns_beside": 2.0,
            "turns_clear": 0.45,
            "turns_never": 0.05,
            "turns_whole": 0.4,
            "turns_whole_sure": 2.0,
            "edge_near": 0.2,
            "edge_others": 3,
            "edge_home": 0.7,
        },
    ),
    message="{early_late} by {span} ({seconds:.3f} s, {samples} samples): moved by that its chords go with "
    "{witnesses} ({there} alike), as it stands they do not ({here}){or_by}{beside}",
    cure="Listen to it with {first}. If it is off, move it {samples} samples ({span}) {cure_way}, or bounce "
    "it again from bar 1 of the current version.",
    cure_in_general="Listen to it with the stems that the finding names. If it is off, move it back by those "
    "beats, or bounce it again from bar 1 of the current version.",
    again="{span} {cure_way} ({samples} samples), from bar 1 of the current version",
    means="The whole stem plays whole beats or bars early or late: its chords and notes change when those "
    "of the other stems do, but {limit:g} beat or more beside them, or it begins and ends so far beside "
    "everybody. Or all chords turn on another beat of the click's bar than the first: one warning for the "
    "song.",
    on_stage="Another chord under every bar; a song that cannot be played on.",
    measured="What begins, where the chord turns and what sounds in every part of a beat, by pitch class, "
    "is laid against each other stem at every lag up to 32 beats. Asked for: a "
    "correlation of {fit:g} at that lag and {of_usual:.0%} of what the other stems have with one another "
    "({faint_of_usual:.0%} for correlations under {faint:g}); without the stem that fits best {of_best:.0%}"
    " of it are left, or {of_best_least:.0%} and as much as the others have; no more than {as_is:.0%} of it"
    " as the stem stands ({as_is_fast:.0%} for lags under {fast_s:g} s, {as_is_slow:.0%} for one beat of "
    "stems that swell, {as_is_two:.0%} for two beats), by what begins and by what sounds alike; at least "
    "two other stems that say so, more than twice as many as say the opposite; bars that say so outweigh "
    "the others {sure:g} times their own spread ({sure_odd:g} for lags other than one or two beats or whole"
    " bars, which need a correlation of {clear:g} too), and {without:g} times without the stem that says it"
    " loudest (a canon or an echo follows one stem); {clear_sure:g} and {clear_without:g} times where the "
    "correlation is {clear:g} and at most {clear_as_is:.0%} of it as the stem stands; of tunes, which "
    "fit in many places, always {tune_sure:g} and {tune_without:g}. A stem whose "
    "witnesses are themselves off the other way, and more surely, is not told. Songs come round: a shift by"
    " a whole loop of the harmony cannot be told, and of lags that fit alike the smallest is named. By "
    "harmony drums, noise and single held tones are not judged; nor is a stem said to be one beat off that "
    "fits {half:g} "
    "times as well half a beat off, or one that is struck and fits best more than "
    "{beside_early:g} beats beside "
    "that beat, or one beat late that begins {backbeat:g} times as often on two and "
    "four as on one and three, or where chords turn less than {on_turns:g} times as often as a beat after "
    "and does not hold the old one on (by what sounds it gains less than {held:g}), or a guitar, horn or "
    "tune two beats off that has less than {answer_of_usual:.0%} of the others' fit (early "
    "{ahead_of_usual:.0%}), or {answer_without:g} times the spread without the loudest: such figures are "
    "meant so. One beat by which it gains less than {beat_by_state:g} by what sounds is a warning, and "
    "nothing where the correlation is under {faint:g} and another lag has {as_good:.0%} of it. One bar is "
    "told of faint stems too, as a warning, whatever other lag fits better still: a correlation of "
    "{bar_fit:g} and {bar_of_usual:.0%} of the others' with one another, at most {bar_as_is:.0%} of it as "
    "it stands, by what begins ({bar_by_changes:g} more) and by what sounds ({bar_by_state:g} more), where "
    "two others and more say so, more than twice as many as say the opposite, {bar_sure:g} times the spread"
    " of their bars; not where it fits one stem at {bar_follows:g} and without that one at less than "
    "{of_best:.0%}: a canon. Two camps of equal size, each of which says so of the other alone, are one "
    "warning. Warnings, too, are what a role's habit tells: a stem whose fits have their top one beat (to "
    "{beside:g}, {beside_early:g} for early ones) beside where the top is in the show's other songs, in "
    "both halves of the song and against two other stems and more, where the others go with one another at "
    "{company:g} and more; and a bass, keys, strings or pad that strike a beat "
    "after the turns of chord and ring on, where their role strikes on the turns in four other songs and "
    "more, all of them. Where the click's accents tell bars, they speak too: a "
    "bass, chords or pads whose chords turn on the second or the last beat of the bar ({turns:.0%} of "
    "{turns_bars:g} bars' turns and more, {turns_first:.0%} at most on the first), while those of another "
    "stem, or of the role in three other songs, turn on the first ({turns_others:.0%}) and the role's "
    "nowhere so ({turns_custom:.0%}), are a beat off, whatever the fits say (guitars, "
    "whose riffs begin anywhere, only where these say the same); a warning where these do not "
    "say the same, and nothing of the bar where two others surely say the opposite and none agrees. A "
    "late one has to begin on the first beat too, or it waits; a bass that never does and "
    "lies early is a warning, as it may be ahead on purpose. One beat is not told of a stem whose chords "
    "turn on the first beat ({turns_clear:.0%}) more than those do that say so, or {turns_beside:g} times "
    "as often as beside it, nor of one whose role turns so in another song, and is a warning where they "
    "turn less than {turns_beside:g} times as often beside it. What begins and ends beside everybody by the "
    "same whole beats, two bars at most, is a warning (by whole bars a note, by less only late, and of what "
    "strikes on 70 % of the beats), drums too: moved by these it meets others' first and "
    "last strokes (within {edge_near:g} beat; of {edge_others:g} and more two at one end and one at the "
    "other; two and a third at both of what does not mark the beat), and nobody's as it stands; not where "
    "its harmony fits as it stands ({edge_home:.0%} of the best). If the chords of two stems and more turn "
    "on "
    "another beat ({turns_whole:.0%} of all stems' turns) and those of at most half as many on the first "
    "({turns_whole:.0%}; of none at {turns:.0%}), and in three other songs on the first, the song is told "
    "once, as a warning: the click's accents are off, or all stems are. Of a stem in another key its "
    "chords are not asked (key-mismatch), and of one of another song nothing is (foreign-stem).",
    source="The bounds: own measurement, on songs without fault that were made to provoke (canons, echoes, "
    "answers, pushed chords, pedal basses, loops) and that people play.",
)
def shifted_by_beats(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not any(
        stem.alignment is not None
        and (stem.alignment.beats or stem.alignment.bar_turns or stem.alignment.first_and_last)
        for stem in song.stems
    ):
        yield NotApplicable(reason=NOBODY)
        return
    if (whole := beside_the_bar(song, show, limit)) is not None:
        yield bar_hit(whole, song)
    if beats_mislaid(song, show):
        if whole is None:
            yield NotApplicable(reason="the click's beats lie beside the music")
        return
    elsewhere = astray(song, show, limit)
    for off in _shifted(song, show, elsewhere):
        by_the_bar = whole is not None and off.bar is not None
        if not by_the_bar and not follows_another_arrangement(song, off.stem, show):
            yield shift_hit(song, off, _beside_ms(off.stem, song, show))
    yield from _two_camps(song, elsewhere, limit)


def _two_camps(song: SongEvidence, elsewhere: Astray, limit: Limit) -> Iterator[Hit]:
    """One warning where half of the stems say of the other half what these say of them."""
    camps = two_camps(
        [
            Place(stem=stem.name, beats=beats.shift_beats, saying_so=beats.saying_so)
            for stem in song.stems
            if stem.name not in elsewhere
            and stem.alignment is not None
            and (beats := stem.alignment.beats) is not None
            and beats.sure >= limit["sure"]
            and beats.at_best >= limit["fit"]
            and beats.at_zero <= limit["as_is"] * beats.at_best
            and min(beats.gain_by_changes, beats.gain_by_state) >= limit["gain"]
        ]
    )
    if camps is None:
        return
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


def _shifted(song: SongEvidence, show: ShowEvidence, elsewhere: Astray) -> list[Off]:
    """The stems that are off by whole beats. One that is late makes the stems it is laid against look early:
    whoever is off the other way by the word of a surer one needs two other witnesses. Those that the click's
    bars tell come first, those that only a habit tells last."""
    # What its length says of a stem to the sample is no whole beat beside, nor nearly one.
    by_length = {name for name, one in begins_beside(show, song.name).items() if not one.whole_beats}
    told = [
        off
        for stem in song.stems
        if stem.name not in elsewhere.foreign
        and stem.name not in by_length
        and (off := _told(stem, song, show, in_key=stem.name not in elsewhere.transposed)) is not None
    ]
    surest: list[Off] = []
    for off in sorted(told, key=_surest_first):
        opposite = {one.stem.name for one in surest if one.shift_beats * off.shift_beats < 0.0}
        if off.bar is not None or len(set(off.saying_so) - opposite) >= 2:
            surest.append(off)
    return [off for off in told if off in surest]


def _beside_ms(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> float:
    """What it lies off within the beat, past where its role lies; 0.0 for what may be its way to play."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    if phase is None:
        return 0.0
    past_ms = past_habit_ms(phase, habits(show, without=song.name).get(stem.role))
    return past_ms if abs(past_ms) > (SLOWLY_MS if stem.role in SLOW else ITS_WAY_MS) else 0.0


def _surest_first(off: Off) -> tuple[bool, bool, float]:
    gain = off.fit - off.beats.at_zero if off.beats is not None else 0.0
    return (off.bar is None, off.beside is not None, -gain)


def _told(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, *, in_key: bool) -> Off | None:
    """Its whole beats off, where the evidence is enough: of its harmony, or of where it begins and ends."""
    limit = shifted_by_beats.limit
    assert limit is not None
    found = by_harmony(stem, song, show, limit, in_key=in_key)
    if found is not None or limit.value > 1.0:
        return found
    framed = begins_and_ends_beside(stem, song, limit)
    if framed is None or _is_at_home(stem, framed.beats, limit):
        return None
    return Off(
        stem=stem, beats=None, shift_beats=framed.beats, saying_so=framed.saying_so, sure=False, framed=framed
    )  # fmt: skip


def _is_at_home(stem: StemEvidence, off_beats: float, limit: Limit) -> bool:
    """Whether its harmony fits the others as it stands, or nearly as well as anywhere."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    if beats is None or beats.shift_beats == off_beats:
        return False
    return beats.at_zero >= limit["edge_home"] * max(beats.at_best, beats.usual)


def off_by_beats(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether this rule or stale-arrangement speaks of the stem: others then leave its place in the beat
    to them. A note on where it begins and ends takes nothing from it."""
    return follows_another_arrangement(song, stem, show) or any(
        stem is off.stem and not is_note(off, song)
        for off in _shifted(song, show, astray_by_default(show, song.name))
    )


RULES = (shifted_by_beats,)
