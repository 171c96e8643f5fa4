"""A set list laid over the songs on the disk: which song each entry is, who follows whom, how long it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from audit.settings.model import SetEntry, SetList
from audit.settings.naming import SongRegister
from audit.settings.set_words import (
    LONGEST,
    after_heading,
    first_words,
    is_note,
    is_part_of_show,
    part_words,
    shorter_names,
)
from audit.settings.side_by_side import cells_of, is_counted

DAY_MIN = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPlace:
    """One entry of a set list. `song`: the song it is on the disk; None: none there has that name."""

    name: str  # as it is written
    song: str | None
    half: int  # 0 for the first
    line: int | None = None
    near: str | None = None  # where there is none of that name: the song that may be meant
    several: tuple[str, ...] = ()  # all songs of that name where more than one has it; `song` is the first


@dataclass(frozen=True, slots=True, kw_only=True)
class RunningOrder:
    """A set list with its songs found."""

    set_list: SetList
    places: tuple[SetPlace, ...]
    headings: tuple[SetEntry, ...] = ()  # lines that were taken for headings, as no song is called so

    @property
    def songs(self) -> tuple[str, ...]:
        """The songs on the disk that it names, each once, in their order."""
        return tuple(dict.fromkeys(place.song for place in self.places if place.song is not None))

    @property
    def missing(self) -> tuple[SetPlace, ...]:
        return tuple(place for place in self.places if place.song is None)

    @property
    def missing_names(self) -> tuple[str, ...]:
        """What is missing, each once, with the song that may be meant: `Tin Rof (did it mean Tin Roof?)`."""
        return tuple(
            dict.fromkeys(
                f"{place.name} (did it mean {place.near}?)" if place.near else place.name
                for place in self.missing
            )
        )

    @property
    def neighbours(self) -> tuple[tuple[str, str], ...]:
        """Songs that follow each other without an interval between them. An entry that is not on the disk
        has no neighbours."""
        pairs = zip(self.places, self.places[1:], strict=False)
        return tuple(
            (one.song, two.song)
            for one, two in pairs
            if one.song is not None and two.song is not None and one.half == two.half
        )

    def begins_s(self, lengths_s: Mapping[str, float]) -> tuple[float, ...]:
        """When each entry begins, in seconds after the first one; a song that is missing takes no time (see
        `without_length`)."""
        begins: list[float] = []
        now = 0.0
        for at, place in enumerate(self.places):
            if at:
                same = self.places[at - 1].half == place.half
                now += self.set_list.changeover_s if same else self.set_list.interval_s
            begins.append(now)
            now += lengths_s.get(place.song or "", 0.0)
        return tuple(begins)

    def length_s(self, lengths_s: Mapping[str, float]) -> float:
        """From the first song's start to the last one's end, changeovers and intervals included."""
        if not self.places:
            return 0.0
        return self.begins_s(lengths_s)[-1] + lengths_s.get(self.places[-1].song or "", 0.0)

    def without_length(self, lengths_s: Mapping[str, float]) -> int:
        """How many entries no length is known of: with any, all that is added up is the least it can be."""
        return sum(not lengths_s.get(place.song or "", 0.0) for place in self.places)

    @property
    def time_s(self) -> float | None:
        """The time that there is from start to end; past midnight where the end lies before the start. None
        where the settings do not say both."""
        starts, ends = self.set_list.starts, self.set_list.ends
        return None if starts is None or ends is None else 60.0 * ((ends - starts) % DAY_MIN)


def running_order(
    set_list: SetList, songs: Sequence[tuple[str, Sequence[str]]], unmarked: Mapping[str, str] | None = None
) -> RunningOrder:
    """songs: each with all names that it may be called by, and `unmarked`: their titles without version marks
    (`SongRegister`). A full name goes before a title that two share."""
    register = SongRegister(songs, unmarked)
    set_list = _one_song_a_line(set_list, register)
    found = {entry.name: _songs_called(entry, register, set_list) for entry in set_list.entries}
    asked = _without_headings(set_list, found, register)
    kept = {(entry.name, entry.line) for entry in asked.entries}
    return RunningOrder(
        set_list=asked,
        headings=tuple(
            entry for entry in set_list.entries if entry.heading and (entry.name, entry.line) not in kept
        ),
        places=tuple(
            SetPlace(
                name=entry.name,
                song=next(iter(found[entry.name]), None),
                half=half,
                line=entry.line,
                near=None if found[entry.name] else _near(entry, register, asked),
                several=found[entry.name] if len(found[entry.name]) > 1 else (),
            )
            for half, entries in enumerate(asked.halves)
            for entry in entries
        ),
    )


def _songs_called(entry: SetEntry, register: SongRegister, set_list: SetList) -> tuple[str, ...]:
    """The songs that a line means: what it says in full goes before what it says without count or remark."""
    if len(entry.name) > LONGEST:
        return ()
    ways = (entry.name, *_shorter(entry, set_list))
    return next((songs for way in ways if (songs := register.named(way))), ())


def _shorter(entry: SetEntry, set_list: SetList) -> tuple[str, ...]:
    return (
        (part_words(entry.name),) if entry.heading else shorter_names(entry.name, songs=len(set_list.entries))
    )


def _near(entry: SetEntry, register: SongRegister, set_list: SetList) -> str | None:
    if len(entry.name) > LONGEST:
        return None  # likenesses of long texts take long, and no song is called so
    ways = (entry.name, *_shorter(entry, set_list), *first_words(entry.name))
    return next((near for way in ways if (near := register.nearest(way)) is not None), None)


def _without_headings(
    set_list: SetList, found: Mapping[str, Sequence[str]], register: SongRegister
) -> SetList:
    """The list without the lines that are headings on this disk; where one is a song, no half begins at it.

    Words between dashes that nearly name a song are a slip in its name: it is missing, and told.
    """
    halves: list[list[SetEntry]] = []
    for half in set_list.halves:
        first, rest = half[0] if half else None, list(half[1:])
        if first is None:
            continue
        if not first.heading:
            halves += _from_headed(half, register)
        elif found[first.name] or (not is_part_of_show(first.name) and register.nearest(first.name)):
            before = halves.pop() if halves else []
            halves.append([*before, first, *rest])
        else:
            halves += _from_headed(rest, register)
    return replace(set_list, halves=tuple(tuple(half) for half in halves if half))


def _from_headed(half: Sequence[SetEntry], register: SongRegister) -> list[list[SetEntry]]:
    """The half, parted before each line such as "Encore: Low Tide", unless a song is called so in full."""
    parts: list[list[SetEntry]] = [[]]
    for entry in half:
        if parts[-1] and after_heading(entry.name) is not None and not register.named(entry.name):
            parts.append([])
        parts[-1].append(entry)
    return parts


def _one_song_a_line(set_list: SetList, register: SongRegister) -> SetList:
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
    rows = {
        entry.name: rows[entry.name] for entry in set_list.entries if not entry.heading if entry.name in rows
    }
    single = [entry for entry in set_list.entries if not entry.heading and entry.name not in rows]
    named = [song for entry in single for song in _songs_called(entry, register, set_list)[:1]]
    whole = 0
    for cells in rows.values():
        called = [_songs_called(SetEntry(name=cell), register, set_list)[:1] for cell in cells]
        near = [songs or ((song,) if (song := register.nearest(cell)) else ())
                for cell, songs in zip(cells, called, strict=True)]  # fmt: skip
        whole += any(called) and all(near)
        named += [song for songs in near for song in songs]
    headed = any(half[0].heading and len(cells_of(half[0].name)) > 1 for half in set_list.halves if half)
    if 2 * whole < len(rows) or (not headed and len(named) != len(set(named))):
        return set_list
    return replace(set_list, halves=tuple(half for each in set_list.halves for half in _columns(each, rows)))


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
