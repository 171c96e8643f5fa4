"""What the page shows, ready to be set: plain words and paths, nothing left to work out in the template."""

from __future__ import annotations

import base64
from dataclasses import dataclass

from audit.evidence import StemEvidence
from audit.facts import StemFormat
from audit.findings import Severity, ShowAudit, SongAudit
from audit.report.click_table import tempo_words
from audit.report.faults import CAUTION
from audit.report.figures import figure, headline_of, sentence, with_cautions
from audit.report.first import fix_first, worst_fault, worst_first
from audit.report.grouping import (
    folders_set_aside,
    group_unmeasured,
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
from audit.report.html.pictures import fewer, skyline, song_levels, ticks
from audit.report.html.timecode_map import CodeMap, code_map
from audit.report.load_words import load_words
from audit.report.neighbour_words import NextLine, next_lines
from audit.report.outputs import OutputLine, output_lines
from audit.report.verdict import show_answer, show_verdict, song_verdict
from audit.report.words import listed, signed, span
from audit.units import clock, count, khz

LOUDEST = (Severity.ERROR, Severity.WARNING)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One of the things to fix first."""

    title: str
    severity: str
    where: str
    message: str
    cure: str
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A song at a glance. Percents of its length."""

    levels: str
    bars: str
    beats: str
    count_in: tuple[float, float] | None  # from, width
    timecode: tuple[float, float] | None
    marks: tuple[tuple[float, str, str, str], ...]  # at, severity, anchor, words
    head: tuple[
        tuple[str, str, str], ...
    ]  # severity, anchor, words of what is about a whole stem or the song
    length: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StemLine:
    """A stem in the song's list."""

    name: str
    role: str
    how: str  # `48 kHz, 24-bit, stereo`
    length: str
    loudness: str
    peak: str
    levels: str  # bytes of its envelope, base64; drawn when somebody looks
    share_pct: float
    faults: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SongView:
    """A song's part of the page."""

    number: int  # its place in the show
    anchor: str
    name: str
    verdict: str  # error, incomplete, warning, clear
    words: str  # `2 errors`
    worst: str
    length: str
    length_s: float
    tempo: str
    metre: str
    count_in: str
    timecode: str
    timecode_short: str
    loudness: str
    lufs: float
    more: str
    load: str
    stems: tuple[StemLine, ...]
    band: Band
    faults: tuple[Fault, ...]
    notes: tuple[tuple[str, str, str], ...]  # title, where, message
    unheard: tuple[str, ...]
    left_out: str
    search: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """The whole page."""

    name: str
    answer: str
    why: str
    verdict: str
    facts: tuple[str, ...]
    asked: str
    steps: tuple[Step, ...]
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
    songs = [
        _song(audit, song, number, anchor, extras)
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
    return PageView(
        name=audit.evidence.settings.name or audit.evidence.show.name,
        answer=show_answer(audit, asked, threshold),
        why=show_verdict(audit, asked, threshold).partition(": ")[2],
        verdict="error" if audit.total(Severity.ERROR) else "other",
        facts=tuple(_facts(audit)),
        asked=asked or "",
        steps=tuple(_steps(audit, songs, show_faults, places)),
        songs=tuple(by_fault),
        has_load=any(song.load for song in songs),
        show_faults=tuple(show_faults),
        show_notes=tuple(_notes(audit, None)),
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
                message=sentence(first.message) if len(thing.findings) == 1 else "",
                cure=with_cautions(first.advice),
                anchor=anchor,
            )
        )
    return steps


def _song(audit: ShowAudit, song: SongAudit, number: int, anchor: str, extras: Extras) -> SongView:
    evidence = song.evidence
    mix, click, track = evidence.mix, evidence.click, evidence.timecode
    lufs = mix.loudness.integrated_lufs if mix else None
    faults = faults_of(audit, song.findings, evidence, anchor, extras, LOUDEST)
    worst = worst_fault(audit, song)
    more = []
    if mix is not None and mix.loudness.range_lu is not None:
        more.append(f"loudness range {mix.loudness.range_lu:.0f} LU")
    if mix is not None and lufs is not None:
        more.append(f"true peak {figure(mix.peaks.true_dbtp, 'dBTP', changed=True)}")
    code = f"{track.first.text(track.rate)} to {track.last.text(track.rate)}" if track else ""
    return SongView(
        number=number,
        anchor=anchor,
        name=evidence.name,
        verdict=audit.verdict(song).value,
        words=song_verdict(audit, song),
        worst="" if worst is None else ", ".join(w for w in (headline_of(worst), worst.stem) if w),
        length=clock(evidence.duration_s, millis=False),
        length_s=evidence.duration_s,
        tempo=f"{'♪ ' if (click.metre or '').endswith('/8') else ''}{tempo_words(click)}" if click else "",
        metre=click.metre or "" if click else "",
        count_in="" if click is None or not click.count_in_beats else count(click.count_in_beats, "beat"),
        timecode=f"{code}, {track.rate.text} frames a second" if track else "",
        timecode_short=track.first.text(track.rate) if track else "",
        loudness="" if lufs is None else f"{signed(lufs)} LUFS",
        lufs=-999.0 if lufs is None else lufs,
        more=", ".join(more),
        load=load_words(evidence),
        stems=tuple(_stem(stem, song, faults) for stem in evidence.stems),
        band=_band(song, faults),
        faults=tuple(faults),
        notes=tuple(_notes(audit, song)),
        unheard=tuple(f"{gap.stem or 'The song as a whole'}: {gap.reason}" for gap in group_unmeasured(song)),
        left_out="; ".join(f"{stem} ({why})" for stem, why in mix.left_out if why != "silent") if mix else "",
        search=" ".join([evidence.name, *(stem.name for stem in evidence.stems)]).casefold(),
    )


def _band(song: SongAudit, faults: list[Fault]) -> Band:
    evidence = song.evidence
    length_s, click, track = evidence.duration_s, evidence.click, evidence.timecode
    bars, beats, count_in = "", "", None
    if click is not None and length_s > 0.0:
        downs = [t for t, accent in zip(click.beats_s, click.accents, strict=False) if accent]
        bars = ticks(t / length_s for t in downs)
        beats = ticks(t / length_s for t in click.beats_s) if not downs else ""
        if click.music_s is not None and click.count_in_beats:
            count_in = _stretch(click.first_beat_s, click.music_s, length_s)
    return Band(
        levels=skyline(song_levels(evidence)),
        bars=bars,
        beats=beats,
        count_in=count_in,
        timecode=_stretch(track.start_s, track.end_s, length_s) if track and length_s > 0.0 else None,
        marks=tuple(
            (at, fault.severity, fault.anchor, f"{fault.severity}: {fault.title}, {fault.where}")
            for fault in reversed(faults)
            for at in fault.marks_pct
        ),
        head=tuple(
            (fault.severity, fault.anchor, f"{fault.severity}: {fault.title}, {fault.where or 'the song'}")
            for fault in faults
            if fault.whole
        ),
        length=clock(length_s, millis=False),
    )


def _stretch(first_s: float, last_s: float, length_s: float) -> tuple[float, float]:
    first, last = max(0.0, min(first_s, length_s)), max(0.0, min(last_s, length_s))
    return round(1000.0 * first / length_s, 1), round(1000.0 * max(0.0, last - first) / length_s, 1)


def _stem(stem: StemEvidence, song: SongAudit, faults: list[Fault]) -> StemLine:
    part = next((one for one in stem.parts if one.audience), stem.parts[0] if stem.parts else None)
    measures = part.measures if part else None
    lufs = measures.loudness.integrated_lufs if measures else None
    envelope = measures.envelope if measures else None
    length_s = stem.format.duration_s if stem.format else 0.0
    said = [headline_of(f) for f in song.findings if f.stem == stem.name and f.severity is not Severity.NOTE]
    silent = measures is not None and measures.peaks.sample_dbfs == float("-inf")
    return StemLine(
        name=stem.name,
        role=" and ".join(dict.fromkeys(role.value for role in stem.roles))
        + (" (guessed)" if part is not None and part.role_is_guess else ""),
        how=_how(stem.format),
        length=clock(length_s) if stem.format else "–",
        loudness="–" if lufs is None else signed(lufs),
        peak="silent" if silent else signed(measures.peaks.true_dbtp) if measures else "–",
        levels=base64.b64encode(fewer(envelope.peaks)).decode("ascii") if envelope else "",
        share_pct=min(1000.0, round(1000.0 * length_s / song.evidence.duration_s, 1))
        if song.evidence.duration_s
        else 0.0,
        faults=", ".join(dict.fromkeys(said)) or ("not readable" if stem.failure else ""),
    )


def _how(form: StemFormat | None) -> str:
    if form is None:
        return "–"
    sides = {1: "mono", 2: "stereo"}.get(form.channels, f"{form.channels} channels")
    depth = "lossy" if form.lossy else "float" if form.is_float else f"{form.bits}-bit" if form.bits else ""
    return ", ".join(word for word in (khz(form.sample_rate_hz), depth, sides, form.container) if word)


def _notes(audit: ShowAudit, song: SongAudit | None) -> list[tuple[str, str, str]]:
    findings = audit.show_findings if song is None else song.findings
    notes: dict[tuple[str, str], list[str]] = {}
    for note in findings:
        if note.severity is Severity.NOTE and note.waived is None:
            names = [note.stem] if note.stem else []
            notes.setdefault((headline_of(note), note.message), []).extend(names)
    return [(title, listed(dict.fromkeys(stems)), message) for (title, message), stems in notes.items()]


def _passed_over(audit: ShowAudit, *, whole: bool) -> list[str]:
    lines = [f"Set aside with audio in it: {name}" for name in folders_set_aside(audit)]
    for (song, why), files in stems_set_aside(audit).items():
        lines.append(f"Not audited: {listed(files)}{f' of {song}' if song else ''}: {why}")
    lines += [not_asked(audit)] if whole and not_asked(audit) else []
    lines += [not_compared(audit)] if not_compared(audit) else []
    reasons = [f"{reason} ({n})" for reason, n in reasons_passed_over(audit)]
    return [*lines, *([f"Passed over: {'; '.join(reasons)}"] if reasons else [])]
