"""A set list laid over the songs on the disk: which song each entry is, who follows whom, how long it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from audit.settings.called import nearest_song, songs_called
from audit.settings.model import SetEntry, SetList
from audit.settings.naming import SongRegister
from audit.settings.set_columns import one_song_a_line
from audit.settings.set_words import after_heading, is_part_of_show

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
    set_list = one_song_a_line(set_list, register)
    found = {entry.name: songs_called(entry, register, set_list) for entry in set_list.entries}
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
                near=None if found[entry.name] else nearest_song(entry, register, asked),
                several=found[entry.name] if len(found[entry.name]) > 1 else (),
            )
            for half, entries in enumerate(asked.halves)
            for entry in entries
        ),
    )


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
