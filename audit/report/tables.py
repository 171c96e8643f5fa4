"""The audit as three tables for spreadsheets: stems, findings, songs."""

from __future__ import annotations

from collections.abc import Sequence

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import StemFormat
from audit.findings import Severity, ShowAudit, SongAudit
from audit.report.csv_text import Value, csv_text
from audit.report.load_section import heaviest
from audit.report.load_words import FIT_WORDS, NAMES
from audit.report.words import listed, searchable
from audit.results import Alignment, PartMeasures

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
        "stems.csv": csv_text(STEM_COLUMNS, _stems(audit)),
        "findings.csv": csv_text(FINDING_COLUMNS, _findings(audit)),
        "songs.csv": csv_text(SONG_COLUMNS, [_song(audit, song) for song in audit.songs]),
    }


def _stems(audit: ShowAudit) -> list[list[Value]]:
    return [_stem(song, stem) for song in audit.songs for stem in song.evidence.stems]


def _stem(song: SongAudit, stem: StemEvidence) -> list[Value]:
    part = stem.main_part
    counted = [f.severity for f in song.findings if f.stem == stem.name and f.waived is None]
    return [
        song.evidence.name,
        stem.name,
        stem.role.value,
        part.role_is_guess if part else stem.stem.role_is_guess,
        stem.audience,
        *_stored(stem.format),
        *_measured(part.measures if part else None),
        *_timed(stem.alignment),
        stem.silent,
        stem.stem.size_bytes,
        counted.count(Severity.ERROR),
        counted.count(Severity.WARNING),
        stem.failure,
    ]


def _stored(form: StemFormat | None) -> Sequence[Value]:
    """Columns container to length_s."""
    if form is None:
        return 6 * (None,)
    return form.container, form.encoding, form.sample_rate_hz, form.bits, form.channels, form.duration_s


def _measured(measures: PartMeasures | None) -> Sequence[Value]:
    """Columns integrated_lufs to dc_offset."""
    if measures is None:
        return 7 * (None,)
    loudness, peaks, levels = measures.loudness, measures.peaks, measures.levels
    return (
        loudness.integrated_lufs, loudness.max_momentary_lufs, loudness.range_lu, peaks.true_dbtp,
        peaks.sample_dbfs, levels.rms_dbfs, levels.dc_offset,
    )  # fmt: skip


def _timed(alignment: Alignment | None) -> tuple[Value, Value]:
    """Columns offset_ms and drift_ppm."""
    phase, drift = (alignment.phase, alignment.drift) if alignment else (None, None)
    return phase.offset_ms if phase else None, drift.ppm if drift else None


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
