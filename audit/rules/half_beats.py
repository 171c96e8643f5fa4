"""Half and quarter beats: onsets tell a place within the pattern only, and one of its next looks the same.

    told_apart(stem, song, show, off_ms, lies) -> Told

Three things tell them apart: where the stem's harmony lies (harmony_place), how it fits the other stems' half
a beat later and earlier, and where the role strikes in the show's other songs: drums and basses that hit the
beats everywhere else and the off-beats here are half a beat off, and those that hit the quarters beside them
are a quarter off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import Beats, Phase
from audit.rules.harmony_place import SAME_MS, Lies, by_both
from audit.rules.namesakes import are_its_habit, like_in_others, of_its_name
from audit.rules.phases import sure_phases
from audit.rules.places import ENOUGH_SONGS

FIT, BETTER, TIMES = 0.08, 0.03, 1.15
"""One place of the harmony is better than another by both; below the first it says nothing. Own measurement:
of 154 clean basses, guitars and keys 76 are said to stand where they do, and 6 half a beat off."""

STRIKES_ON, STRIKES_BETWEEN = 0.1, -0.3
"""Share of strokes on the beats over those between, less the reverse. Own measurement: 111 clean drums and
basses of shows whose role strikes on the beat in every other song are all above the second."""

BEATERS = frozenset({Role.DRUMS, Role.BASS})
"""Roles whose strong strokes are on the beat, if they are so in the show's other songs."""


ON_EIGHTHS, BESIDE_THEM, HEAVIER = 0.6, 0.85, 1.2
"""Shares of a stem's strokes on the beats and half-way between them, in songs where it stands right, and on
the quarters beside them where it is a quarter off; how much heavier the beats are than the half-ways. Own
measurement (59 songs: demo, corpus, long ones, people's): clean drums and basses lie 0.6 and more on the
eighths, or play sixteenths (10 of 101), and none 0.75 beside them. Moved by a quarter of a beat or by 80 ms,
165 of 166 that tell were told right."""

HALF_NEAR = 0.12
"""Beats: in swung songs half a beat on lies so much beside it."""

AS_WELL, MOST_NAMED = 0.9, 3
"""Meetings with the other stems beside those at the best lag; so many such lags are named."""

HALF = (0.35, 0.65)
"""Beats: about half of one."""

MOST_STROKES, FEW_STROKES = 0.45, 0.5
"""Of a stem that is off: shares of its strokes on one sixteenth, and so much of that at most on the beat and
on the sixteenth to its other side."""

ON_SIXTEENTHS = 0.1
"""Part of its strokes on each quarter of the beat, of what plays sixteenths."""

NAMED_SONGS = 2
"""Of several stems of a role, so many of its name in other songs tell where it strikes, if they agree."""

MOST_SONGS = 0.75
"""Of the show's other songs have the role on the eighths, where onsets already say that it is displaced."""

STRUCK = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP})
"""Roles that play sixteenths all through a song: 80 ms late at 132 beats a minute is 34 ms early to them."""

NOT_FAR = 3.0
"""Small displacements are far more usual than large ones: a place this many times farther is not named."""

Quarters = tuple[float, float, float, float]
"""Shares of a stem's strokes on the beat and on each quarter after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Where a stem may lie, most likely first; `by` what tells it."""

    places_ms: tuple[float, ...]
    by: Literal["harmony", "strokes", "nothing"]

    part: Literal["", "half a beat", "a quarter of a beat", "by its chords"] = (
        ""  # off, more or less what the onsets say
    )
    sixteenth_ms: float | None = None  # where it may lie too if it plays sixteenths


