"""Where roles lie against the click, over the show: a stem's place is judged by its role's habit.

    place_ms(phase) -> float       habits(show, without=song) -> {role: Habit}
    off_together(song, habits) -> Together | None: where the whole song lies against its click

A stem's place is its offset from the click, less what its song's other stems lie off the click. Small ways of
a whole band are left to the click, which is exact where the band's middle is not; from 12 ms on the band's
middle counts (firm shrinkage: Gao & Bruce 1997 [memory]).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from math import pi, sqrt
from statistics import median
from typing import Literal

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.results import Phase
from audit.rules.customs import robust_spread
from audit.rules.once import once_a_show
from audit.rules.phases import MARKING, SLOW, sure_phases, sure_phases_by_song
from audit.rules.zero import OFF_MS, moved_songs, sure_at_zero

ALIKE = (MARKING, frozenset({Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH}))
"""Roles that speak alike: where the show has too few of one, the others lend it their habit."""

ENOUGH_SONGS = 3
"""Fewer other songs than this make no habit."""

AS_FAR = 0.6
"""Two lags are of one kind from so much of the farther one on."""

BAND_MS, BAND_SURE_MS = 6.0, 12.0
"""A band's middle counts not at all up to the first, and wholly from the second on."""

ByRoles = Mapping[frozenset[Role], Sequence[tuple[str, float]]]
"""By roles: each song that has such a stem, and where it lies there, ms."""

ReadFrom = Literal["click", "marks", "any"]
"""What places are read from: the click; the song's own zero (`zero.py`) where that is sure; any."""

LEANS_ON = 4
"""The show's own spread counts as much as so many songs of the role: three or four songs tell little."""

ALIKE_MS, ALIKE_SPREADS, MOST_ALIKE = 10.0, 1.5, 0.75
"""A song's stems lie off the click alike where so many of them lie so near to the middle, or within so many
times what their role differs by between songs."""

SPREADS = 2.0
"""They lie off it beyond OFF_MS, and so many times farther than their roles do from song to song."""

PLAINLY = 0.5
"""So much of what they lie off past their roles' habits they lie off the click itself."""

SMALL = {2: 1.196, 3: 1.495, 4: 1.363, 5: 1.206, 6: 1.200, 7: 1.140, 8: 1.129, 9: 1.107}
"""What the median distance of a few values has to be multiplied by. Source: Croux & Rousseeuw 1992
[memory]."""


RANGE = {3: 1.693, 4: 2.059}
"""How many standard deviations the range of a few values spans on average. Source: the constants d2 of
control charts, ISO 7870-2 [memory]."""

KINDS_MS = 20.0
"""By so much two instruments of one role speak at other times: own measurement, an upright bass and a low
tuned one through an amplifier. What lies farther off may be a fault of its song."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """How a role usually lies against the click, over the show's other songs."""

    usual_ms: float
    spread_ms: float  # standard deviation that one more song is to be expected off by
    songs: int
    click_ms: float = 0.0  # how it usually lies against the click alone,
    click_spread_ms: float = 0.0  # and what one more song is to be expected off by from that
    by_click: bool = False  # usual_ms and spread_ms are of that: it is steadier than beside the band
    lent: bool = False  # by roles that speak alike: too few songs have this one
    places_ms: tuple[float, ...] = ()  # what usual_ms is the median of


def habits(show: ShowEvidence, *, without: str) -> Mapping[Role, Habit]:
    """Every role's habit over all songs but `without`, each from its own zero on; that of its like where
    fewer than three songs can tell; no entry where that is so too."""
    moved = moved_songs(show)
    if not moved:
        return click_habits(show, without=without)
    left_out = (lie_off(show) - moved) | {without}
    sure = _habits(show, left_out, zero="marks")
    unsure = _habits(show, left_out, zero="any")
    own = {role for role, habit in sure.items() if not habit.lent}
    return {
        **sure,
        **{
            role: habit
            for role, habit in unsure.items()
            if role not in own and (role not in sure or not habit.lent)
        },
    }


