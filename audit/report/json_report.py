"""The JSON report: everything that was measured and found, for scripts and for later comparison."""

from __future__ import annotations

import math
from typing import Any

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Finding, Severity, ShowAudit, SongAudit
from audit.report.click_json import song_click
from audit.report.json_text import json_text
from audit.report.load_json import song_load
from audit.report.measures_json import format_json, mix_json, part_json, whole_file_json
from audit.report.neighbour_words import neighbours_json
from audit.report.set_json import outputs_json, set_list_json
from audit.report.timecode_json import song_timecode
from audit.report.timing_json import alignment_json, timing_measures
from audit.report.words import searchable, visible

SCHEMA = 1
"""Rises when a key that stands in the report changes its meaning or goes; new keys do not raise it."""

Json = dict[str, Any]


def to_json(
    audit: ShowAudit,
    *,
    asked_rules: tuple[str, ...] | None = None,
    asked_songs: tuple[str, ...] | None = None,
) -> str:
    """The whole audit as one JSON document: keys in a fixed order, full precision, newline at the end.

    A value that does not exist is null, and so is −inf (silence), then with `"silent": true` beside it.
    NaN and Infinity, which JSON lacks, cannot come out. Names are valid UTF-8 (see words.valid).
    Words for people (message, advice, reason) show what hides or steers in a name as the terminal does; the
    names themselves stay as they are on the disk.
    asked_rules, asked_songs: what the scan was restricted to, None for everything.
    """
    document = {
        "schema": SCHEMA,
        "tool": {"name": "stemaudit", "version": audit.version},
        "show": {
            "name": audit.evidence.show.name,
            "folder": str(audit.evidence.show.path),
            "sample_rate_hz": audit.sample_rate_hz,
            "bits": audit.bits,
            "settings": audit.evidence.settings.source,
            "set_list": set_list_json(audit),
            "neighbours": neighbours_json(audit),
        },
        "asked": {"rules": asked_rules, "songs": asked_songs},
        "songs": [_song(audit, song) for song in audit.songs],
        "show_findings": [_finding(finding) for finding in audit.show_findings],
        "passed_over": [
            {
                "path": entry.path,
                "reason": visible(entry.reason),
                "song": entry.song,
                "stray": entry.stray,
                "unread": entry.unread,
                "holds_audio": entry.holds_audio,
            }
            for entry in audit.evidence.show.passed_over
        ],
        "summary": _summary(audit),
    }
    return json_text(document)


def _summary(audit: ShowAudit) -> Json:
    return {
        "songs": len(audit.songs),
        "stems": sum(len(song.evidence.stems) for song in audit.songs),
        "errors": audit.total(Severity.ERROR),
        "warnings": audit.total(Severity.WARNING),
        "notes": audit.total(Severity.NOTE),
        "waived": sum(finding.waived is not None for finding in audit.all_findings()),
        "unmeasured": sum(len(song.unmeasured) for song in audit.songs),
        "incomplete": audit.incomplete,
        "not_applicable": dict(audit.not_applicable),
    }


def _song(audit: ShowAudit, song: SongAudit) -> Json:
    evidence = song.evidence
    return {
        "name": evidence.name,
        "folder": evidence.song.folder,
        "version": evidence.song.version,
        "older_versions": evidence.song.older_versions,
        "verdict": audit.verdict(song).value,
        "duration_s": evidence.duration_s,
        "click": song_click(evidence),
        "timecode": song_timecode(evidence),
        "loudness": mix_json(evidence.mix, evidence.mix_failure),
        "outputs": outputs_json(evidence),
        "load": song_load(evidence.forecasts),
        "stems": [_stem(stem, evidence, audit.evidence) for stem in evidence.stems],
        "parts_fits": _parts_fits(evidence),
        "findings": [_finding(finding) for finding in song.findings],
        "unmeasured": [
            {"rule": entry.rule, "stem": entry.stem, "reason": visible(entry.reason)}
            for entry in song.unmeasured
        ],
    }


def _parts_fits(song: SongEvidence) -> list[Json]:
    return [{"stem": fit.stem, "explained": fit.explained, "parts": fit.parts} for fit in song.parts_fits]


def _stem(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> Json:
    """One stem.

    Where it holds several parts (click left, timecode right) the audience's part, else the first, gives the
    stem's `measures`, and `parts` lists them all; `parts` is empty for a stem with one role.
    """
    main = stem.main_part
    several = len(stem.parts) > 1
    return {
        "file": stem.name,
        "role": stem.role.value,
        "role_is_guess": main.role_is_guess if main else stem.stem.role_is_guess,
        "channel_roles": [role.value for role in (stem.channel_roles if several else stem.roles)],
        "audience": any(part.audience for part in stem.parts) if stem.parts else stem.audience,
        "size_bytes": stem.stem.size_bytes,
        "version": stem.stem.version,
        "format": format_json(stem.format),
        "measures": {
            **part_json(main.measures if main else None),
            **timing_measures(stem),
            **whole_file_json(stem.audio),
        },
        "parts": [_part(part) for part in stem.parts] if several else [],
        "alignment": alignment_json(stem, song, show),
        "silent": stem.silent,
        "faults": [
            {
                "kind": fault.kind.value, "detail": fault.detail, "value": fault.value, "unit": fault.unit,
                "at_frame": fault.at_frame,
            }
            for fault in stem.faults
        ],
        "failure": stem.failure,
    }  # fmt: skip


def _part(part: PartEvidence) -> Json:
    return {
        "channels": part.measures.channels,
        "role": part.role.value,
        "role_is_guess": part.role_is_guess,
        "audience": part.audience,
        "measures": part_json(part.measures),
    }


def _finding(finding: Finding) -> Json:
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "songs": finding.songs,
        "stem": finding.stem,
        "at_s": finding.at_s,
        "sample": finding.sample,
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        **({"silent": True} if finding.value == -math.inf else {}),
        "confidence": finding.confidence,
        "message": searchable(visible(finding.message)),
        "advice": searchable(visible(finding.advice)),
        "waived": finding.waived,
        "measured": finding.measured,
    }
