"""What the page shows, ready to be set: plain words and paths, nothing left to work out in the template."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audit.findings import Finding, Severity, ShowAudit
from audit.report.faults import CAUTION
from audit.report.figures import below_headline, headline_of, sentence, with_cautions
from audit.report.first import fix_first, worst_first
from audit.report.grouping import (
    folders_set_aside,
    not_asked,
    not_compared,
    reasons_passed_over,
    stems_set_aside,
)
from audit.report.html.faults import Extras, Fault, faults_of, waived_of
from audit.report.html.overview import (
    ROLE_ZERO_PCT,
    LoadLine,
    LoudnessPicture,
    RoleLine,
    load_matrix,
    loudness_picture,
    machine_names,
    role_picture,
)
from audit.report.html.song_view import LOUDEST, SongView, notes_of, song_view
from audit.report.html.timecode_map import CodeMap, code_map
from audit.report.neighbour_words import NextLine, next_lines
from audit.report.outputs import OutputLine, output_lines
from audit.report.untimed import timing_unknown, without_click
from audit.report.verdict import night_answer, set_verdict, show_verdict
from audit.report.words import listed, span
from audit.units import count, khz


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One of the things to fix first."""

    title: str
    severity: str
    where: str
    message: str
    cure: str
    anchor: str
    not_tonight: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """The whole page."""

    name: str
    answer: str
    why: str
    verdict: str
    of_all: str  # the answer for all songs where `answer` is that for a set list's; else ""
    facts: tuple[str, ...]
    asked: str
    steps: tuple[Step, ...]
    later: tuple[Step, ...]  # steps for songs that are not in the night's set list
    songs: tuple[SongView, ...]  # by fault, worst first
    has_load: bool
    show_faults: tuple[Fault, ...]
    show_notes: tuple[tuple[str, str, str], ...]
    unheard: tuple[str, ...]
    loudness: LoudnessPicture | None
    roles: tuple[RoleLine, ...]
    role_zero_pct: float
    code: CodeMap | None
    next: tuple[NextLine, ...]
    outputs: tuple[OutputLine, ...]
    machines: tuple[str, ...]
    loads: tuple[LoadLine, ...]
    waived: tuple[tuple[str, str, str], ...]
    passed_over: tuple[str, ...]
    caution: str
    version: str
    made: str


def page_view(
    audit: ShowAudit,
    extras: Extras,
    *,
    made: str = "",
    asked: str | None = None,
    threshold: Severity | None = None,
) -> PageView:
    """made: the day, in words; asked: what the scan was restricted to."""
    anchors = [f"s{number}" for number in range(1, len(audit.songs) + 1)]
    of_all, tonight = show_verdict(audit, asked, threshold), set_verdict(audit, asked)
    why = tonight.removeprefix(night_answer(audit, asked)).strip() if tonight else of_all.partition(": ")[2]
    answer = night_answer(audit, asked) if tonight else of_all.partition(": ")[0]
    songs = [
        song_view(audit, song, number, anchor, extras)
        for number, (song, anchor) in enumerate(zip(audit.songs, anchors, strict=True), start=1)
    ]
    places_by_fault = {id(song): place for place, song in enumerate(worst_first(audit))}
    by_fault = sorted(songs, key=lambda song: places_by_fault[id(audit.songs[song.number - 1])])
    show_faults = faults_of(audit, audit.show_findings, None, "w", extras, LOUDEST)
    places = {
        name: anchor
        for song, anchor in zip(audit.songs, anchors, strict=True)
        if (name := song.evidence.name)
    }
    steps = _steps(audit, songs, show_faults, places)
    return PageView(
        name=audit.evidence.settings.name or audit.evidence.show.name,
        answer=answer,
        why=why,
        verdict="error" if answer == "Not ready" else "other",
        of_all=f"The whole show: {of_all[0].lower()}{of_all[1:]}" if tonight else "",
        facts=tuple(_facts(audit)),
        asked=asked or "",
        steps=tuple(step for step in steps if not step.not_tonight),
        later=tuple(step for step in steps if step.not_tonight),
        songs=tuple(by_fault),
        has_load=any(song.load for song in songs),
        show_faults=tuple(show_faults),
        show_notes=tuple(notes_of(audit, None)),
        unheard=tuple(f"{entry.path}: {entry.reason}" for entry in audit.unread),
        loudness=loudness_picture(audit, anchors, [song.number - 1 for song in by_fault]),
        roles=tuple(role_picture(audit)),
        role_zero_pct=ROLE_ZERO_PCT,
        code=code_map(audit, anchors),
        next=tuple(next_lines(audit)),
        outputs=tuple(output_lines(audit)),
        machines=machine_names(audit),
        loads=tuple(load_matrix(audit, anchors)),
        waived=tuple(waived_of(audit)),
        passed_over=tuple(_passed_over(audit, whole=not asked)),
        caution=CAUTION if any(f.loud for s in songs for f in s.faults) else "",
        version=audit.version,
        made=made,
    )


