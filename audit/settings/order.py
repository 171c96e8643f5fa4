"""A set list laid over the songs on the disk: which song each entry is, who follows whom, how long it is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.settings.model import SetList
from audit.settings.naming import SongRegister

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

    @property
    def songs(self) -> tuple[str, ...]:
        """The songs on the disk that it names, each once, in their order."""
        return tuple(dict.fromkeys(place.song for place in self.places if place.song is not None))

    @property
    def missing(self) -> tuple[SetPlace, ...]:
        return tuple(place for place in self.places if place.song is None)

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
    found = {entry.name: register.named(entry.name) for entry in set_list.entries}
    return RunningOrder(
        set_list=set_list,
        places=tuple(
            SetPlace(
                name=entry.name,
                song=next(iter(found[entry.name]), None),
                half=half,
                line=entry.line,
                near=None if found[entry.name] else register.nearest(entry.name),
                several=found[entry.name] if len(found[entry.name]) > 1 else (),
            )
            for half, entries in enumerate(set_list.halves)
            for entry in entries
        ),
    )
