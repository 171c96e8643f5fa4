"""A locked folder is no clean folder: what could not be opened makes an audit incomplete."""

from __future__ import annotations

import io
from dataclasses import replace

from rich.console import Console

from audit.findings import ShowAudit, Verdict
from audit.report.terminal import print_report
from tests.evidence import audit_with, passed_over, show, song, stem


def with_locked(audit: ShowAudit, *, unread: bool) -> ShowAudit:
    locked = replace(passed_over("Rain/Drums", "no permission to read it"), unread=unread)
    folder = replace(audit.evidence.show, passed_over=(locked,))
    return replace(audit, evidence=replace(audit.evidence, show=folder))


def test_a_locked_folder_makes_the_audit_incomplete():
    clean = audit_with("empty-file", show(song("Rain", stem("Bass.wav"))))
    locked = with_locked(clean, unread=True)
    assert locked.incomplete
    assert locked.verdict(locked.songs[0]) is Verdict.INCOMPLETE
    harmless = with_locked(clean, unread=False)
    assert not harmless.incomplete
    assert harmless.verdict(harmless.songs[0]) is Verdict.CLEAR


def test_the_report_names_it_and_does_not_say_ready():
    console = Console(record=True, width=100, file=io.StringIO())
    print_report(
        with_locked(audit_with("empty-file", show(song("Rain", stem("Bass.wav")))), unread=True), console
    )
    text = console.export_text()
    assert text.startswith("Could not check everything: 1 path not fully checked")
    assert "Rain/Drums: no permission to read it" in text
