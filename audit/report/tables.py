"""The audit as three tables for spreadsheets: stems, findings, songs."""

from __future__ import annotations

from audit.evidence import SongEvidence
from audit.findings import Severity, ShowAudit, SongAudit
from audit.report.csv_text import Value, csv_text
from audit.report.load_section import heaviest
from audit.report.load_words import FIT_WORDS, NAMES
from audit.report.words import listed, searchable

STEM_COLUMNS = (
    "song", "stem", "role", "role_is_guess", "audience", "container", "encoding", "sample_rate_hz", "bits",
    "channels", "length_s", "integrated_lufs", "max_momentary_lufs", "loudness_range_lu", "true_peak_dbtp",
    "sample_peak_dbfs", "rms_dbfs", "dc_offset", "offset_ms", "drift_ppm", "silent", "size_bytes", "errors",
    "warnings", "failure",
)  # fmt: skip
FINDING_COLUMNS = (
    "severity", "rule", "songs", "stem", "at_s", "sample", "value", "limit", "unit", "confidence", "message",
    "cure", "waived",
)  # fmt: skip
SONG_COLUMNS = (
    "song", "folder", "verdict", "errors", "warnings", "notes", "unanswered", "stems", "length_s", "bpm",
    "metre", "count_in_beats", "timecode_start", "timecode_end", "timecode_rate", "integrated_lufs",
    "loudness_range_lu", "true_peak_dbtp", "load_machine", "load_verdict", "load_of", "load_percent",
)  # fmt: skip


def tables(audit: ShowAudit) -> dict[str, str]:
    """File name → text. A row of stems.csv is a stem, by its audience's part where it holds several."""
    return {
        "stems.csv": csv_text(STEM_COLUMNS, [row for song in audit.songs for row in _stems(song)]),
        "findings.csv": csv_text(FINDING_COLUMNS, _findings(audit)),
        "songs.csv": csv_text(SONG_COLUMNS, [_song(audit, song) for song in audit.songs]),
    }


def _stems(song: SongAudit) -> list[list[Value]]:
    rows: list[list[Value]] = []
    for stem in song.evidence.stems:
        part = stem.main_part
        form, measures = stem.format, part.measures if part else None
        phase = stem.alignment.phase if stem.alignment else None
        drift = stem.alignment.drift if stem.alignment else None
        own = [f for f in song.findings if f.stem == stem.name and f.waived is None]
        rows.append(
            [
                song.evidence.name,
                stem.name,
                stem.role.value,
                part.role_is_guess if part else stem.stem.role_is_guess,
                stem.audience,
                form.container if form else None,
                form.encoding if form else None,
                form.sample_rate_hz if form else None,
                form.bits if form else None,
                form.channels if form else None,
                form.duration_s if form else None,
                measures.loudness.integrated_lufs if measures else None,
                measures.loudness.max_momentary_lufs if measures else None,
                measures.loudness.range_lu if measures else None,
                measures.peaks.true_dbtp if measures else None,
                measures.peaks.sample_dbfs if measures else None,
                measures.levels.rms_dbfs if measures else None,
                measures.levels.dc_offset if measures else None,
                phase.offset_ms if phase else None,
                drift.ppm if drift else None,
                stem.silent,
                stem.stem.size_bytes,
                sum(f.severity is Severity.ERROR for f in own),
                sum(f.severity is Severity.WARNING for f in own),
                stem.failure,
            ]
        )
    return rows


def _findings(audit: ShowAudit) -> list[list[Value]]:
    return [
        [
            finding.severity.value,
            finding.rule,
            listed(finding.songs),
            finding.stem,
            finding.at_s,
            finding.sample,
            finding.value,
            finding.limit,
            finding.unit,
            finding.confidence,
            searchable(finding.message),
            searchable(finding.advice),
            None if finding.waived is None else finding.waived.get("reason", ""),
        ]
        for finding in sorted(audit.all_findings(), key=lambda finding: finding.severity.rank)
    ]


def _song(audit: ShowAudit, song: SongAudit) -> list[Value]:
    evidence = song.evidence
    click, track, mix = evidence.click, evidence.timecode, evidence.mix
    counted = [f.severity for f in audit.findings_of(song) if f.waived is None]
    return [
        evidence.name,
        evidence.song.folder,
        audit.verdict(song).value,
        *(counted.count(severity) for severity in Severity),
        len(song.unmeasured),
        len(evidence.stems),
        evidence.duration_s,
        click.bpm if click else None,
        click.metre if click else None,
        click.count_in_beats if click else None,
        track.first.text(track.rate) if track else None,
        track.last.text(track.rate) if track else None,
        track.rate.text if track else None,
        mix.loudness.integrated_lufs if mix else None,
        mix.loudness.range_lu if mix else None,
        mix.peaks.true_dbtp if mix else None,
        *_load(evidence),
    ]


def _load(song: SongEvidence) -> tuple[Value, Value, Value, Value]:
    """Of the machine that has most to do with it: its name, the verdict, what limits it, and how much of its
    limit that takes."""
    if not song.forecasts:
        return None, None, None, None
    heavy = heaviest(song.forecasts)
    use = heavy.limiting
    return heavy.machine, FIT_WORDS[heavy.fit], NAMES[use.resource], 100.0 * use.share
