"""A set list as a plain text file: one song a line, columns of them, or a spreadsheet's table; a blank line
or a heading ("Set 2:", "-- Encore --") between halves, `#` begins a remark."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable
from pathlib import Path

from audit.errors import SettingsError
from audit.settings.mistakes import clean
from audit.settings.model import SetEntry, SetList
from audit.settings.set_words import dashed_words, heads_columns, is_part_of_show
from audit.settings.side_by_side import cells_of, read_down
from audit.settings.song_table import song_column

MOST_BYTES = 1_000_000
"""No set list and no settings are longer; a stem named by a slip of the keyboard is not read."""

_COUNT = re.compile(r"\s*\d{1,3}\s*[.):]\s+")
_SETTINGS = re.compile(
    r"^\s*(?:schema\s*=\s*\d|\[\[(?:songs|sets|outputs|machines|waivers)\]\])", re.MULTILINE
)
"""What a file of settings has and no list of songs: its format's number, or a table that is there often."""

_TABS = re.compile(r"(?<! ) *\t\s*")

_RULED_LINE = re.compile(r"\s*[-–—=_*~]{2,}\s*")


def halves_of(text: str) -> tuple[tuple[SetEntry, ...], ...]:
    """The songs of a text, half by half; a leading count ("3. ") is not part of a name. Tabs between columns
    become upright strokes, which can be read in a report.

    A line that ends in a colon is a heading, and so is the word for a part of a show between dashes. Other
    words between dashes, and such a word alone ("Encore"), begin a half as an entry that is a heading unless
    the disk has a song of that name. A song whose own name begins like a count is found all the same: songs
    are named with or without number.
    """
    halves: list[list[SetEntry]] = [[]]
    for number, raw in read_down(song_column(text)):
        line = raw.strip()
        if line.startswith("#") or heads_columns(line):
            continue
        dashed = dashed_words(line)
        if (
            not line
            or _RULED_LINE.fullmatch(line)
            or line.endswith(":")
            or (dashed is not None and is_part_of_show(dashed))
        ):
            halves.append([])
            continue
        if dashed is not None or is_part_of_show(line) or all(map(is_part_of_show, cells_of(line))):
            halves.append([SetEntry(name=dashed or _TABS.sub(" | ", line), line=number, heading=True)])
            continue
        name = _TABS.sub(" | ", re.split(r"\s#", line, maxsplit=1)[0].strip())
        counted = _COUNT.match(name)
        halves[-1].append(SetEntry(name=name[counted.end() :] if counted else name, line=number))
    return tuple(tuple(half) for half in halves if half)


def read_text(path: Path, shown: str, *, utf16: bool = False) -> str:
    """A small text file in UTF-8. utf16: or in UTF-16 with a byte order mark, as some editors save it
    (Unicode 15.0, 23.8). Raises SettingsError where it is not there, no text or far too long."""
    try:
        if path.is_dir():
            raise SettingsError(f"{shown}: is a folder: name a text file")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise SettingsError(
            f"{shown}: cannot be read: {error.strerror}: check its name and who may read it"
        ) from None
    if len(data) > MOST_BYTES:
        raise SettingsError(f"{shown}: is longer than a megabyte: name a text file")
    wide = utf16 and data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SettingsError(
            f"{shown}:{line}: is no UTF-8 text: save the file as UTF-8 and try again"
        ) from None
    if utf16 and "\0" in text:  # UTF-16 without its mark, or no text at all
        raise SettingsError(f"{shown}: is no UTF-8 text: save the file as UTF-8 and try again")
    return text


def read_set_file(path: Path, *, name: str | None = None, shown: str | None = None) -> SetList:
    """The set list in a text file, called by the file's name without extension unless `name` is given.

    Raises SettingsError where it cannot be read, names no song, or is a file of settings.
    """
    shown = clean(shown or str(path))
    text = read_text(path, shown, utf16=True)
    if path.suffix.casefold() == ".toml" or _SETTINGS.search(text):
        raise SettingsError(
            f"{shown}: is a file of settings, no list of songs: name a text file with one song a line, or a "
            "set list of the settings by its name (--settings takes such a file)"
        )
    halves = halves_of(text)
    if not halves:
        raise SettingsError(f"{shown}: names no song: write one song a line")
    return SetList(name=name or path.stem, halves=halves, source=path.name)


def nameless(names: Iterable[tuple[tuple[str, int], ...]]) -> tuple[tuple[SetEntry, ...], ...]:
    """Halves of (name, line) as entries."""
    return tuple(tuple(SetEntry(name=name, line=line) for name, line in half) for half in names)
