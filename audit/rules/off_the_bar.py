"""Stems whose chords turn a beat beside the bar, where those of the others turn on it.

    off_the_bar(stem, song, show, limit) -> OffTheBar | None
    keeps_the_bar(stem, song, beats, saying_so, limit), turns_beside(stem, beats, limit),
    turns_so_elsewhere(stem, song, show, beats, limit) -> bool

The click's accents are the one thing in a song that no stem moves: they say which of two stems that are a
beat apart is the one that is off, and they say it of a stem that has little in common with the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import mean

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import BarTurns
from audit.rules.beat_habits import HELD, STRUCK, SWELLING, strikes_as_never
from audit.rules.rule import Limit

FEWEST_SONGS = 3
"""Other songs in which a role turns with the bar: enough where others in the song turn on every beat, and
asked for of what swells, which may lie a fast beat after it, and of horns and voices, whose figures may begin
before it. Who has no other beside it may play a song that
begins with an upbeat."""

FEWEST_BEATS = 3
"""In a bar of two the second beat is the last: late and early are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OffTheBar:
    """beats: 1 late, −1 early. place: the beat of the bar that its chords turn on, counted from 1."""

    beats: float
    place: int
    share: float  # of its turns
    on_first: tuple[str, ...]  # other stems, whose chords turn on the first beat
    songs: int  # other songs in which those of its role do
    sure: float  # 0 … 1
    ahead: bool  # a bass that never begins on the first beat: it may mean to be ahead of the chord


def off_the_bar(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit) -> OffTheBar | None:
    """Whether nearly all of its chords turn on the second or the last beat of the bar, and those of others on
    the first; not where the role does so in another song, nor what waits a beat as figures do."""
    bar = _turns_of(stem)
    if bar is None or stem.role not in STRUCK | SWELLING:
        return None
    place = _place_beside(bar, limit)
    if place is None:
        return None
    songs = _songs_on_the_first(stem, song, show, limit)
    on_first = _others_on_first(stem, song, place, limit)
    if on_first is None or not (on_first or songs >= FEWEST_SONGS):
        return None
    beats = 1.0 if place == 1 else -1.0
    if turns_so_elsewhere(stem, song, show, beats, limit):
        return None
    if place == 1 and not (_strikes_on_the_first(bar, limit) or strikes_as_never(stem, song, show, limit)):
        return None
    if _may_be_beside_on_purpose(stem.role, songs, late=place == 1):
        return None
    return OffTheBar(
        beats=beats,
        place=place + 1,
        share=bar.turns[place],
        on_first=on_first,
        songs=songs,
        sure=min(1.0, (len(on_first) + songs) / 4.0),
        ahead=stem.role is Role.BASS and place != 1 and bar.begins[0] < limit["turns_never"],
    )


def _place_beside(bar: BarTurns, limit: Limit) -> int | None:
    """The second or the last beat of the bar, from 0, where nearly all its chords turn; None: no such."""
    if len(bar.turns) < FEWEST_BEATS or bar.bars < limit["turns_bars"] or bar.sure < limit["turns_sure"]:
        return None
    place = max(range(len(bar.turns)), key=bar.turns.__getitem__)
    beside = place in (1, len(bar.turns) - 1) and bar.begins[place] >= bar.begins[0]
    most_there = bar.turns[place] >= limit["turns"] and bar.turns[0] <= limit["turns_first"]
    return place if beside and most_there else None


def _others_on_first(
    stem: StemEvidence, song: SongEvidence, place: int, limit: Limit
) -> tuple[str, ...] | None:
    """The other stems whose chords turn on the first beat; None where as many turn with this one, or there is
    no other."""
    others = [(one.name, turns) for one in song.stems if one is not stem and (turns := _turns_of(one))]
    on_first = tuple(name for name, turns in others if turns.turns[0] >= limit["turns_others"])
    with_it = sum(turns.turns[place] >= limit["turns_custom"] for _, turns in others)
    return on_first if others and with_it < max(1, len(on_first)) else None


def _may_be_beside_on_purpose(role: Role, songs: int, *, late: bool) -> bool:
    """What swells may lie a fast beat after the bar, and figures of horns and voices may begin before it, if
    too few songs say that they do not."""
    return songs < FEWEST_SONGS and role not in STRUCK and (late or role not in HELD)


def keeps_the_bar(
    stem: StemEvidence, song: SongEvidence, beats: float, saying_so: Sequence[str], limit: Limit
) -> bool:
    """Whether its chords turn with the bar rather than those that say it is off by so many beats do, or
    clearly so: then whoever is off, it is not this one. Unknown where the click does not tell bars, and not
    where the whole band turns as far beside the click's bar as it would: there this one is alone."""
    bar = _turns_of(stem)
    if bar is None:
        return False
    says = [turns.turns for one in song.stems if one.name in saying_so and (turns := _turns_of(one))]
    away = round(-beats) % len(bar.turns)
    if says and all(turns[away] >= limit["turns_others"] for turns in says):
        return False
    beside = bar.turns[round(beats) % len(bar.turns)]
    return bar.turns[0] >= limit["turns_clear"] and (
        (bool(says) and bar.turns[0] > mean(turns[0] for turns in says))
        or bar.turns[0] >= limit["turns_beside"] * beside
    )


def turns_beside(stem: StemEvidence, beats: float, limit: Limit) -> bool:
    """Whether its chords turn clearly that many beats beside the bar, or the click does not tell bars."""
    bar = _turns_of(stem)
    if bar is None:
        return True
    return bar.turns[round(beats) % len(bar.turns)] >= limit["turns_beside"] * bar.turns[0]


def turns_so_elsewhere(
    stem: StemEvidence,
    song: SongEvidence,
    show: ShowEvidence,
    beats: float,
    limit: Limit,
    *,
    plainly: bool = False,
) -> bool:
    """Whether its role's chords turn one beat beside the bar, on the same side, in another song: a custom.
    plainly: and hardly on other beats, as those of a walking bass or of strokes on two and four do."""
    beside = 1 if beats > 0.0 else -1
    return any(
        len(turns) >= FEWEST_BEATS
        and turns[beside] >= limit["turns_custom"]
        and (not plainly or turns[beside] >= limit["turns_beside"] * max(_without(turns, beside)))
        for one in _of_its_role(stem, song, show)
        for turns in one
    )


def _without(turns: tuple[float, ...], place: int) -> list[float]:
    return [share for number, share in enumerate(turns) if number != place % len(turns)]


def _turns_of(stem: StemEvidence) -> BarTurns | None:
    return stem.alignment.bar_turns if stem.alignment is not None else None


def _strikes_on_the_first(bar: BarTurns, limit: Limit) -> bool:
    """Whether it strikes on the bar's first beat too, then still the chord before: no figure that waits."""
    return bar.begins[0] >= limit["turns_struck"] * bar.begins[1]


def _songs_on_the_first(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit) -> int:
    """Other songs in which a stem of its role turns with the bar."""
    return sum(
        any(turns[0] >= limit["turns_others"] for turns in one) for one in _of_its_role(stem, song, show)
    )


def _of_its_role(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> list[list[tuple[float, ...]]]:
    """Turns of the stems of its role, song by song, in the show's other songs."""
    return [
        [bar.turns for one in other.stems if one.role is stem.role and (bar := _turns_of(one)) is not None]
        for other in show.songs
        if other is not song
    ]
