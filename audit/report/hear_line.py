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
LABEL_INSIDE = "Hear, from the show's folder: "
_BEGUN = "stemaudit hear \\"
ELSEWHERE = "in the page (--html FILE); the path is too long, or not to be typed, here"
_MARGIN = 6  # four cells before a line, and two for the sign that it goes on
_BARE = re.compile(r"[\w./+@%=-]+")
_QUOTABLE = re.compile(r"[^\"$`\\!%]+")
"""Between double quotes, which every shell has, these mean themselves."""


def hear_command(evidence: ShowEvidence, finding: Finding) -> tuple[str, ...] | None:
    """The command's path and its options, quoted; None for a finding without a place in one stem, and for
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
    return _words(path, finding, evidence.show.clips)


def _inside(evidence: ShowEvidence, finding: Finding) -> tuple[str, ...]:
    """The same as it is typed in the show's folder."""
    song = next(song for song in evidence.songs if song.name == finding.songs[0])
    folder = "" if song.song.folder == "." else f"{song.song.folder}/"
    return _words(f"{folder}{finding.stem}", finding, evidence.show.clips_from_it)


def _words(path: str, finding: Finding, clips: str) -> tuple[str, ...]:
    """clips: the folder for them; empty for the one that `hear` takes by itself."""
    out = (f"--out {_as_path(clips)}",) if clips else ()
    return (_as_path(path), f"--at {clock(max(0.0, finding.at_s or 0.0))}", *out)


def _as_path(path: str) -> str:
    return quoted(f"./{path}" if path.startswith("-") else path)


def quoted(path: str) -> str:
    """The path as one word of a command line."""
    if _BARE.fullmatch(path):
        return path
    return f'"{path}"' if _QUOTABLE.fullmatch(path) else shlex.quote(path)


def put_hear_line(page: Page, evidence: ShowEvidence, finding: Finding, *, indent: int) -> None:
    """One line where it fits, from the indent or further left; else several that a shell reads as one.

    A folded path could not be copied: where it is wider than the page, it is given as seen from the show's
    folder; and where that is too, what to do is said instead.
    """
    command = hear_command(evidence, finding)
    if command is None:
        return
    for label, words in ((LABEL, command), (LABEL_INSIDE, _inside(evidence, finding))):
        if any(page.text(word).plain != word for word in words):
            continue  # letters that this terminal lacks, or that nobody can type
        lines = _lines(words, page.width, indent, label)
        for number, (line, start) in enumerate(lines):
            page.put(*([(label, "dim")] if number == 0 else []), line, indent=start)
        if lines:
            return
    page.put((LABEL, "dim"), ELSEWHERE, indent=min(indent, 2))


def _lines(words: tuple[str, ...], width: int, indent: int, label: str) -> list[tuple[str, int]]:
    """The command as (line, indent), the label of its first line not counted; none where it does not fit."""
    line = " ".join(["stemaudit hear", *words])
    room = width - cell_len(label) - cell_len(line)
    if room >= 2:
        return [(line, min(indent, room))]
    narrow = cell_len(label) + len(_BEGUN) + 2 > width
    head = [("", 2), (_BEGUN, 2)] if narrow else [(_BEGUN, 2)]
    rows: list[str] = []
    for word in words:
        if rows and cell_len(rows[-1]) + 1 + cell_len(word) + _MARGIN <= width:
            rows[-1] = f"{rows[-1]} {word}"
        else:
            rows.append(word)
    if any(cell_len(row) + (_MARGIN if row is not rows[-1] else 4) > width for row in rows):
        return []
    return [*head, *((f"{row} \\", 4) for row in rows[:-1]), (rows[-1], 4)]
