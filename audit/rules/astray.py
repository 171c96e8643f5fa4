"""Stems whose chords say nothing of their place: they stand in another key, or belong to another song.

    astray(song, show, limit) -> Astray       by the limits in force, of a rule that heeds both
    astray_by_default(show, song_name) -> Astray

Chords that fit nobody as they stand fit somebody a little at some other lag, by chance.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence
from audit.rules.foreign import foreign_stem
from audit.rules.keys import key_mismatch
from audit.rules.once import once_a_show
from audit.rules.rule import Hit, Limit, Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Astray:
    """Names of stems that key-mismatch and that foreign-stem speak of."""

    transposed: frozenset[str] = frozenset()
    foreign: frozenset[str] = frozenset()

    def __contains__(self, name: str) -> bool:
        return name in self.transposed or name in self.foreign


def astray(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Astray:
    """Those of a song, by the limits in force: limit is that of a rule which heeds the two."""
    return _of(song, show, limit.of(key_mismatch), limit.of(foreign_stem))


@once_a_show
def astray_by_default(show: ShowEvidence, song_name: str) -> Astray:
    """Those of a song by the rules' own limits, for who asks of another rule's findings without settings."""
    song = next((one for one in show.songs if one.name == song_name), None)
    if song is None:
        return Astray()
    return _of(song, show, key_mismatch.own_limit(), foreign_stem.own_limit())


def _of(song: SongEvidence, show: ShowEvidence, keys: Limit, foreign: Limit) -> Astray:
    return Astray(
        transposed=_told(key_mismatch.check(song, show, keys)),
        foreign=_told(foreign_stem.check(song, show, foreign)),
    )


def _told(outcomes: Iterable[Outcome]) -> frozenset[str]:
    return frozenset(one.stem for one in outcomes if isinstance(one, Hit) and one.stem is not None)
