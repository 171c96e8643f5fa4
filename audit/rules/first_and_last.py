"""Stems that begin and end beside everybody, by the same whole beats.

    begins_and_ends_beside(stem, song, limit) -> Framed | None
    ends_early(stem, song, beats) -> (begun with, ended with) | None

Songs begin and end together. Who comes in a bar later may mean to, and who ends earlier too; who does both by
the same beats, meets others there and nobody as it stands, has been moved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import FirstAndLast
from audit.rules.phases import MARKING
from audit.rules.rule import Limit

EVERY_BEAT = 0.7
"""Part of the beats that a stem strikes on which plays through."""

SHARE = 1 / 3
"""Of the other stems begin and end where a stem would that does not mark the beat."""

USUAL_BAR = 4
"""Where the click's accents do not tell."""

NEVER = frozenset({Role.EFFECTS, Role.FULL_MIX, Role.CLICK, Role.GUIDE, Role.TIMECODE})


@dataclass(frozen=True, slots=True, kw_only=True)
class Framed:
    """beats: positive = late. starting, ending: the stems that it begins and ends with, moved by that."""

    beats: float
    starting: tuple[str, ...]
    ending: tuple[str, ...]

    @property
    def saying_so(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.starting, *self.ending)))


def begins_and_ends_beside(stem: StemEvidence, song: SongEvidence, limit: Limit) -> Framed | None:
    """By how many beats, up to two bars; None where it begins or ends with somebody, or several lags are
    possible."""
    mine = _edges(stem)
    others = [
        (other.name, edges)
        for other in song.stems
        if other is not stem and (edges := _edges(other)) is not None
    ]
    if mine is None or len(others) < limit["edge_others"]:
        return None
    starts = [(name, edges.first_beats) for name, edges in others]
    ends = [(name, edges.last_beats) for name, edges in others]
    bar = (song.click.beats_a_bar if song.click is not None else None) or USUAL_BAR
    by_lag = {
        beats: Framed(
            beats=float(beats),
            starting=_meeting(mine.first_beats - beats, starts, limit["edge_near"]),
            ending=_meeting(mine.last_beats - beats, ends, limit["edge_near"]),
        )
        for beats in range(-2 * bar, 2 * bar + 1)
    }
    if by_lag[0].starting or by_lag[0].ending:
        return None
    found = [one for one in by_lag.values() if _enough(one, stem, len(others))]
    return found[0] if len(found) == 1 and _is_no_figure(found[0], mine, bar) else None


def ends_early(
    stem: StemEvidence, song: SongEvidence, beats: float, near: float
) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """Whether it begins with others as it stands and ends so many beats before two and more, with nobody:
    then somewhere in between it has fewer."""
    mine = _edges(stem)
    if mine is None:
        return None
    others = [(one.name, edges) for one in song.stems if one is not stem and (edges := _edges(one))]
    ends = [(name, edges.last_beats) for name, edges in others]
    starting = _meeting(mine.first_beats, [(name, edges.first_beats) for name, edges in others], near)
    ending = _meeting(mine.last_beats + beats, ends, near)
    alone = not _meeting(mine.last_beats, ends, near)
    return (starting, ending) if starting and len(ending) >= 2 and alone else None


def _enough(framed: Framed, stem: StemEvidence, others: int) -> bool:
    """Two stems at one end and one at the other; of what does not mark the beat two at both, and a third of
    all: tunes come in where they like, echoes and canons follow one, some bands end one after the other."""
    fewer, more = sorted((len(framed.starting), len(framed.ending)))
    if stem.role in MARKING:
        return fewer >= 1 and more >= 2
    return fewer >= max(2.0, SHARE * others)


def _is_no_figure(framed: Framed, edges: FirstAndLast, bar: int) -> bool:
    """By less than a bar only late and only of what strikes on nearly every beat: a pick-up begins early, and
    claps and off-beat chords begin and end beside the bar."""
    return framed.beats % bar == 0.0 or (framed.beats > 0.0 and edges.on_beats >= EVERY_BEAT)


def _meeting(at_beats: float, others: Sequence[tuple[str, float]], near: float) -> tuple[str, ...]:
    return tuple(name for name, beats in others if abs(beats - at_beats) <= near)


def _edges(stem: StemEvidence) -> FirstAndLast | None:
    if stem.role in NEVER or stem.alignment is None:
        return None
    return stem.alignment.first_and_last
