"""Songs whose stems fall into two groups that each hold together and lie apart by the same beats."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One stem: how many beats it seems to be late, and which other stems say so."""

    stem: str
    beats: float
    saying_so: tuple[str, ...]


def two_camps(places: Sequence[Place]) -> tuple[tuple[str, ...], tuple[str, ...], float] | None:
    """(the late ones, the early ones, beats between them); None unless each side holds two stems and more
    and only the other side says so of it.

    Where one side is larger than the other its stems are right and have no place here: the smaller ones are
    told one by one.
    """
    for size in sorted({abs(place.beats) for place in places}):
        late = {place.stem: place for place in places if place.beats == size}
        early = {place.stem: place for place in places if place.beats == -size}
        if len(late) != len(early) or len(late) < 2:
            continue
        apart = all(len(one.saying_so) >= 2 and set(one.saying_so) <= set(early) for one in late.values())
        back = all(len(one.saying_so) >= 2 and set(one.saying_so) <= set(late) for one in early.values())
        if apart and back:
            return tuple(late), tuple(early), size
    return None


def agree(saying_so: tuple[str, ...], against: tuple[str, ...]) -> bool:
    """Whether two stems and more say so, more than twice as many as say the opposite."""
    return len(saying_so) >= 2 and len(saying_so) > 2 * len(against)
