"""A role of which a song holds several stems is judged by each one's namesakes in the other songs.

    by_name(stem, song, show, usual) -> Habit
    like_in_others(stem, song, show) -> {(song, stem)}
    are_its_habit(stem, song, show)  -> bool
    of_its_name(stem, song, show)    -> [Phase]
    has_namesake(stem, song, show)   -> bool

Of a kit in single stems the snare may lie back and the hats push, and a banjo speaks sooner than a steel
guitar: the middle of their role says little of each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from math import hypot, pi, sqrt
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import Phase
from audit.rules.once import once_a_show
from audit.rules.places import ENOUGH_SONGS, KINDS_MS, LEANS_ON, Habit, lie_off, place_ms, spread_of
from audit.rules.zero import moved_songs, sure_at_zero

RANGE_OF = 4.0
"""Half of what they lie apart is what one lies off; three standard deviations, which a displacement has to
pass, hold it one and a half times."""

MOST_MS = 2.0 * KINDS_MS
"""Stems that lie farther apart than this in one song are no kit: one of them is off."""

Named = Mapping[tuple[Role, str], Mapping[str, Phase]]
"""Of each role and name: by song."""


def by_name(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, usual: Habit) -> Habit:
    """The habit of its namesakes where three other songs have one; else the role's, as uncertain as its stems
    lie apart in one song, or its namesakes off it. The role's as it is where the song holds one stem of
    it."""
    like = [other for other in song.stems if other.role is stem.role]
    if len(like) < 2:
        return usual
    phases = []
    if sum(_key(other) == _key(stem) for other in like) == 1:
        named = _named(show).get((stem.role, _key(stem)), {})
        phases = [phase for name, phase in named.items() if name != song.name]
    if len(phases) < ENOUGH_SONGS:
        elsewhere_ms = median(_where_ms(phase, usual) for phase in phases) if phases else usual.usual_ms
        apart_ms = max(
            _apart_ms(stem, song, show, usual), 2.0 * abs(elsewhere_ms - usual.usual_ms) / RANGE_OF
        )
        return replace(
            usual,
            spread_ms=hypot(usual.spread_ms, apart_ms),
            click_spread_ms=hypot(usual.click_spread_ms, apart_ms),
        )
    places = [_where_ms(phase, usual) for phase in phases]
    clicks = [phase.click_ms for phase in phases]
    return replace(
        usual,
        usual_ms=median(places),
        spread_ms=_spread_ms(places, usual.spread_ms),
        songs=len(places),
        click_ms=median(clicks),
        click_spread_ms=_spread_ms(clicks, usual.click_spread_ms),
        lent=False,
        places_ms=tuple(places),
    )


def like_in_others(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> frozenset[tuple[str, str]]:
    """Song and name of the other songs' stems that it is compared with: its namesakes where they make its
    habit, else all of its role."""
    by_names = are_its_habit(stem, song, show)
    return frozenset(
        (one.name, other.name)
        for one in show.songs
        if one.name != song.name
        for other in one.stems
        if other.role is stem.role and (not by_names or _key(other) == _key(stem))
    )


def of_its_name(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> list[Phase]:
    """Where its namesakes lie in the other songs."""
    named = _named(show).get((stem.role, _key(stem)), {})
    return [phase for name, phase in named.items() if name != song.name]


def has_namesake(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether another song has a stem of its role and name."""
    return bool(of_its_name(stem, song, show))


def is_named_elsewhere(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """The same, wherever that one lies in time: its place may not be known."""
    wanted = stem.role, _key(stem)
    return any(
        (one.role, _key(one)) == wanted for other in show.songs if other is not song for one in other.stems
    )


def are_its_habit(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether a stem is one of several of its role, and its namesakes in three other songs make its habit."""
    several = sum(other.role is stem.role for other in song.stems) >= 2
    named = _named(show).get((stem.role, _key(stem)), {}) if several else {}
    return sum(name != song.name for name in named) >= ENOUGH_SONGS


def _spread_ms(places: list[float], of_role_ms: float) -> float:
    count = len(places)
    spread = sqrt((count * spread_of(places) ** 2 + LEANS_ON * of_role_ms**2) / (count + LEANS_ON))
    return spread * sqrt(1.0 + pi / 2.0 / count)


def _where_ms(phase: Phase, usual: Habit) -> float:
    return phase.click_ms if usual.by_click else place_ms(phase)


def _key(stem: StemEvidence) -> str:
    return stem.stem.version_key or stem.name.casefold()


@once_a_show
def _named(show: ShowEvidence) -> Named:
    """Where stems lie that are the only one of their name in their song."""
    keys = {(song.name, stem.name): _key(stem) for song in show.songs for stem in song.stems}
    several = Counter((song.name, stem.role, _key(stem)) for song in show.songs for stem in song.stems)
    off = lie_off(show) - moved_songs(show)
    found: dict[tuple[Role, str], dict[str, Phase]] = {}
    for name, phases in sure_at_zero(show, by_marks=False):
        if name not in off:
            for file, role, phase in phases:
                key = keys[name, file]
                if several[name, role, key] == 1:
                    found.setdefault((role, key), {})[name] = phase
    return found


def _apart_ms(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, usual: Habit) -> float:
    """By how much a stem of the role may lie off its middle, as a standard deviation: how far they lie apart
    in other songs that hold several, or in this one without the stem itself, over RANGE_OF."""
    by_song = {
        name: [
            _where_ms(phase, usual)
            for file, role, phase in phases
            if role is stem.role and (name, file) != (song.name, stem.name)
        ]
        for name, phases in sure_at_zero(show, by_marks=False)
    }
    apart = {
        name: min(MOST_MS, max(places) - min(places)) for name, places in by_song.items() if len(places) >= 2
    }
    elsewhere = [ms for name, ms in apart.items() if name != song.name]
    return (median(elsewhere) if elsewhere else apart.get(song.name, 0.0)) / RANGE_OF