def told_apart(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, off_ms: float, lies: Lies | None = None
) -> Told:
    """off_ms: as the onsets say it, within the beat. lies: where its harmony does."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    both_ms = by_chords_and_strokes(stem, song, show, off_ms, lies) if lies is not None else None
    if both_ms is not None:
        return Told(places_ms=(both_ms,), by="harmony", part="" if both_ms == off_ms else "by its chords")
    if phase is None or phase.half_later_ms is None or phase.half_earlier_ms is None:
        return Told(places_ms=(off_ms,), by="nothing")
    late = off_ms + phase.half_later_ms - phase.offset_ms
    early = off_ms + phase.half_earlier_ms - phase.offset_ms
    quarter_ms = a_quarter_off(stem, song, show, off_ms)
    if quarter_ms is None:
        quarter_ms = _by_the_heaviest(stem, song, show)
    if quarter_ms is not None:
        return Told(places_ms=(off_ms + quarter_ms,), by="strokes", part="a quarter of a beat")
    beats = stem.alignment.beats if stem.alignment is not None else None
    side = _by_harmony(beats) if beats is not None else None
    if side == 1 and _may_be_an_off_beat(stem, song, show):
        side = None
    if side is not None:
        places = {0: (off_ms,), 1: (late,), -1: (early,)}[side]
        # Chords last longer than a sixteenth: they cannot tell one place of it from the next.
        beside_ms = _a_sixteenth_on(stem, song, off_ms) if side == 0 else None
        return Told(
            places_ms=places, by="harmony", part="half a beat" if side else "", sixteenth_ms=beside_ms
        )  # fmt: skip
    moved = strikes_between(stem, song, show)
    nearest = tuple(sorted((late, early), key=abs))
    if moved is None:
        others_ms = _other_lags(phase, off_ms) or nearest
        return Told(
            places_ms=(off_ms, *others_ms), by="nothing", sixteenth_ms=_a_sixteenth_on(stem, song, off_ms)
        )
    halves = _half_a_beat_on(phase, off_ms, (late, early)) or nearest
    return Told(places_ms=halves if moved else (off_ms,), by="strokes", part="half a beat" if moved else "")


def by_chords_and_strokes(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, off_ms: float, lies: Lies
) -> float | None:
    """`by_both`, but for half beats that may be meant: off-beats sound half a beat after the chord."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    both_ms = by_both(phase, off_ms, lies) if phase is not None else None
    if both_ms is None:
        return None
    half = HALF[0] <= abs(both_ms - off_ms) / lies.beat_ms <= HALF[1]
    return None if half and _may_be_an_off_beat(stem, song, show) else both_ms


def _other_lags(phase: Phase, off_ms: float) -> tuple[float, ...]:
    """Where else its strokes meet the other stems' as well, or nearly; the nearest first."""
    best = max((one.height for one in phase.lags), default=0.0)
    elsewhere = [
        one
        for one in phase.lags
        if abs(one.lag_ms - phase.offset_ms) >= SAME_MS and one.height >= AS_WELL * best
    ]
    elsewhere = sorted(elsewhere, key=lambda one: -one.height)[:MOST_NAMED]
    return tuple(sorted((one.lag_ms - phase.offset_ms + off_ms for one in elsewhere), key=abs))


def _half_a_beat_on(phase: Phase, off_ms: float, halves_ms: tuple[float, float]) -> tuple[float, ...]:
    """The lags near these two at which its strokes meet the other stems', the best first."""
    reach_ms = HALF_NEAR * abs(halves_ms[0] - halves_ms[1])
    found = [
        (one.height, one.lag_ms - phase.offset_ms + off_ms)
        for one in phase.lags
        if any(abs(one.lag_ms - phase.offset_ms + off_ms - half_ms) <= reach_ms for half_ms in halves_ms)
    ]
    return tuple(lag_ms for _, lag_ms in sorted(found, reverse=True))


def a_quarter_off(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, off_ms: float, *, share: float = MOST_SONGS
) -> float | None:
    """By how much more a stem is off that strikes on the quarters beside the eighths, on which it strikes in
    such a share of the show's other songs and others do here; None where strokes do not say so."""
    bpm = song.click.bpm if song.click is not None else None
    quarters = _quarters_of(stem)
    if bpm is None or quarters is None or stem.role not in BEATERS | STRUCK:
        return None
    _, second, _, fourth = quarters
    if second + fourth < BESIDE_THEM or _others_on_eighths(stem, song) < 2:
        return None
    elsewhere = _eighths_elsewhere(stem, song, show, share)
    if not elsewhere:
        return None
    quarter_ms = 15_000.0 / bpm
    # Where the beats are heavier than the half-ways, the heavier of its two quarters is the beat.
    if sum(one[0] >= HEAVIER * one[2] for one in elsewhere) >= MOST_SONGS * len(elsewhere):
        if second >= HEAVIER * fourth:
            return quarter_ms
        if fourth >= HEAVIER * second:
            return -quarter_ms
    return min(quarter_ms, -quarter_ms, key=lambda more: abs(off_ms + more))