def _facts(audit: ShowAudit) -> list[str]:
    stems = sum(len(song.evidence.stems) for song in audit.songs)
    music = span(sum(song.evidence.duration_s for song in audit.songs))
    facts = [count(len(audit.songs), "song"), count(stems, "stem"), f"{music} of music"]
    stored = [khz(audit.sample_rate_hz)] if audit.sample_rate_hz else []
    stored += [f"{audit.bits}-bit"] if audit.bits else []
    return [*facts, ", ".join(stored)] if stored else facts


def _steps(
    audit: ShowAudit, songs: list[SongView], show_faults: list[Fault], anchors: dict[str, str]
) -> list[Step]:
    steps = []
    for thing in fix_first(audit):
        first = thing.first
        own = (
            [f for song in songs if song.name in first.songs for f in song.faults]
            if len(first.songs) == 1
            else []
        )
        anchor = next(
            (
                f.anchor
                for f in [*own, *show_faults]
                if f.rule == first.rule and f.severity == first.severity.value
            ),
            anchors.get(first.songs[0], "songs") if first.songs else "songs",
        )
        stems = list(dict.fromkeys(f.stem for f in thing.findings if f.stem))
        where = listed(thing.songs) if len(thing.songs) <= 3 else f"{len(thing.songs)} songs"
        if len(thing.songs) == 1 and stems:
            where += f", {listed(stems) if len(stems) <= 2 else count(len(stems), 'stem')}"
        steps.append(
            Step(
                title=headline_of(first),
                severity=first.severity.value,
                where=where or "The whole show",
                message=sentence(below_headline(first)) if len(thing.findings) == 1 else "",
                cure=_cure(thing.findings),
                anchor=anchor,
                not_tonight=thing.not_tonight,
            )
        )
    return steps


def _cure(findings: Sequence[Finding]) -> str:
    """What to do about the first of them, and that it is no cure for the others where they have their own."""
    first = findings[0]
    cure = with_cautions(first.advice)
    if len({finding.advice for finding in findings}) == 1:
        return cure
    whose = ", ".join(word for word in (listed(first.songs), first.stem) if word)
    return f"{whose}: {cure} The others have cures of their own."


def _passed_over(audit: ShowAudit, *, whole: bool) -> list[str]:
    lines = [f"Set aside with audio in it: {name}" for name in folders_set_aside(audit)]
    for (song, why), files in stems_set_aside(audit).items():
        lines.append(f"Not audited: {listed(files)}{f' of {song}' if song else ''}: {why}")
    lines += [not_asked(audit)] if whole and not_asked(audit) else []
    lines += [line] if whole and (line := without_click(audit, None)) else []
    lines += [line] if whole and (line := timing_unknown(audit, None)) else []
    lines += [not_compared(audit)] if not_compared(audit) else []
    reasons = [f"{reason} ({n})" for reason, n in reasons_passed_over(audit)]
    return [*lines, *([f"Passed over: {'; '.join(reasons)}"] if reasons else [])]
