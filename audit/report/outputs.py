"""What comes out where: each line of the patch, who hears it, what plays on it, and how high it reaches."""

from __future__ import annotations

from dataclasses import dataclass

from audit.findings import ShowAudit
from audit.report.figures import figure
from audit.report.page import Cell, Page
from audit.report.words import listed
from audit.settings.model import AUDIENCE, Output
from audit.settings.naming import fits_song, fits_stem


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputLine:
    """A line of the patch over the whole show."""

    out: str  # `1 and 2`
    name: str
    heard_by: str  # `audience`, `crew`
    plays: str  # the roles and patterns that it takes
    songs: int  # how many have something on it
    highest: str  # `−3.2 dBTP`; empty where nothing sounds on it
    in_song: str
    over: bool  # past full scale


def output_lines(audit: ShowAudit) -> list[OutputLine]:
    """In the order of the patch; empty without one. Outputs are added up at the gains of the settings."""
    return [_line(audit, line) for line in audit.evidence.settings.outputs]


def _line(audit: ShowAudit, line: Output) -> OutputLine:
    reached = [
        (out.peaks.true_dbtp, song.name)
        for song in audit.evidence.songs
        if fits_song(line.songs, song.names)
        for out in song.outputs or ()
        if out.output in line.out
    ]
    songs = sum(
        fits_song(line.songs, song.names)
        and any(fits_stem(line.stems, stem.name, stem.roles) for stem in song.stems)
        for song in audit.evidence.songs
    )
    highest, in_song = max(reached, default=(float("-inf"), ""))
    sounds = highest > float("-inf")
    return OutputLine(
        out=listed(map(str, line.out)),
        name=line.name,
        heard_by="audience" if line.heard_by == AUDIENCE else "crew",
        plays=", ".join(line.stems),
        songs=songs,
        highest=figure(highest, "dBTP", changed=True) if sounds else "",
        in_song=in_song if sounds else "",
        over=highest > 0.0,
    )


def put_outputs(page: Page, audit: ShowAudit) -> None:
    """A line an output or pair; nothing without a patch."""
    lines = output_lines(audit)
    if not lines:
        return
    page.blank()
    rows = [
        [
            Cell(words=line.out),
            Cell(words=line.name or line.plays),
            Cell(words=line.heard_by),
            Cell(words=line.highest or "–", style="bold red" if line.over else ""),
            Cell(words=line.in_song),
        ]
        for line in lines
    ]
    page.table(["Outputs", "", "Heard by", "Highest", "In song"], rows, shrink=(4, 1))
