"""The click beside its song: late, early, a beat off, at another tempo, or another song's. All stems are
right with one another."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from audit.findings import Finding, Severity
from tests.lab.hearing import Bench, song_evidence
from tests.lab.kinds import offset
from tests.lab.songs import LabShow, LabSong
from tests.lab.tables import Count, OwnTable

RULES = ("offset-from-click", "shifted-by-beats", "drift-from-click")
FEWEST_STEMS = 3

Moved = Callable[[LabSong, Sequence[LabSong]], tuple[float, ...] | None]
"""The click's beats after the fault, in a show's songs; None: it cannot be planted there."""


def later(by_ms: float) -> Moved:
    return lambda song, _: tuple(at_s + by_ms / 1000.0 for at_s in song.beats_s)


def by_beats(share: float) -> Moved:
    return lambda song, _: tuple(at_s + share * beat_s(song) for at_s in song.beats_s)


def faster(ratio: float) -> Moved:
    return lambda song, _: tuple(at_s / ratio for at_s in song.beats_s)


def of_another(song: LabSong, songs: Sequence[LabSong]) -> tuple[float, ...] | None:
    """The next song's click, where its tempo is another by more than a hundredth and no plain multiple."""
    place = songs.index(song)
    for other in (*songs[place + 1 :], *songs[:place]):
        if len(other.beats_s) < 2:
            continue
        ratio = beat_s(other) / beat_s(song)
        if all(abs(ratio * parts - round(ratio * parts)) > 0.01 * ratio * parts for parts in (1, 2, 3, 4, 6)):
            return other.beats_s
    return None


def beat_s(song: LabSong) -> float:
    return float(np.median(np.diff(song.beats_s)))


FAULTS: dict[str, Moved] = {
    "20 ms late": later(20.0),
    "30 ms late": later(30.0),
    "30 ms early": later(-30.0),
    "50 ms late": later(50.0),
    "100 ms early": later(-100.0),
    "250 ms late": later(250.0),
    "half a beat": by_beats(0.5),
    "one beat": by_beats(1.0),
    "0.3 % faster": faster(1.003),
    "1 % faster": faster(1.01),
    "7 % slower": faster(1.0 / 1.07),
    "another song's": of_another,
}


def lines(seed: int, most: int | None) -> Iterator[str]:
    cells: dict[str, Count] = defaultdict(Count)
    for show in offset.shows(seed):
        bench = Bench(show)
        alarms = bench.clean(RULES)
        yield f"clean {show.name}: {len(show.songs)} songs, {len(alarms)} false alarms"
        yield from (f"  {one.songs} {one.stem}: {one.message}" for one in alarms)
        for song in show.songs:
            if len(song.beats_s) < 2 or len(song.stems) < FEWEST_STEMS:
                continue
            for name, fault in FAULTS.items():
                cell, beats_s = cells[name], fault(song, show.songs)
                if beats_s is None or (most is not None and cell.planted >= most):
                    continue
                found = planted(bench, show, song, beats_s)
                cell.planted += 1
                cell.found += any(one.stem is None for one in found)
                cell.blamed_others += sum(one.stem is not None for one in found)
    for name, cell in cells.items():
        yield cell.line(name)


def planted(bench: Bench, show: LabShow, song: LabSong, beats_s: tuple[float, ...]) -> list[Finding]:
    """What is said of the song with its click at these times. A warning at least."""
    changed = song_evidence(replace(song, beats_s=beats_s), bench.heard[song.name])
    return [one for one in bench.said(song, changed, RULES) if one.severity is not Severity.NOTE]


KIND = OwnTable(name="click", lines=lines)
