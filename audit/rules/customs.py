"""What this show usually does: the majorities and habits that rules compare a stem with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence
from audit.facts import Role, StemFormat


def majority(values: Iterable[int]) -> int | None:
    """The value that more files have than any other; None for a tie between the first two, or no file."""
    ranked = Counter(values).most_common(2)
    if not ranked or (len(ranked) == 2 and ranked[0][1] == ranked[1][1]):
        return None
    return ranked[0][0]


def usual_rate(show: ShowEvidence) -> int | None:
    """The show's sample rate in Hz; None where there is no majority."""
    return majority(stem.format.sample_rate_hz for song in show.songs for stem in song.stems if stem.format)


def depth_of(form: StemFormat) -> int | None:
    """The bits of a sample, below zero for floating point: 32-bit float is no 32-bit integer. None: lossy."""
    return -form.bits if form.is_float and form.bits is not None else form.bits


def usual_depth(show: ShowEvidence) -> int | None:
    """The show's `depth_of`; None where there is no majority. Lossy files have none and do not count."""
    depths = (depth_of(stem.format) for song in show.songs for stem in song.stems if stem.format)
    return majority(depth for depth in depths if depth is not None)


def usual_bits(show: ShowEvidence) -> int | None:
    """The bits of a sample at the show's depth, float or not; None where there is no majority."""
    depth = usual_depth(show)
    return None if depth is None else abs(depth)


def parts_of(song: SongEvidence) -> list[tuple[str, PartEvidence]]:
    """Every part of every stem of the song with its stem's name."""
    return [(stem.name, part) for stem in song.stems for part in stem.parts]


def robust_spread(values: Sequence[float]) -> float:
    """1.4826 times the median distance from the median: the standard deviation of normal data, of which a few
    wild values change little. 0.0 for no value. Source: Rousseeuw & Croux 1993 (the factor) [memory]."""
    if not values:
        return 0.0
    middle = median(values)
    return 1.4826 * median([abs(value - middle) for value in values])


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a role usually lies against its songs' other stems, over the show's other songs."""

    usual_ms: float
    spread_ms: float  # robust standard deviation between songs
    songs: int


ENOUGH_SONGS = 3
"""Fewer other songs than this make no habit."""

HABIT_ONSETS, HABIT_CONFIDENCE = 20, 0.5


ALIKE = (
    frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP}),
    frozenset({Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH}),
)
"""Roles that speak alike: where the show has too few of one, the others lend it their habit."""


def habit(show: ShowEvidence, role: Role, *, without: str) -> Habit | None:
    """The role's habit over all songs but `without`; that of its like where fewer than three songs can tell;
    None where that is so too."""
    for roles in (frozenset({role}), *(like for like in ALIKE if role in like)):
        found = [median(told) for song in show.songs if song.name != without and (told := _told(song, roles))]
        if len(found) >= ENOUGH_SONGS:
            return Habit(usual_ms=median(found), spread_ms=robust_spread(found), songs=len(found))
    return None


def _told(song: SongEvidence, roles: frozenset[Role]) -> list[float]:
    """Where the stems of these roles lie against the others, as far as it is sure."""
    phases = [
        stem.alignment.phase for stem in song.stems if stem.role in roles and stem.alignment is not None
    ]
    return [
        phase.from_others_ms
        for phase in phases
        if phase is not None and phase.onsets >= HABIT_ONSETS and phase.confidence >= HABIT_CONFIDENCE
    ]
