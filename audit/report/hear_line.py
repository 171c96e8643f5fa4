"""The command under a fault that lets one hear it, ready to be copied into a shell."""

from __future__ import annotations

import re
import shlex

from rich.cells import cell_len

from audit.evidence import ShowEvidence
from audit.findings import Finding
from audit.report.enlarged import worth_hearing
from audit.report.page import Page
from audit.units import clock

LABEL = "Hear: "
_BARE = re.compile(r"[\w./+@%=-]+")
_QUOTABLE = re.compile(r"[^\"$`\\!%]+")
"""Between double quotes, which every shell has, these mean themselves."""


def hear_command(evidence: ShowEvidence, finding: Finding) -> tuple[str, str] | None:
    """The command's options and its path, quoted; None for a finding without a place in one stem, and for
    timecode: nobody hears what is wrong in that buzz."""
    if finding.stem is None or finding.at_s is None or len(finding.songs) != 1:
        return None
    song = next((song for song in evidence.songs if song.name == finding.songs[0]), None)
    stem = next((stem for stem in song.stems if stem.name == finding.stem), None) if song else None
    if song is None or stem is None or not worth_hearing(stem, finding):
        return None
    folder = "" if song.song.folder == "." else f"{song.song.folder}/"
    show = str(evidence.show.path)
    inside = f"{folder}{finding.stem}"
    path = inside if show == "." else f"{show.rstrip('/')}/{inside}"
    path = f"./{path}" if path.startswith("-") else path
    return f"--at {clock(max(0.0, finding.at_s))}", quoted(path)


def quoted(path: str) -> str:
    """The path as one word of a command line."""
    if _BARE.fullmatch(path):
        return path
    return f'"{path}"' if _QUOTABLE.fullmatch(path) else shlex.quote(path)


def put_hear_line(page: Page, evidence: ShowEvidence, finding: Finding, *, indent: int) -> None:
    """One line where it fits, from the indent or further left; else two that a shell reads as one. Where the
    path alone is wider than the page nothing is put: a folded path could not be copied."""
    command = hear_command(evidence, finding)
    if command is None:
        return
    place, path = command
    if page.text(path).plain != path:
        return  # letters that this terminal lacks, or that nobody can type
    line = f"stemaudit hear {path} {place}"
    room = page.width - cell_len(line)
    if room >= indent + cell_len(LABEL):
        page.put((LABEL, "dim"), line, indent=indent)
    elif room >= 2:
        page.put(line, indent=min(indent, room))
    elif cell_len(path) + 4 <= page.width:
        page.put(f"stemaudit hear {place} \\", indent=2)
        page.put(path, indent=4)
