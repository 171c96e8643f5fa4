"""What this show usually does: the majorities and habits that rules compare a stem with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence

ENOUGH_FILES = 3
"""Fewer files than this make no majority."""


def majority(values: Iterable[int]) -> int | None:
    """The value that more files have than any other; None for a tie between the first two, or no file."""
    ranked = Counter(values).most_common(2)
    if not ranked or (len(ranked) == 2 and ranked[0][1] == ranked[1][1]):
        return None
    return ranked[0][0]


def usual_rate(show: ShowEvidence) -> int | None:
    """The show's sample rate in Hz; None where there is no majority."""
    return majority(stem.format.sample_rate_hz for song in show.songs for stem in song.stems if stem.format)


def usual_bits(show: ShowEvidence) -> int | None:
    """The show's bit depth; None where there is no majority. Lossy files have none and do not count."""
    return majority(
        stem.format.bits
        for song in show.songs
        for stem in song.stems
        if stem.format and stem.format.bits is not None
    )


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
