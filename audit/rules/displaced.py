"""Every stem's place within the beat, judged by itself: how far off it lies, and whether that is told.

    placed(song)                                        -> the stems that have a place, with it
    displaced(song, from_zero, show, limit, without=…)  -> each as it is judged, and what is said, if any
    strikes_beside_others(judged, song, show)           -> between the beats, where its role strikes on them

from_zero is the song with its stems read from where its own zero lies (`zero.at_zero`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Phase
from audit.rules.alignment_words import Judged, Verdict
from audit.rules.beside import Habits, as_its_length_says, judge, verdict
from audit.rules.by_length import as_long_off, begins_beside, moved_along
from audit.rules.half_beats import STRIKES_ON, a_quarter_off, strikes_between
from audit.rules.namesakes import by_name, has_namesake, like_in_others
from audit.rules.phases import MARKING, sure_phases
from audit.rules.places import Habit, as_far, click_habits, habits, lie_off, past_habit_ms
from audit.rules.rule import Limit
from audit.rules.witnesses import Ways, ways_of
from audit.rules.zero import moved_songs, moved_stems, sure_at_zero


def placed(song: SongEvidence) -> list[tuple[StemEvidence, Phase]]:
    return [
        (stem, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None and not stem.silent
    ]


def displaced(
    song: SongEvidence,
    from_zero: SongEvidence,
    show: ShowEvidence,
    limit: Limit,
    *,
    without: Collection[str],
) -> list[tuple[Judged, Verdict | None]]:
    """The stems that can be judged, but those `without` names, and what is said of them; None: nothing."""
    usual = habits(show, without=song.name)
    own = {
        stem.name: by_name(stem, from_zero, show, usual[stem.role])
        for stem in from_zero.stems
        if stem.role in usual
    }
    ways = ways_of(from_zero, own)
    gone_along = moved_along(song, begins_beside(show, song.name))
    found: list[tuple[Judged, Verdict | None]] = []
    for judged in _judged(song, from_zero, show, usual, own, limit):
        if judged.stem.name not in without:
            said = _said(judged, from_zero, show, usual, ways, limit)
            found.append((judged, None if said is not None and _hardly_witnessed(said, gone_along) else said))
    return found


def _judged(
    song: SongEvidence,
    from_zero: SongEvidence,
    show: ShowEvidence,
    usual: Habits,
    own: Mapping[str, Habit],
    limit: Limit,
) -> list[Judged]:
    """Every stem against its own habit: that of its role, or of its namesakes in the other songs."""
    moved, as_ever = moved_stems(song), _past_their_clicks(song, show)
    found = []
    for stem, phase in placed(from_zero):
        habit = own.get(stem.name)
        judged = judge(stem, phase, habit, limit, moved=stem.name in moved)
        if judged is not None:
            by_role = habit is not None and habit.click_ms == usual[stem.role].click_ms
            found.append(
                replace(
                    judged,
                    named_elsewhere=has_namesake(stem, from_zero, show),
                    as_ever_ms=as_ever.get(stem.name) if by_role else None,
                )
            )
    return found


def _said(
    judged: Judged, song: SongEvidence, show: ShowEvidence, usual: Habits, ways: Ways, limit: Limit
) -> Verdict | None:
    """What other stems, the click and its length say of it; a note where it lies so in another song too."""
    said = verdict(judged, song, usual, ways, limit)
    if as_long_off(judged.stem, judged.off_ms):
        said = as_its_length_says(judged, said, limit)
    if said is not None and (alike_in := _alike_in(said.judged, song, show, limit)):
        return replace(said, severity=Severity.NOTE, alike_in=alike_in)
    return said


def _hardly_witnessed(said: Verdict, gone_along: Collection[str]) -> bool:
    """Whether hardly anybody says it but stems that lie elsewhere by their lengths."""
    witnesses = {*said.agreeing, *said.standing}
    return len(gone_along) >= 2 and len(witnesses - set(gone_along)) < 2


def _past_their_clicks(song: SongEvidence, show: ShowEvidence) -> Mapping[str, float]:
    """How far stems lie off the click itself, past where their roles lie off theirs in the other songs."""
    usual = click_habits(show, without=song.name)
    return {
        stem.name: phase.click_ms - usual[stem.role].click_ms
        for stem, phase in placed(song)
        if stem.role in usual
    }


def _alike_in(judged: Judged, song: SongEvidence, show: ShowEvidence, limit: Limit) -> str:
    """Another song in which its role lies about as far off its habit, the same way: some of its sounds speak
    so late, or one fault went into both. Empty for none, for more than a sound may be late, and for what
    marks the beat."""
    habit = judged.habit
    if habit is None or judged.stem.role in MARKING or abs(judged.off_ms) > limit["precedent_ms"]:
        return ""
    off = lie_off(show) - moved_songs(show)
    alike = like_in_others(judged.stem, song, show)
    return next(
        (
            name
            for name, phases in sure_at_zero(show, by_marks=False)
            if name != song.name and name not in off
            for file, _, phase in phases
            if (name, file) in alike
            and as_far(past_habit_ms(phase, habit), judged.off_ms, limit["precedent"])
        ),
        "",
    )


def strikes_beside_others(judged: Judged, song: SongEvidence, show: ShowEvidence) -> bool:
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