def _by_the_heaviest(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> float | None:
    """The same of a stem that is off for certain and plays sixteenths: most of its strokes lie a sixteenth
    beside the beat, and nearly none on it, where its like has most of them in the show's other songs."""
    bpm = song.click.bpm if song.click is not None else None
    quarters = _quarters_of(stem)
    if bpm is None or quarters is None or _others_on_eighths(stem, song) < 2:
        return None
    heaviest = max((1, 3), key=quarters.__getitem__)
    most = quarters[heaviest]
    if most < MOST_STROKES or max(quarters[0], quarters[4 - heaviest]) > FEW_STROKES * most:
        return None
    elsewhere = [one.quarters for one in _in_other_songs(stem, song, show) if one.quarters is not None]
    on_beats = sum(one[0] >= MOST_STROKES for one in elsewhere)
    if on_beats < ENOUGH_SONGS or on_beats < MOST_SONGS * len(elsewhere):
        return None
    return 15_000.0 / bpm * (1 if heaviest == 1 else -1)


def _quarters_of(stem: StemEvidence) -> Quarters | None:
    phase = stem.alignment.phase if stem.alignment is not None else None
    return phase.quarters if phase is not None else None


def _others_on_eighths(stem: StemEvidence, song: SongEvidence) -> int:
    """How many other stems of the song strike on the eighths."""
    return sum(
        name != stem.name and phase.quarters is not None and _on_eighths(phase.quarters)
        for name, _, phase in sure_phases(song)
    )


def _eighths_elsewhere(
    stem: StemEvidence, song: SongEvidence, show: ShowEvidence, share: float
) -> list[Quarters]:
    """Where its like strikes in the show's other songs, if that is on the eighths in such a share of them, or
    always where its own name tells; else empty."""
    elsewhere = [one.quarters for one in _in_other_songs(stem, song, show) if one.quarters is not None]
    usual = sum(_on_eighths(one) for one in elsewhere)
    if usual >= max(ENOUGH_SONGS, share * len(elsewhere)):
        return elsewhere
    if sum(one.role is stem.role for one in song.stems) < 2:
        return []
    named = [one.quarters for one in of_its_name(stem, song, show)]
    on_eighths = [one for one in named if one is not None and _on_eighths(one)]
    # Congas say little of where claps fall; claps in two songs do, if they agree.
    return on_eighths if NAMED_SONGS <= len(on_eighths) == len(named) else []


def _in_other_songs(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> list[Phase]:
    """The sure phases of its like in the show's other songs: of the same role, or name in a split kit."""
    like = like_in_others(stem, song, show)
    return [phase for one in show.songs for name, _, phase in sure_phases(one) if (one.name, name) in like]


def _leaves_the_beat_to_another(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether another stem of its role strikes on the beats here, and none of its own name tells where such
    a one strikes: hats may fall between the kick's strokes."""
    on_them = any(
        name != stem.name and role is stem.role and phase.on_beat is not None and phase.on_beat >= STRIKES_ON
        for name, role, phase in sure_phases(song)
    )
    return on_them and not are_its_habit(stem, song, show)


def _on_eighths(quarters: Quarters) -> bool:
    return quarters[0] + quarters[2] >= ON_EIGHTHS


def _a_sixteenth_on(stem: StemEvidence, song: SongEvidence, off_ms: float) -> float | None:
    """The place to the click's other side that sixteenths cannot tell from this one, if it is as likely."""
    click = song.click
    if click is None or click.bpm is None or (click.metre or "").endswith("/8"):
        return None
    if stem.role not in STRUCK and not _plays_sixteenths(stem):
        return None
    other_ms = off_ms - math.copysign(15_000.0 / click.bpm, off_ms)
    return other_ms if abs(other_ms) <= NOT_FAR * abs(off_ms) else None


def _plays_sixteenths(stem: StemEvidence) -> bool:
    quarters = _quarters_of(stem)
    return quarters is not None and min(quarters) >= ON_SIXTEENTHS


def _by_harmony(beats: Beats) -> int | None:
    """1: half a beat late, −1: early, 0: as it is; None: it does not tell."""
    less, half = sorted((beats.half_late, beats.half_early))
    # Where both sides fit alike, no half beat is the reason.
    next_best = max(beats.at_zero, less)
    if half >= FIT and half >= max(next_best + BETTER, TIMES * next_best):
        return 1 if beats.half_late > beats.half_early else -1
    if beats.at_zero >= FIT and beats.at_zero >= max(half + BETTER, TIMES * half):
        return 0
    return None


def _may_be_an_off_beat(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether it strikes between the beats and nothing says that its role would not: the chords of a skank
    sound half a beat after everybody's, wherever it stands."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    if phase is None or phase.on_beat is None or phase.on_beat > STRIKES_BETWEEN:
        return False
    elsewhere = [one.on_beat for one in _in_other_songs(stem, song, show) if one.on_beat is not None]
    return len(elsewhere) < ENOUGH_SONGS or min(elsewhere) < STRIKES_ON


def strikes_between(stem: StemEvidence, song: SongEvidence, show: ShowEvidence) -> bool | None:
    """Whether a stem that strikes on the beats in every other song strikes between them here. None: the role
    does not, or too few songs tell."""
    phase = stem.alignment.phase if stem.alignment is not None else None
    if stem.role not in BEATERS or phase is None or phase.on_beat is None:
        return None
    if phase.on_beat <= STRIKES_BETWEEN and _leaves_the_beat_to_another(stem, song, show):
        return None
    phases = _in_other_songs(stem, song, show)
    elsewhere = [other.on_beat for other in phases if other.on_beat is not None]
    if len(elsewhere) < ENOUGH_SONGS or min(elsewhere) < STRIKES_ON:
        return None
    if phase.on_beat <= STRIKES_BETWEEN:
        return True
    return False if phase.on_beat >= STRIKES_ON else None
