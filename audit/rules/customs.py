"""What this show usually does: the majorities and habits that rules compare a stem with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence
from audit.facts import Role, StemFormat
from audit.rules.once import once_a_show


def majority(values: Iterable[int]) -> int | None:
    """The value that more files have than any other; None for a tie between the first two, or no file."""
    ranked = Counter(values).most_common(2)
    if not ranked or (len(ranked) == 2 and ranked[0][1] == ranked[1][1]):
        return None
    return ranked[0][0]


def common(by_song: Iterable[Sequence[int]]) -> int | None:
    """What most files have, unless most songs have something else: each song has the vote of most of its
    files. None for no majority, and where files and songs disagree: one song of twenty stems beside ten that
    hold a click each says as little of who is right as ten clicks beside that song. A tie between songs
    leaves it to the files."""
    songs = [values for values in by_song if values]
    of_files = majority(value for values in songs for value in values)
    votes = [vote for values in songs if (vote := majority(values)) is not None]
    of_songs = majority(votes)
    return of_files if of_songs is None or of_songs == of_files else None


@once_a_show
def usual_rate(show: ShowEvidence) -> int | None:
    """The show's sample rate in Hz, by the settings or as files and songs have it; None where they leave it
    open (`common`)."""
    return show.settings.sample_rate_hz or common(
        [stem.format.sample_rate_hz for stem in song.stems if stem.format] for song in show.songs
    )


def depth_of(form: StemFormat) -> int | None:
    """The bits of a sample, below zero for floating point: 32-bit float is no 32-bit integer. None: lossy."""
    return -form.bits if form.is_float and form.bits is not None else form.bits


@once_a_show
def usual_depth(show: ShowEvidence) -> int | None:
    """The show's `depth_of`, by the settings or as files and songs have it; None where they leave it open.
    Lossy files have none and do not count. 32 bits in the settings are those that most such files have: float
    or not."""
    by_song = [
        [depth for stem in song.stems if stem.format and (depth := depth_of(stem.format)) is not None]
        for song in show.songs
    ]
    known = [depth for depths in by_song for depth in depths]
    asked = show.settings.bits
    if asked is None:
        return common(by_song)
    return -asked if known.count(-asked) > known.count(asked) else asked


def usual_bits(show: ShowEvidence) -> int | None:
    """The bits of a sample at the show's depth, float or not; None where there is no majority."""
    depth = usual_depth(show)
    return None if depth is None else abs(depth)


def parts_of(song: SongEvidence) -> list[tuple[str, PartEvidence]]:
    """Every part of every stem of the song with its stem's name."""
    return [(stem.name, part) for stem in song.stems for part in stem.parts]


EVERYWHERE_SONGS = 3
"""In fewer songs than this, what a role always does is no habit."""


def is_everywhere(show: ShowEvidence, role: Role, is_so: Callable[[PartEvidence], bool]) -> bool:
    """Whether every song that has parts of this role has one that `is_so`, in enough songs: the way this show
    is made, and not a slip."""
    songs = [[part for _, part in parts_of(song) if part.role is role] for song in show.songs]
    having = [sounding for parts in songs if (sounding := [part for part in parts if not part.silent])]
    return len(having) >= EVERYWHERE_SONGS and all(any(map(is_so, parts)) for parts in having)


def robust_spread(values: Sequence[float]) -> float:
    """1.4826 times the median distance from the median: the standard deviation of normal data, of which a few
    wild values change little. 0.0 for no value. Source: Rousseeuw & Croux 1993 (the factor) [memory]."""
    if not values:
        return 0.0
    middle = median(values)
    return 1.4826 * median([abs(value - middle) for value in values])
