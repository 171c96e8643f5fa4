"""Songs whose chords all turn on another beat of the click's bar than the first: whole beats beside it.

beside_the_bar(song, show, limit) -> BesideTheBar | None
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import mean

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.results import BarTurns
from audit.rules.once import once_a_show
from audit.rules.rule import Limit

OTHER_SONGS = 3
"""Other songs in which chords turn on the first beat: then bars are told that way in this show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideTheBar:
    """beats: by how many the music lies after the click's bar (before it where negative). place: the beat of
    the bar on which its chords turn, counted from 1."""

    beats: float
    place: int
    share: float
    stems: tuple[str, ...]
    songs: int  # other songs whose chords turn on the first beat


def beside_the_bar(song: SongEvidence, show: ShowEvidence, limit: Limit) -> BesideTheBar | None:
    """Whether the chords of all stems together turn on another beat of the click's bar than the first."""
    turns = _turns(song)
    shares = _shares(turns)
    if shares is None or len(shares) < 2:
        return None
    place = max(range(len(shares)), key=shares.__getitem__)
    if place == 0 or shares[place] < limit["turns_whole"]:
        return None
    bars = [(stem, bar) for stem, bar in turns if len(bar.turns) == len(shares)]
    with_it = [stem.name for stem, bar in bars if _turns_surely_at(bar, place, limit)]
    on_first = sum(bar.turns[0] >= limit["turns_whole"] for _, bar in bars)
    plainly_on_first = any(bar.turns[0] >= limit["turns"] for _, bar in bars)
    songs = _songs_on_the_first(song, show, limit)
    if len(with_it) < 2 * max(1, on_first) or plainly_on_first or songs < OTHER_SONGS:
        return None
    return BesideTheBar(
        beats=float(place if place <= len(shares) / 2 else place - len(shares)),
        place=place + 1,
        share=float(shares[place]),
        stems=tuple(with_it),
        songs=songs,
    )


def _turns_surely_at(bar: BarTurns, place: int, limit: Limit) -> bool:
    return (
        bar.turns[place] >= limit["turns_others"]
        and bar.turns[0] <= limit["turns_first"]
        and bar.sure >= limit["turns_whole_sure"]
    )


def _songs_on_the_first(song: SongEvidence, show: ShowEvidence, limit: Limit) -> int:
    """Other songs whose chords turn on the bar's first beat."""
    return sum(
        other.name != song.name and shares is not None and shares[0] >= limit["turns_clear"]
        for other, shares in _shares_by_song(show)
    )


def _turns(song: SongEvidence) -> list[tuple[StemEvidence, BarTurns]]:
    return [
        (stem, stem.alignment.bar_turns)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.bar_turns is not None
    ]


def _shares(turns: Sequence[tuple[StemEvidence, BarTurns]]) -> list[float] | None:
    """On which beat of the bar the chords of all stems turn; None for none."""
    length = len(turns[0][1].turns) if turns else 0
    alike = [bar.turns for _, bar in turns if len(bar.turns) == length]
    return [mean(column) for column in zip(*alike, strict=True)] if alike else None


@once_a_show
def _shares_by_song(show: ShowEvidence) -> list[tuple[SongEvidence, list[float] | None]]:
    return [(song, _shares(_turns(song))) for song in show.songs]
