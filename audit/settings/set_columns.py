"""Songs side by side in a set list without numbers: which lines are such, read column after column.

With numbers their own order tells (`side_by_side`); without, only the songs on the disk do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from audit.settings.called import songs_called
from audit.settings.model import SetEntry, SetList
from audit.settings.naming import SongRegister
from audit.settings.set_words import is_note
from audit.settings.side_by_side import cells_of, is_counted


def one_song_a_line(set_list: SetList, register: SongRegister) -> SetList:
    """The list with songs that stand side by side as entries of their own, column after column.

    Without numbers only the disk tells a column of songs from one of remarks: at least half of what stands in
    it is, or is nearly, a song's name, and no song comes twice, as where each line also names the next song.
    Under a heading for each column a song may come in both.
    """
    rows = {
        entry.name: cells
        for entry in set_list.entries
        if not entry.heading and (cells := _songs_in(entry.name, register)) and not register.named(entry.name)
    }
    if not rows:
        return set_list
    set_list = replace(set_list, halves=tuple(_headed(half, rows, register) for half in set_list.halves))
    heads = {entry.name for entry in set_list.entries if entry.heading}
    rows = {name: cells for name, cells in rows.items() if name not in heads}
    if not _are_columns(rows, set_list, register):
        return set_list
    return replace(set_list, halves=tuple(half for each in set_list.halves for half in _columns(each, rows)))


def _are_columns(rows: Mapping[str, Sequence[str]], set_list: SetList, register: SongRegister) -> bool:
    """Whether at least half of the rows are all songs, or nearly, and none comes twice unless under heads."""
    single = [entry for entry in set_list.entries if not entry.heading and entry.name not in rows]
    named = [song for entry in single for song in songs_called(entry, register, set_list)[:1]]
    whole = 0
    for cells in rows.values():
        called = [songs_called(SetEntry(name=cell), register, set_list)[:1] for cell in cells]
        near = [
            songs or tuple(filter(None, [register.nearest(cell)]))
            for cell, songs in zip(cells, called, strict=True)
        ]
        whole += any(called) and all(near)
        named += [song for songs in near for song in songs]
    headed = any(half[0].heading and len(cells_of(half[0].name)) > 1 for half in set_list.halves if half)
    return 2 * whole >= len(rows) and (headed or len(named) == len(set(named)))


def _headed(
    half: tuple[SetEntry, ...], rows: Mapping[str, Sequence[str]], register: SongRegister
) -> tuple[SetEntry, ...]:
    """The half with its first line as a heading, where that heads columns ("Friday", "Saturday"): nothing in
    it is nearly a song, and all in the two lines below it is."""
    wide = [len(rows.get(entry.name, ())) for entry in half[:3]]
    known = [
        sum(bool(register.named(cell) or register.nearest(cell)) for cell in rows.get(entry.name, ()))
        for entry in half[:3]
    ]
    if len(half) < 3 or not 0 < wide[0] == wide[1] or known != [0, *wide[1:]]:
        return half
    return (replace(half[0], heading=True), *half[1:])


def _songs_in(line: str, register: SongRegister) -> list[str]:
    """What may be songs side by side: several cells that are no key or tempo. Beside a song with a number
    the next one has its number, too; a number that belongs to a song's name counts nothing."""
    cells = [cell for cell in cells_of(line) if cell]
    names = [cell for cell in cells if not is_note(cell)]
    if len(names) < 2 or cells[0].rstrip(".):").isdigit():
        return []
    counted = [is_counted(cell) and not register.named(cell) for cell in names]
    return [] if counted[0] and not all(counted) else names


def _columns(half: Sequence[SetEntry], rows: Mapping[str, Sequence[str]]) -> list[tuple[SetEntry, ...]]:
    """The half with its rows read down; headings above them begin a half for each column."""
    widest = max((len(rows[entry.name]) for entry in half if entry.name in rows), default=0)
    if not widest:
        return [tuple(half)]
    heads = cells_of(half[0].name) if half[0].heading else []
    before: list[SetEntry] = []
    columns: list[list[SetEntry]] = [[] for _ in range(widest)]
    after: list[SetEntry] = []
    for entry in half:
        if entry.name in rows:
            columns[0] += after
            after = []
            for column, cell in zip(columns, rows[entry.name], strict=False):
                column.append(replace(entry, name=cell))
        else:
            (after if columns[0] else before).append(entry)
    if len(heads) == widest:
        columns[0] = [*before[1:], *columns[0], *after]
        apart = [[replace(half[0], name=head), *column] for head, column in zip(heads, columns, strict=True)]
        return [tuple(part) for part in apart]
    return [(*before, *(entry for column in columns for entry in column), *after)]
