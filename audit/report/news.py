"""What a change in the folder has changed in the audit."""

from __future__ import annotations

from rich.console import Console

from audit.findings import Finding, Severity, ShowAudit, SongAudit
from audit.report.faults import SEVERITY_STYLE, place
from audit.report.page import Page
from audit.report.verdict import song_verdict

CELLS = 9


def print_news(before: ShowAudit, after: ShowAudit, console: Console) -> bool:
    """One paragraph for each song whose stems or findings differ; nothing where none does.

    True where there is an error that was not there before.
    """
    page = Page(console)
    was, now = _by_name(before), _by_name(after)
    worse = False
    for name in dict.fromkeys([*now, *was]):
        if name not in now:
            page.put((f"{name}: gone", "bold"))
            continue
        song = now[name]
        come, gone = _difference(before, was.get(name), after, song)
        landed = _landed(was.get(name), song)
        if not (come or gone or landed):
            continue
        verdict = song_verdict(after, song)
        old = f", was {song_verdict(before, was[name])}" if name in was else ""
        files = f" ({', '.join(landed)})" if landed else ""
        page.put((f"{name}: {verdict}", "bold"), old if old != f", was {verdict}" else "", files)
        for finding in come:
            worse = worse or finding.severity is Severity.ERROR
            where = place(finding, name_songs=False)
            words = f"{finding.rule}{f' in {where}' if where else ''}: {finding.message}"
            page.put(
                words,
                label=finding.severity.value,
                style=SEVERITY_STYLE[finding.severity],
                indent=2,
                hang=CELLS,
            )
            page.put(("Cure: ", "dim"), finding.advice, indent=2, hang=CELLS)
        for finding in gone:
            where = f" in {finding.stem}" if finding.stem else ""
            page.put((f"{finding.rule}{where}", "dim"), label="mended", style="dim", indent=2, hang=CELLS)
    page.print()
    return worse


def _by_name(audit: ShowAudit) -> dict[str, SongAudit]:
    return {song.evidence.name: song for song in audit.songs}


def _landed(before: SongAudit | None, after: SongAudit) -> list[str]:
    """Stems that are new or were written again, and those that went."""
    was = {s.file: (s.size_bytes, s.modified_ns) for s in before.evidence.song.stems} if before else {}
    now = {s.file: (s.size_bytes, s.modified_ns) for s in after.evidence.song.stems}
    written = [file for file, stamp in now.items() if was.get(file) != stamp]
    return [*written, *(f"{file} gone" for file in was if file not in now)]


def _difference(
    before: ShowAudit, was: SongAudit | None, after: ShowAudit, now: SongAudit
) -> tuple[list[Finding], list[Finding]]:
    """Findings that came and those that went: told apart by rule, stem and severity, not by figures."""
    old = _counting(before, was) if was else []
    new = _counting(after, now)
    come = [finding for finding in new if _key(finding) not in {_key(f) for f in old}]
    gone = [finding for finding in old if _key(finding) not in {_key(f) for f in new}]
    return _once(come), _once(gone)


def _counting(audit: ShowAudit, song: SongAudit) -> list[Finding]:
    return [f for f in audit.findings_of(song) if f.waived is None and f.severity is not Severity.NOTE]


def _key(finding: Finding) -> tuple[str, str | None, Severity]:
    return finding.rule, finding.stem, finding.severity


def _once(findings: list[Finding]) -> list[Finding]:
    return list({_key(finding): finding for finding in reversed(findings)}.values())[::-1]
