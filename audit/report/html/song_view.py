"""What the page shows of one song: its line, its picture, its stems, its faults."""

from __future__ import annotations

import base64
import math
from dataclasses import dataclass

from audit.evidence import StemEvidence
from audit.facts import StemFormat
from audit.findings import Severity, ShowAudit, SongAudit
from audit.report.click_table import tempo_words
from audit.report.figures import below_headline, figure, headline_of
from audit.report.first import worst_fault
from audit.report.grouping import group_unmeasured
from audit.report.html.faults import Extras, Fault, faults_of
from audit.report.html.pictures import fewer, skyline, song_levels, ticks
from audit.report.load_words import load_words
from audit.report.verdict import song_verdict
from audit.report.words import listed, signed
from audit.results import ClickTrack, Envelope, MixMeasures, PartMeasures, TimecodeTrack
from audit.units import clock, count, khz

LOUDEST = (Severity.ERROR, Severity.WARNING)


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


def song_view(audit: ShowAudit, song: SongAudit, number: int, anchor: str, extras: Extras) -> SongView:
    """number: its place in the show; anchor: what its address on the page begins with."""
    evidence = song.evidence
    mix, click, track = evidence.mix, evidence.click, evidence.timecode
    lufs = mix.loudness.integrated_lufs if mix else None
    faults = faults_of(audit, song.findings, evidence, anchor, extras, LOUDEST)
    return SongView(
        number=number,
        anchor=anchor,
        name=evidence.name,
        verdict=audit.verdict(song).value,
        words=song_verdict(audit, song),
        worst=_worst(audit, song),
        length=clock(evidence.duration_s, millis=False),
        length_s=evidence.duration_s,
        tempo=_tempo(click) if click else "",
        metre=click.metre or "" if click else "",
        count_in=count(click.count_in_beats, "beat") if click and click.count_in_beats else "",
        timecode=_timecode(track) if track else "",
        timecode_short=track.first.text(track.rate) if track else "",
        loudness="" if lufs is None else f"{signed(lufs)} LUFS",
        lufs=-999.0 if lufs is None else lufs,
        more=_beside_loudness(mix) if mix else "",
        load=load_words(evidence),
        stems=tuple(_stem(stem, song) for stem in evidence.stems),
        band=_band(song, faults),
        faults=tuple(faults),
        notes=tuple(notes_of(audit, song)),
        unheard=tuple(f"{gap.stem or 'The song as a whole'}: {gap.reason}" for gap in group_unmeasured(song)),
        left_out=_left_out(mix) if mix else "",
        search=" ".join([evidence.name, *(stem.name for stem in evidence.stems)]).casefold(),
    )


def _worst(audit: ShowAudit, song: SongAudit) -> str:
    fault = worst_fault(audit, song)
    return "" if fault is None else ", ".join(word for word in (headline_of(fault), fault.stem) if word)


def _tempo(click: ClickTrack) -> str:
    eighths = (click.metre or "").endswith("/8")
    return f"{'♪ ' if eighths else ''}{tempo_words(click)}"


def _timecode(track: TimecodeTrack) -> str:
    rate = track.rate
    return f"{track.first.text(rate)} to {track.last.text(rate)}, {rate.text} frames a second"


def _beside_loudness(mix: MixMeasures) -> str:
    """What else is told of how loud the sum is."""
    words = []
    if mix.loudness.range_lu is not None:
        words.append(f"loudness range {mix.loudness.range_lu:.0f} LU")
    if mix.loudness.integrated_lufs is not None:
        words.append(f"true peak {figure(mix.peaks.true_dbtp, 'dBTP', changed=True)}")
    return ", ".join(words)


def _left_out(mix: MixMeasures) -> str:
    return "; ".join(f"{stem} ({why})" for stem, why in mix.left_out if why != "silent")


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


def _stem(stem: StemEvidence, song: SongAudit) -> StemLine:
    part = stem.main_part
    measures = part.measures if part else None
    length_s = stem.format.duration_s if stem.format else 0.0
    return StemLine(
        name=stem.name,
        role=" and ".join(dict.fromkeys(role.value for role in stem.roles))
        + (" (guessed)" if part is not None and part.role_is_guess else ""),
        how=_how(stem.format),
        length=clock(length_s) if stem.format else "–",
        loudness=_loudness(measures) if measures else "–",
        peak=_peak(measures) if measures else "–",
        levels=_levels(measures.envelope) if measures and measures.envelope else "",
        share_pct=_share_pct(length_s, song.evidence.duration_s),
        faults=_stem_faults(stem, song),
    )


def _loudness(part: PartMeasures) -> str:
    lufs = part.loudness.integrated_lufs
    return "–" if lufs is None else signed(lufs)


def _peak(part: PartMeasures) -> str:
    return "silent" if part.peaks.sample_dbfs == -math.inf else signed(part.peaks.true_dbtp)


def _levels(envelope: Envelope) -> str:
    return base64.b64encode(fewer(envelope.peaks)).decode("ascii")


def _share_pct(length_s: float, song_s: float) -> float:
    """How much of the picture's width of 1000 it takes; none goes beyond the song's end."""
    return min(1000.0, round(1000.0 * length_s / song_s, 1)) if song_s else 0.0


def _stem_faults(stem: StemEvidence, song: SongAudit) -> str:
    said = [headline_of(f) for f in song.findings if f.stem == stem.name and f.severity is not Severity.NOTE]
    return ", ".join(dict.fromkeys(said)) or ("not readable" if stem.failure else "")


def _how(form: StemFormat | None) -> str:
    if form is None:
        return "–"
    sides = {1: "mono", 2: "stereo"}.get(form.channels, f"{form.channels} channels")
    depth = "lossy" if form.lossy else "float" if form.is_float else f"{form.bits}-bit" if form.bits else ""
    return ", ".join(word for word in (khz(form.sample_rate_hz), depth, sides, form.container) if word)


def notes_of(audit: ShowAudit, song: SongAudit | None) -> list[tuple[str, str, str]]:
    """A song's notes, or the show's: title, stems, message."""
    findings = audit.show_findings if song is None else song.findings
    notes: dict[tuple[str, str], list[str]] = {}
    for note in findings:
        if note.severity is Severity.NOTE and note.waived is None:
            names = [note.stem] if note.stem else []
            notes.setdefault((headline_of(note), below_headline(note)), []).extend(names)
    return [(title, listed(dict.fromkeys(stems)), message) for (title, message), stems in notes.items()]
