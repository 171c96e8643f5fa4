"""What this show usually does: the majorities and habits that rules compare a stem with."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from statistics import median

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence
from audit.facts import StemFormat


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
