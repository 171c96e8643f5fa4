"""Songs that stand side by side in a set list, as people print them: "1. Low Tide     9. Night Ferry".

Each column is read down before the next one, as a numbered list goes on at the head of the next column. What
stands in columns beside one song only (its key, its tempo, a remark) is no column of songs: see `set_words`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from audit.settings.set_words import LONGEST, is_note, is_part_of_show, without_bullet

Lines = list[tuple[int, str]]
"""Lines of a text, each with its number."""

# A run of blanks is entered at its beginning only: else a long one is tried from each of its places.
_GAP = re.compile(r"(?<!\s)(?:\s+\|\s+|\s{2,}|\t)")
_NUMBER = re.compile(r"\d{1,3}\s*[.)]?")
_COUNTED = re.compile(
    r"(?P<count>\d{1,3})(?:\s*(?P<sign>[.)](?!\d)|[-–—](?=\s))\s*(?=.*\w)|\s\s*(?=.*[^\W\d_]))"
)
_INDENT = re.compile(r"\t| {4}")


def cells_of(line: str) -> list[str]:
    """What stands apart in a line: by a tab, by an upright stroke or by several blanks."""
    return _GAP.split(line.strip()) if len(line) <= LONGEST else [line.strip()]


def read_down(text: str) -> Lines:
    """The lines of a text, in the order of its songs: where each of several songs in a line has its number,
    every column's before the next one's.

    A line of one song among them belongs to the first column, or, if it is indented, to the last.
    """
    lines: Lines = list(enumerate(text.splitlines(), start=1))
    rows = _numbered_rows(lines)
    read: Lines = []
    at = 0
    while at < len(lines):
        if at not in rows:
            read.append(lines[at])
            at += 1
            continue
        width = len(rows[at])
        columns: list[Lines] = [[] for _ in range(width)]
        if read and len(heads := _parts(read[-1][1])) == width and not any(map(_count, heads)):
            number, _ = read.pop()
            for column, head in zip(columns, heads, strict=True):
                column.append((number, head))
        end = _end_of_block(lines, rows, at)
        for number, line in lines[at:end]:
            for place, words in _placed(line, width):
                columns[place].append((number, words))
        read += [line for column in columns for line in column]
        at = end
    return read


def is_counted(cell: str) -> bool:
    """Whether it begins with the number that counts it."""
    return _count(cell) is not None


def _count(cell: str) -> int | None:
    if len(cell) > LONGEST:
        return None
    found = _counted(cell)
    return int(found["count"]) if found and not is_note(cell) else None


def _counted(cell: str) -> re.Match[str] | None:
    return _COUNTED.match(without_bullet(cell) or cell)


def _is_heading(cell: str) -> bool:
    return cell.endswith(":") or is_part_of_show(cell)


def _parts(line: str) -> list[str]:
    """The columns of songs in a line: its cells, those that begin none put to what stands before them."""
    parts: list[str] = []
    for cell in cells_of(line):
        begins = _NUMBER.fullmatch(cell) is not None or is_counted(cell) or _is_heading(cell)
        if parts and (not begins or _NUMBER.fullmatch(parts[-1])):
            parts[-1] += f"\t{cell}"
        else:
            parts.append(cell)
    if len(parts) > 1 and _NUMBER.fullmatch(parts[-1]):  # a tempo at the end of a line
        last = parts.pop()
        parts[-1] += f"\t{last}"
    return parts


def _numbered_rows(lines: Lines) -> dict[int, list[str]]:
    """Lines of several songs, each with its number, by their place. Numbers without a sign after them could
    be anything: they have to go on from line to line, as those that count do."""
    found: dict[int, list[str]] = {}
    for at, (_, line) in enumerate(lines):
        parts = _parts(line)
        if len(parts) > 1 and all(is_counted(part) for part in parts):
            found[at] = parts
    counts = {at: [_count(part) or 0 for part in parts] for at, parts in found.items()}
    rows = {at: parts for at, parts in found.items() if all(map(_has_sign, parts))}
    for one, two in pairwise(found):
        steps = {b - a for a, b in zip(counts[one], counts[two], strict=False)}
        if len(found[one]) == len(found[two]) and steps in ({1}, {len(found[one])}):
            rows |= {one: found[one], two: found[two]}
    return rows


def _has_sign(part: str) -> bool:
    found = _counted(part)
    return found is not None and found["sign"] is not None


def _end_of_block(lines: Lines, rows: dict[int, list[str]], first: int) -> int:
    """The place after the last line of the columns that begin in this one."""
    ends = [_count(part) or 0 for part in rows[first]]
    end = at = first + 1
    while at < len(lines):
        line = lines[at][1]
        parts = _parts(line)
        begins = _count(parts[0])
        if at in rows:
            if len(parts) != len(ends) or begins != ends[0] + 1:
                break
            ends = [_count(part) or 0 for part in parts]
            end = at + 1
        elif line.strip() and at == end and _goes_on(line, parts, ends):
            ends[0] = begins if begins == ends[0] + 1 and not _INDENT.match(line) else ends[0]
            end = at + 1
        at += 1
    return end


def _goes_on(line: str, parts: Sequence[str], ends: Sequence[int]) -> bool:
    """Whether a line that is no whole row still belongs to the columns above it."""
    if len(parts) == len(ends):
        return any(_count(part) == end + 1 for part, end in zip(parts, ends, strict=True))
    if _INDENT.match(line):
        return True
    return _count(parts[0]) == ends[0] + 1 != ends[-1] + 1


def _placed(line: str, width: int) -> Iterator[tuple[int, str]]:
    parts = _parts(line)
    if not line.strip():
        yield from ((column, "") for column in range(width))
    elif len(parts) == width:
        yield from enumerate(parts)
    else:
        yield (width - 1 if _INDENT.match(line) else 0), line
