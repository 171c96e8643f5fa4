"""Where a role's harmony lies in the beats beside the band's over the show, and whether it strikes where the
chords turn: what one stem is a whole beat off from.

    beside_its_place(stem, song, show, limit) -> Beside | None
    strikes_as_never(stem, song, show, limit) -> bool
    usual_place(show, role, limit, without=…) -> BeatHabit | None
    leaves_the_place_to_another(stem, song, show, usual, limit) -> bool

A pad swells by a quarter second in every song, a bass strikes with the chord. A stem that lies a beat beside
what its role does in the show's other songs is off, however broad the top of its fits is.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import BeatPlace, Beats
from audit.rules.bars import USUAL_BEAT_S, beat_s
from audit.rules.customs import robust_spread
from audit.rules.namesakes import is_named_elsewhere
from audit.rules.once import once_a_show
from audit.rules.phases import SLOW
from audit.rules.places import SMALL
from audit.rules.rule import Limit

STRUCK = frozenset({Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN})
"""Roles that lie with the band in any show. Own measurement: 267 of their 294 places in clean songs within
0.12 s of it."""

ALIKE = STRUCK - {Role.BASS}
"""Roles that lend one another their habit."""

SWELLING = frozenset({Role.PAD, Role.STRINGS, Role.BRASS, Role.CHOIR, Role.BACKING_VOCALS})
"""Roles that lie with the band or after it, in any show."""

HELD = frozenset({Role.BASS, Role.PAD, Role.STRINGS})
ON_TURNS = HELD | {Role.KEYS, Role.PIANO, Role.ORGAN}
"""Roles that begin with the chord, if they do so in the show's other songs; guitars and horns may rest or
chop in any one. Of the former nobody chops on two and four."""

ENOUGH_SONGS, ENOUGH_TO_BE_USED = 3, 4
"""Other songs: for a place, and for a way of striking."""

LEAST_SPREAD_S = 0.03
UNSURE = 0.3
"""Beats between the places of a song's two halves, or without one other stem, from which on it has none."""

STRUCK_BY_S, SWELLED_BY_S = 0.15, 0.4
"""Later than this, or earlier than the former, no sound begins: what lies there is a figure, and no habit."""

USUALLY_S, MOST_SWELL_S = 0.08, 0.25
"""Without a habit: the spread of struck roles, and the latest that slow ones lie."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatHabit:
    """Where a role's harmony lies after the band's, seconds; songs: that tell, 0 where none do."""

    usual_s: float
    spread_s: float
    songs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A stem that lies a whole beat beside its role's usual place."""

    beats: float  # 1 late, −1 early
    place_s: float
    habit: BeatHabit
    saying_so: tuple[str, ...]  # other stems that it lies so beside
    sure: float  # 0 … 1: their share of all


@once_a_show
def _places(show: ShowEvidence) -> list[tuple[str, Role, Beats, float]]:
    """Song, role, beats and length of a beat of every stem that has a place."""
    return [
        (song.name, stem.role, beats, beat_s(song.click) or USUAL_BEAT_S)
        for song in show.songs
        for stem in song.stems
        if stem.alignment is not None
        and (beats := stem.alignment.beats) is not None
        and beats.place is not None
    ]


def usual_place(show: ShowEvidence, role: Role, limit: Limit, *, without: str) -> BeatHabit | None:
    """The role's habit over all other songs, or that of its like, or what it is in any show; None: none."""
    own, like = (_by_song(show, roles, limit, without) for roles in (frozenset({role}), ALIKE))
    told = own if len(own) >= ENOUGH_SONGS or role not in ALIKE else like
    if len(told) >= ENOUGH_SONGS:
        spread_s = SMALL.get(len(told), 1.0) * robust_spread(told) * sqrt(1.0 + 1.0 / len(told))
        usual_s, latest_s = median(told), STRUCK_BY_S if role in STRUCK else SWELLED_BY_S
        if -STRUCK_BY_S <= usual_s <= latest_s:
            return BeatHabit(usual_s=usual_s, spread_s=max(LEAST_SPREAD_S, spread_s), songs=len(told))
        return None
    return BeatHabit(usual_s=0.0, spread_s=USUALLY_S, songs=0) if role in STRUCK else None


def _by_song(show: ShowEvidence, roles: frozenset[Role], limit: Limit, without: str) -> list[float]:
    """One place a song, in seconds."""
    found: dict[str, list[float]] = {}
    for name, role, beats, length_s in _places(show):
        if name != without and role in roles and beats.place is not None and _is_sure(beats.place, limit):
            found.setdefault(name, []).append(beats.place.at_beats * length_s)
    return [median(places) for places in found.values()]


def _is_sure(place: BeatPlace, limit: Limit) -> bool:
    first, second = place.halves_beats
    return (
        place.fit >= limit["habit_fit"]
        and abs(first - second) <= UNSURE
        and abs(place.without_one_beats - place.at_beats) <= UNSURE
    )


