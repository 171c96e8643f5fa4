"""What verify has to say, for the terminal and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any, TypeVar

from rich.console import Console

from audit.findings import Finding, Severity, ShowAudit
from audit.report.faults import LABEL_CELLS, SEVERITY_STYLE, place
from audit.report.json_text import json_text
from audit.report.page import Page
from audit.report.words import listed, searchable, visible
from audit.results import AudioChange, SealCheck, StemDelta
from audit.units import count

SCHEMA = 1
NOTES_SHOWN = 12

Key = TypeVar("Key", bound=Hashable)


def print_check(audit: ShowAudit, check: SealCheck, console: Console, *, quick: bool) -> None:
    """The answer first, then differences by severity, then what was not checked."""
    page = Page(console)
    page.put((answer(audit, check), "bold"))
    if audit.evidence.partial:
        songs = listed(song.name for song in audit.evidence.songs) or "a song that is gone"
        page.put((f"Only this was checked: {songs}.", "dim"))
    _put_by_song(page, audit, dict(check.songs_moved))
    notes = [f for f in audit.all_findings() if f.severity is Severity.NOTE and f.waived is None]
    if notes:
        page.blank()
        page.put(("Notes", "bold"), (": worth knowing, nothing that stops a show", "dim"))
        for note in notes[:NOTES_SHOWN]:
            page.put(f"{place(note, name_songs=True)}: {note.message}", indent=2)
        if len(notes) > NOTES_SHOWN:
            page.put((f"and {len(notes) - NOTES_SHOWN} more notes (--json has all)", "dim"), indent=2)
    if check.could_not_read or audit.unread:
        page.blank()
        page.put(("Could not be checked", "bold"))
        for path, reason in check.could_not_read:
            page.put(f"{path}: {reason}", indent=2)
        for entry in audit.unread:
            page.put(f"{entry.path}: {entry.reason}", indent=2)
    page.blank()
    if quick:
        page.put(
            f"Not read, as name, size and time are those of the seal: {count(check.not_read, 'stem')}. Rot "
            "leaves size and time alone: without --quick every file is read."
        )
    waived = sum(finding.waived is not None for finding in audit.all_findings())
    tail = f" {waived} waived." if waived else ""
    if check.anew:
        songs = listed(f"{song} ({when[:10]})" for song, when in check.anew)
        tail = f" Sealed anew since: {songs}.{tail}"
    page.put((f"Sealed {check.sealed_at.replace('T', ' ').replace('+00:00', ' UTC')}, "
              f"{count(check.stems, 'stem')}.{tail}", "dim"))  # fmt: skip
    page.print()


def _put_by_song(page: Page, audit: ShowAudit, renamed: Mapping[str, str]) -> None:
    """What is wrong, song by song, and what to do below the stems that it is for: once at the end where it is
    the same for all. renamed: folders, was -> is."""
    faults = [f for f in audit.all_findings() if f.waived is None and f.severity is not Severity.NOTE]
    songs: dict[str, list[Finding]] = {}
    for fault in faults:
        songs.setdefault(renamed.get(fault.songs[0], fault.songs[0]), []).append(fault)
    cures = {(fault.rule, fault.advice) for fault in faults}
    for song, of_song in songs.items():
        page.blank()
        page.put((song, "bold"))
        for (rule, advice), with_cure in _grouped(of_song, lambda fault: (fault.rule, fault.advice)).items():
            _put_faults(page, with_cure)
            if len(cures) > 1:
                page.put(("Cure: ", "dim"), advice, (f" ({rule})", "dim"), indent=2, hang=LABEL_CELLS)
    if len(cures) == 1:
        page.blank()
        page.put(("What to do", "bold"))
        for rule, advice in cures:
            page.put((rule, "bold"), f": {advice}", indent=2, hang=2)


def _put_faults(page: Page, faults: Sequence[Finding]) -> None:
    """Those in the same words in one line, with their stems in front."""
    for (message, severity), alike in _grouped(faults, lambda fault: (fault.message, fault.severity)).items():
        stems = ", ".join(fault.stem for fault in alike if fault.stem)
        page.put(
            f"{stems}: {message}" if stems else message,
            label=severity.value, style=SEVERITY_STYLE[severity], indent=2, hang=LABEL_CELLS,
        )  # fmt: skip


def _grouped(faults: Sequence[Finding], key: Callable[[Finding], Key]) -> dict[Key, list[Finding]]:
    """In the order in which they come first."""
    found: dict[Key, list[Finding]] = {}
    for fault in faults:
        found.setdefault(key(fault), []).append(fault)
    return found


def answer(audit: ShowAudit, check: SealCheck) -> str:
    """The verdict in one line."""
    errors, warnings = audit.total(Severity.ERROR), audit.total(Severity.WARNING)
    if errors:
        return f"Not as sealed: {_differences(audit)}."
    if check.could_not_read or audit.unread:
        unread = len(check.could_not_read) + len(audit.unread)
        return f"Not all could be checked: {count(unread, 'stem')} could not be read."
    if warnings:
        return f"As sealed, but for names: {_differences(audit)}."
    if check.not_read == check.stems and check.stems:
        found = _differences(audit)
        beside = f"; beside that {found}" if found else ""
        return (
            f"As sealed by names, sizes and times: {count(check.stems, 'stem')}, none of them read{beside}."
        )
    as_sealed = f"As sealed: {count(check.stems, 'stem')}"
    found = _differences(audit)
    return f"{as_sealed}, and beside that {found}." if found else f"{as_sealed}."


def _differences(audit: ShowAudit) -> str:
    """All of them counted, the worst kind first: `1 stem missing, 2 changed, 3 new`; "" for none."""
    counted = dict.fromkeys(KINDS, 0)
    for finding in audit.all_findings():
        if finding.waived is None:
            of_song = finding.measured.get("stems")  # of one that is gone
            counted[_kind(finding)] += of_song if isinstance(of_song, int) else 1
    parts = [(number, kind) for kind, number in counted.items() if number]
    if not parts:
        return ""
    (first, kind), *rest = parts
    unit = "song" if kind == "in renamed folders" else "stem"
    songs = [f"{count(number, 'song')} {kind}" for number, kind in rest if kind == "in renamed folders"]
    stems = [f"{number} {kind}" for number, kind in rest if kind != "in renamed folders"]
    return ", ".join([f"{count(first, unit)} {kind}", *stems, *songs])


KINDS = (
    "decayed", "missing", "changed", "in another song", "under another name", "new", "with other metadata",
    "in renamed folders",
)  # fmt: skip
"""What stems can be, worst first."""


def _kind(finding: Finding) -> str:
    note = finding.severity is Severity.NOTE
    if finding.rule == "missing-since-seal":
        if "renamed_stems" in finding.measured:
            return "in renamed folders"
        if finding.severity is Severity.WARNING:
            return "under another name"
        return "in another song" if finding.measured.get("was") else "missing"
    if finding.rule == "new-since-seal":
        return "new"
    if note:
        return "with other metadata"
    return "decayed" if finding.rule == "decayed-since-seal" else "changed"


def check_json(audit: ShowAudit, check: SealCheck, *, quick: bool) -> str:
    """Everything, for scripts: keys in a fixed order, newline at the end."""
    document = {
        "schema": SCHEMA,
        "tool": {"name": "stemaudit", "version": audit.version},
        "show": {"name": audit.evidence.show.name, "folder": str(audit.evidence.show.path)},
        "seal": {
            "sealed_at": check.sealed_at,
            "stems": check.stems,
            "anew": [{"song": song, "sealed_at": when} for song, when in check.anew],
        },
        "quick": quick,
        "differences": [delta_json(delta) for delta in check.deltas],
        "findings": [_finding(finding) for finding in audit.all_findings()],
        "not_read": check.not_read,
        "could_not_read": [{"path": path, "reason": reason} for path, reason in check.could_not_read],
        "summary": {
            "errors": audit.total(Severity.ERROR),
            "warnings": audit.total(Severity.WARNING),
            "notes": audit.total(Severity.NOTE),
        },
    }
    return json_text(document)


def delta_json(delta: StemDelta) -> dict[str, Any]:
    return {
        "state": delta.state.value,
        "path": delta.path,
        "was": delta.was,
        "was_song": delta.was_song,
        "same_as": delta.same_as,
        "song": delta.song,
        "stem": delta.stem,
        "audio_differs": delta.audio_differs,
        "changes": [change_json(change) for change in delta.changes],
    }


def change_json(change: AudioChange) -> dict[str, Any]:
    return {
        "kind": change.kind.value,
        "value": change.value,
        "unit": change.unit,
        "frames": change.frames,
        "bars": change.bars,
        "from_s": change.from_s,
        "to_s": change.to_s,
        "was": change.was,
        "now": change.now,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": finding.severity.value,
        "songs": finding.songs,
        "stem": finding.stem,
        "message": searchable(visible(finding.message)),
        "advice": searchable(visible(finding.advice)),
        "waived": finding.waived,
    }
