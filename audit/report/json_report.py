"""The JSON report: everything that was measured and found, for scripts and for later comparison."""

from __future__ import annotations

import math
from typing import Any

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Finding, Severity, ShowAudit, SongAudit
from audit.report.click_json import song_click
from audit.report.json_text import json_text
from audit.report.load_json import song_load
from audit.report.neighbour_words import neighbours_json
from audit.report.set_json import outputs_json, set_list_json
from audit.report.timecode_json import song_timecode
from audit.report.timing_json import alignment_json, timing_measures
from audit.report.words import searchable, visible
from audit.results import MixMeasures, PartMeasures

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
        "loudness": _mix(evidence.mix, evidence.mix_failure),
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


def _mix(mix: MixMeasures | None, failure: str | None) -> Json:
    """The song as the audience hears it. All null where no stem belongs to the sum (a click-only song), and
    where it was not measured: `unmeasured` then says why."""
    loudness = mix.loudness if mix else None
    return {
        "integrated_lufs": loudness.integrated_lufs if loudness else None,
        "true_peak_dbtp": mix.peaks.true_dbtp if mix else None,
        "loudness_range_lu": loudness.range_lu if loudness else None,
        "max_momentary_lufs": loudness.max_momentary_lufs if loudness else None,
        "max_momentary_at_s": loudness.max_momentary_at_s if loudness else None,
        "max_short_term_lufs": loudness.max_short_term_lufs if loudness else None,
        "sample_peak_dbfs": mix.peaks.sample_dbfs if mix else None,
        "true_peak_at_s": mix.peaks.true_at_s if mix else None,
        "silent": mix is not None and mix.peaks.sample_dbfs == -math.inf,
        "unmeasured": failure,
        "from_stems": mix.from_stems if mix else (),
        "left_out": [{"stem": stem, "reason": visible(reason)} for stem, reason in mix.left_out]
        if mix
        else [],
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
        "format": _format(stem),
        "measures": {
            **_measures(main.measures if main else None), **timing_measures(stem), **_whole_file(stem),
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


def _format(stem: StemEvidence) -> Json:
    """How it is stored; all null where the header could not be read (`failure` says why)."""
    form = stem.format
    return {
        "container": form.container if form else None,
        "encoding": form.encoding if form else None,
        "sample_rate_hz": form.sample_rate_hz if form else None,
        "channels": form.channels if form else None,
        "frames": form.frames if form else None,
        "bits": form.bits if form else None,
        "float": form.is_float if form else None,
        "lossy": form.lossy if form else None,
        "time_reference_frames": form.time_reference_frames if form else None,
    }


def _part(part: PartEvidence) -> Json:
    return {
        "channels": part.measures.channels,
        "role": part.role.value,
        "role_is_guess": part.role_is_guess,
        "audience": part.audience,
        "measures": _measures(part.measures),
    }


def _measures(part: PartMeasures | None) -> Json:
    """Every measure of a part, flat. All null where nothing could be decoded."""
    loudness, peaks, levels = (part.loudness, part.peaks, part.levels) if part else (None, None, None)
    clipping, tops, activity = (part.clipping, part.flat_tops, part.activity) if part else (None, None, None)
    stereo, nature = (part.stereo, part.nature) if part else (None, None)
    return {
        "integrated_lufs": loudness.integrated_lufs if loudness else None,
        "max_momentary_lufs": loudness.max_momentary_lufs if loudness else None,
        "max_momentary_at_s": loudness.max_momentary_at_s if loudness else None,
        "max_short_term_lufs": loudness.max_short_term_lufs if loudness else None,
        "loudness_range_lu": loudness.range_lu if loudness else None,
        "true_peak_dbtp": peaks.true_dbtp if peaks else None,
        "true_peak_at_s": peaks.true_at_s if peaks else None,
        "sample_peak_dbfs": peaks.sample_dbfs if peaks else None,
        "sample_peak_at_frame": peaks.sample_at_frame if peaks else None,
        "channel_peaks_dbfs": peaks.channel_dbfs if peaks else None,
        "silent": peaks.sample_dbfs == -math.inf if peaks else None,
        "rms_dbfs": levels.rms_dbfs if levels else None,
        "active_rms_dbfs": levels.active_rms_dbfs if levels else None,
        "crest_db": levels.crest_db if levels else None,
        "dc_offset": levels.dc_offset if levels else None,
        "dc_worst_window": levels.dc_worst_window if levels else None,
        "dc_worst_at_s": levels.dc_worst_at_s if levels else None,
        "offset_ms": None,
        "drift_ppm": None,
        "first_sound_frame": activity.first_sound_frame if activity else None,
        "last_sound_frame": activity.last_sound_frame if activity else None,
        "active_s": activity.active_s if activity else None,
        "end_rms_dbfs": activity.end_rms_dbfs if activity else None,
        "zero_tail_frames": activity.zero_tail_frames if activity else None,
        "clipped_runs": clipping.runs if clipping else None,
        "clipped_long_runs": clipping.long_runs if clipping else None,
        "longest_clip_frames": clipping.longest_frames if clipping else None,
        "first_clip_at_frame": clipping.first_at_frame if clipping else None,
        "samples_over_full_scale": clipping.over_full_scale if clipping else None,
        "flat_tops": tops.plateaus if tops else None,
        "flat_top_level_dbfs": tops.level_dbfs if tops else None,
        "correlation": stereo.correlation if stereo else None,
        "sides_identical": stereo.difference_db == -math.inf if stereo else None,
        "difference_db": stereo.difference_db if stereo else None,
        "mid_side_db": stereo.mid_side_db if stereo else None,
        "imbalance_db": stereo.imbalance_db if stereo else None,
        "timecode_share": nature.timecode_share if nature else None,
        "tick_share": nature.tick_share if nature else None,
    }


def _whole_file(stem: StemEvidence) -> Json:
    audio = stem.audio
    return {
        "decoded_frames": audio.frames if audio else None,
        "bits_in_use": audio.bits_in_use if audio else None,
        "content_hash": audio.content_hash if audio else None,
        "not_finite": audio.not_finite if audio else None,
        "md5_checked": audio.md5_checked if audio else None,
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