def beside_its_place(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit
) -> Beside | None:
    """Whether it lies one beat beside its role's usual place, in both halves of the song and against the
    other stems one by one."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    if beats is None or beats.place is None or stem.role not in STRUCK | SWELLING:
        return None
    place, length_s = beats.place, beat_s(song.click) or USUAL_BEAT_S
    habit = usual_place(show, stem.role, limit, without=song.name) or _swelling(stem.role, place, length_s)
    if habit is None:
        return None
    off = place.at_beats - habit.usual_s / length_s
    early = habit.songs > 0 and off < 0.0
    within = limit["beside_early" if early else "beside"]
    a_beat = abs(abs(off) - 1.0) <= within and abs(off) * length_s >= limit["spreads"] * habit.spread_s
    if not a_beat or not _is_clear(stem.role, beats, place, limit, early=early):
        return None
    if off > 0.0 and leaves_the_place_to_another(stem, song, show, habit.usual_s / length_s, limit):
        return None
    if _may_be_a_figure(stem, song, show, beats, limit, late=off > 0.0):
        return None
    # Nobody's figure begins a beat before the chord in a whole song: there a plain majority will do.
    plain = early and abs(off + 1.0) <= limit["beside_early"] / 3.0 and place.fit >= limit["place_fit"]
    so = _saying_so(place, habit.usual_s / length_s, limit["place_near"], times=1 if plain else 2)
    if not so:
        return None
    return Beside(
        beats=1.0 if off > 0.0 else -1.0,
        place_s=place.at_beats * length_s,
        habit=habit,
        saying_so=so,
        sure=len(so) / len(place.by_stem),
    )


def is_nearer_its_place(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit) -> bool:
    """Whether a stem that seems a beat off lies nearer to where its role lies in the show's other songs than
    to a beat beside that. A pad swells half a beat after the band: where one of the others is half a beat
    early it looks a beat late, and is not what was moved."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    if beats is None or beats.place is None:
        return False
    habit = usual_place(show, stem.role, limit, without=song.name)
    if habit is None or not habit.songs:
        return False
    off = beats.place.at_beats - habit.usual_s / (beat_s(song.click) or USUAL_BEAT_S)
    return abs(off) < abs(abs(off) - 1.0)


def leaves_the_place_to_another(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, usual: float, limit: Limit
) -> bool:
    """Whether another stem of its role keeps the role's place here, and the show has no other of its name: a
    mandolin chops behind the guitar that strums, and guitars made the habit."""
    if is_named_elsewhere(stem, song, show):
        return False
    return any(
        other is not stem
        and other.role is stem.role
        and other.alignment is not None
        and other.alignment.beats is not None
        and other.alignment.beats.place is not None
        and abs(other.alignment.beats.place.at_beats - usual) <= limit["beside"]
        for other in song.stems
    )


def _swelling(role: Role, place: BeatPlace, length_s: float) -> BeatHabit | None:
    """For a slow role without a habit: one beat before any place that such a role may have."""
    if role not in SLOW or place.at_beats >= 0.0:
        return None
    swell_s = min(MOST_SWELL_S, max(0.0, (place.at_beats + 1.0) * length_s))
    return BeatHabit(usual_s=swell_s, spread_s=LEAST_SPREAD_S, songs=0)


def _is_clear(role: Role, beats: Beats, place: BeatPlace, limit: Limit, *, early: bool) -> bool:
    """Whether it fits the band there, in both halves of the song and without any one stem, and nowhere else
    as well. early: against what its role does in other songs."""
    # Guitars and horns play figures, and what sounds at another time than what begins is one.
    faint = early and role in ON_TURNS and beats.gain_by_state >= limit["rings"]
    fit, of_usual = (limit[f"{name}_early" if faint else name] for name in ("place_fit", "place_of_usual"))
    places = (*place.halves_beats, place.without_one_beats)
    return (
        beats.usual >= limit["company"]
        and place.fit >= max(fit, of_usual * beats.usual)
        and all(abs(one - place.at_beats) <= limit["place_near"] for one in places)
        and not (abs(beats.shift_beats) >= 2.0 and beats.at_best * limit["as_good"] > place.fit)
    )


def _may_be_a_figure(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, beats: Beats, limit: Limit, *, late: bool
) -> bool:
    """Whether it may mean to wait, as its role does, or to strike ahead of the chord without holding it, as
    guitars and keys do."""
    if late:
        return _waits(beats, limit) and not strikes_as_never(stem, song, show, limit)
    return stem.role in ALIKE and beats.gain_by_state < limit["gain"]


def _saying_so(place: BeatPlace, usual: float, near: float, *, times: int) -> tuple[str, ...]:
    """The other stems that it lies so beside: two at least, and so many times more than it lies as usual to;
    else none."""
    so = tuple(name for name, at in place.by_stem if abs(at - place.at_beats) <= near)
    as_usual = sum(abs(at - usual) <= near for _, at in place.by_stem)
    return so if len(so) >= 2 and len(so) > times * as_usual else ()


def _waits(beats: Beats, limit: Limit) -> bool:
    """Whether it strikes beside the others' turns of chord more than on them, as figures do that mean it."""
    return beats.backbeat >= limit["backbeat"] or beats.on_turns < limit["on_turns"]


def strikes_as_never(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit) -> bool:
    """Whether a stem that strikes beside the turns of chord, and rings on over them, is of a role that
    strikes on them in every other song."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    if beats is None or stem.role not in ON_TURNS or beats.gain_by_state < limit["rings"]:
        return False
    if beats.backbeat >= limit["backbeat"] and stem.role not in HELD:
        return False
    elsewhere = [other for name, role, other, _ in _places(show) if name != song.name and role is stem.role]
    return len(elsewhere) >= ENOUGH_TO_BE_USED and all(
        other.on_turns >= limit["always_on_turns"] and other.backbeat < limit["backbeat"]
        for other in elsewhere
    )