def click_habits(show: ShowEvidence, *, without: str) -> Mapping[Role, Habit]:
    """The same from the click on, wherever the songs' zeros are; without those that lie off it as a whole."""
    return _habits(show, lie_off(show) | {without}, zero="click")


@once_a_show
def _habits(show: ShowEvidence, left_out: frozenset[str], *, zero: ReadFrom) -> Mapping[Role, Habit]:
    by_band = _usual(_places(show, zero=zero), left_out)
    by_click = _usual(_offsets(show, zero=zero), left_out)
    found = {}
    for role, band in by_band.items():
        click = by_click[role]
        # Of the two the steadier one: other instruments in every song move the band, a late click the rest.
        steadier = click if click.spread_ms < band.spread_ms else band
        found[role] = replace(
            steadier, click_ms=click.usual_ms, click_spread_ms=click.spread_ms, by_click=steadier is click
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Together:
    """Stems of one song that lie off its click alike, each past its role's habit."""

    off_ms: float  # median past the habits; positive = after the click
    plain_ms: float  # median against the click itself
    spread_ms: float  # what roles lie off by from song to song
    stems: tuple[str, ...]
    asked: int  # these and those that lie elsewhere
    songs: int  # other songs that the habits come from
    apart_ms: float = 0.0  # how far from one another they lie, each past its habit
    marked: bool = False  # one of them marks the beat


@dataclass(frozen=True, slots=True)
class _PastHabit:
    """A stem against the click, and where its role usually lies."""

    name: str
    role: Role
    click_ms: float
    habit: Habit

    @property
    def off_ms(self) -> float:
        return self.click_ms - self.habit.click_ms

    def is_near(self, middle_ms: float) -> bool:
        return abs(self.off_ms - middle_ms) <= max(ALIKE_MS, ALIKE_SPREADS * self.habit.click_spread_ms)


def off_together(song: SongEvidence, usual: Mapping[Role, Habit]) -> Together | None:
    """Where most of a song's stems lie against the click; None where they do not agree, or too few can be
    asked: three, or two with one that marks the beat. Where a song has such, one of them has to agree."""
    off = [
        _PastHabit(name, role, phase.click_ms, usual[role])
        for name, role, phase in sure_phases(song)
        if role in usual and role not in SLOW
    ]
    if len(off) < 2:
        return None
    middle_ms = median([one.off_ms for one in off])
    alike = [one for one in off if one.is_near(middle_ms)]
    marked = any(one.role in MARKING for one in alike)
    if not marked and any(one.role in MARKING for one in off):
        return None  # the drums stand elsewhere, on the click maybe
    if len(alike) < MOST_ALIKE * len(off) or len(alike) < (2 if marked else 3):
        return None
    return _together(alike, middle_ms, asked=len(off), marked=marked)


def _together(alike: Sequence[_PastHabit], middle_ms: float, *, asked: int, marked: bool) -> Together:
    places_ms = [one.off_ms for one in alike]
    return Together(
        apart_ms=max(places_ms) - min(places_ms),
        marked=marked,
        off_ms=middle_ms,
        plain_ms=median([one.click_ms for one in alike]),
        spread_ms=median([one.habit.click_spread_ms for one in alike]),
        stems=tuple(one.name for one in alike),
        asked=asked,
        songs=max(one.habit.songs for one in alike),
    )


@once_a_show
def lie_off(show: ShowEvidence) -> frozenset[str]:
    """Songs all of whose stems lie off the click alike: no habits are learned from them."""
    found = set()
    for song in show.songs:
        together = off_together(song, _habits(show, frozenset({song.name}), zero="click"))
        if together is None or not as_far(together.plain_ms, together.off_ms, PLAINLY):
            continue  # on the click, and the others are not
        if abs(together.off_ms) > max(OFF_MS, SPREADS * together.spread_ms):
            found.add(song.name)
    # Two camps of songs look off to one another: then nobody knows which.
    return frozenset(found) if 2 * len(found) < len(sure_phases_by_song(show)) else frozenset()


def _usual(by_roles: ByRoles, left_out: Set[str]) -> dict[Role, Habit]:
    """Every role's habit by one way of placing it."""

    def others(roles: frozenset[Role]) -> list[float]:
        return [place for name, place in by_roles.get(roles, ()) if name not in left_out]

    alone = {role: places for role in Role if len(places := others(frozenset({role}))) >= ENOUGH_SONGS}
    spreads = {role: spread_of(places) for role, places in alone.items()}
    found: dict[Role, Habit] = {}
    for role in (one for one in Role if one is not Role.OTHER):  # an organ's place is no clave's
        like = next((one for one in ALIKE if role in one), frozenset({role}))
        places = alone.get(role) or others(like)
        if len(places) < ENOUGH_SONGS:
            continue
        own, count = spread_of(places), len(places)
        general = median([spread for one, spread in spreads.items() if _kind(one) == _kind(role)] or [own])
        spread = sqrt((count * own**2 + LEANS_ON * general**2) / (count + LEANS_ON))
        # The usual place is a median of few songs, and uncertain itself.
        found[role] = Habit(
            usual_ms=median(places),
            spread_ms=spread * sqrt(1.0 + pi / 2.0 / count),
            songs=count,
            lent=role not in alone,
            places_ms=tuple(places),
        )
    return found


def _kind(role: Role) -> int:
    """How free a role is: marking, pitched or slow."""
    return 0 if role in MARKING else 2 if role in SLOW else 1


@once_a_show
def _places(show: ShowEvidence, *, zero: ReadFrom) -> ByRoles:
    """Where stems lie."""
    return _by_roles(show, place_ms, zero=zero)


@once_a_show
def _offsets(show: ShowEvidence, *, zero: ReadFrom) -> ByRoles:
    """The same against the click alone."""
    return _by_roles(show, lambda phase: phase.click_ms, zero=zero)


def _by_roles(show: ShowEvidence, where_ms: Callable[[Phase], float], *, zero: ReadFrom) -> ByRoles:
    """Of each role, and of those that speak alike together, the middle of every song that has them."""
    by_song = sure_phases_by_song(show) if zero == "click" else sure_at_zero(show, by_marks=zero == "marks")
    found: dict[frozenset[Role], list[tuple[str, float]]] = {}
    for roles in {*ALIKE, *(frozenset({role}) for role in Role)}:
        for name, phases in by_song:
            places = [where_ms(phase) for _, role, phase in phases if role in roles]
            if places:
                found.setdefault(roles, []).append((name, median(places)))
    return found


def band_ms(phase: Phase) -> float:
    """What the song's other stems lie off the click."""
    return phase.offset_ms - phase.from_others_ms


def past_habit_ms(phase: Phase, habit: Habit | None) -> float:
    """How far past its role's habit a stem lies; without one, past the click and the band."""
    if habit is None:
        return place_ms(phase)
    return (phase.click_ms if habit.by_click else place_ms(phase)) - habit.usual_ms


def place_ms(phase: Phase) -> float:
    """The stem's offset, less what the others lie off as far as that counts."""
    band = band_ms(phase)
    size = (abs(band) - BAND_MS) / (BAND_SURE_MS - BAND_MS)
    return phase.offset_ms - band * min(1.0, max(0.0, size))


def as_far(off_ms: float, wanted_ms: float, share: float = AS_FAR) -> bool:
    """Whether one lag is in the other's direction, and not much smaller."""
    return off_ms * wanted_ms > 0.0 and abs(off_ms) >= share * abs(wanted_ms)


def spread_of(values: Sequence[float]) -> float:
    """Standard deviation of a few places, of which one may lie elsewhere."""
    robust = SMALL.get(len(values), 1.0) * robust_spread(values)
    # Of three or four songs one that lies a little elsewhere is no outlier: two kinds of bass lie so.
    few = RANGE.get(len(values))
    return robust if few is None else max(robust, min(KINDS_MS, max(values) - min(values)) / few)
