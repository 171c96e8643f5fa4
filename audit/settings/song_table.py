"""A set list that comes from a spreadsheet: columns apart by tabs, commas or semicolons, under heads or none.

song_column(text) -> the same lines with the songs alone, or with tabs for commas; unchanged if it is no table
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence

from audit.settings.set_words import LONGEST, is_column_head, is_note

_SONG_HEAD = re.compile(r"(?:songs?|title|song\s*(?:name|title)|name|tracks?|tune)\.?", re.IGNORECASE)

FEWEST = 2
"""Rows under the heads, or without any."""


def song_column(text: str) -> str:
    """Under heads of which one is for songs, what stands below it; where commas or semicolons part a number
    from a name, and that from more, tabs in their place. Every line keeps its number."""
    lines = text.splitlines()
    for sign in ("\t", ";", ","):
        rows = [_cells(line, sign) for line in lines]
        heads = next((at for at, row in enumerate(rows) if any(row)), None)
        if heads is None:
            return text
        column = _song_head(rows[heads])
        if column is not None and sum(len(row) > column for row in rows[heads + 1 :]) >= FEWEST:
            return "\n".join("" if at <= heads else _song_of(row, column) for at, row in enumerate(rows))
        if sign != "\t" and _is_table(rows):
            return "\n".join("\t".join(row) for row in rows)
    return text


def _cells(line: str, sign: str) -> list[str]:
    """A row's cells; a line that cannot be a row is one."""
    if len(line) > LONGEST:
        return [line]
    try:
        return [cell.strip() for cell in next(csv.reader([line], delimiter=sign), [""])]
    except csv.Error:
        return [line]


def _song_of(row: Sequence[str], column: int) -> str:
    """A row's song. Where its column is empty, what else the row says: a heading, or a song a column off."""
    if len(row) > column and row[column]:
        return row[column]
    return " ".join(cell for cell in row if cell and not is_note(cell))


def _song_head(row: Sequence[str]) -> int | None:
    """The only column for songs under these heads, at least one of which is for something else."""
    songs = [at for at, head in enumerate(row) if _SONG_HEAD.fullmatch(head)]
    others = [head for at, head in enumerate(row) if at not in songs and is_column_head(head)]
    return songs[0] if len(songs) == 1 and others else None


def _is_table(rows: Sequence[Sequence[str]]) -> bool:
    """Whether all rows have as many cells, three and more, a number first and a name after it."""
    full = [row for row in rows if any(row)]
    return (
        len(full) >= FEWEST
        and len({len(row) for row in full}) == 1
        and len(full[0]) > FEWEST
        and all(row[0].rstrip(".)").isdigit() and row[1] and not is_note(row[1]) for row in full)
    )
