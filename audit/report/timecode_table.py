"""The show's timecode at a glance: which numbers each song has. Nothing where no song has any."""

from __future__ import annotations

from audit.findings import ShowAudit
from audit.report.page import Cell, Page, right
from audit.report.words import signed
from audit.units import clock, count


def put_timecode(page: Page, audit: ShowAudit) -> None:
    """A line a song that has timecode which can be read."""
    coded = [(song.evidence.name, track) for song in audit.songs if (track := song.evidence.timecode)]
    if not coded:
        return
    page.blank()
    starts = right(["Starts", *(clock(track.start_s, millis=False) for _, track in coded)])
    levels = right(["dBFS", *(signed(track.level_dbfs) for _, track in coded)])
    rows = [
        [
            Cell(words=name),
            Cell(words=track.first.text(track.rate)),
            Cell(words=track.last.text(track.rate)),
            Cell(words=track.rate.text),
            Cell(words=starts[line]),
            Cell(words=levels[line]),
            Cell(words=count(track.jump_count, "jump") if track.jump_count else ""),
        ]
        for line, (name, track) in enumerate(coded, start=1)
    ]
    header = ["Timecode", "First", "Last", "Rate", starts[0], levels[0], ""]
    if not any(track.jump_count for _, track in coded):
        header, rows = header[:-1], [row[:-1] for row in rows]
    page.table(header, rows, shrink=(0,), drop=(5, 4, 3, 2))
