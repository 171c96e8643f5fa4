"""Where a song's own zero lies: all its music may lie beside its click, and no stem of it is at fault.

    at_zero(song) -> SongEvidence      its phases as if its music lay on the click
    sure_at_zero(show) -> [(song, [(stem, role, Phase)])]

Music written by hand or cut out of something longer often lies some 50 ms off a click that was made from its
tempo. A stem of it is judged by where the others lie: each stem's phase is moved by as much as the *others*
are off, so a stem that is late does not move its own zero. `rules/whole_song.py` speaks of the song itself.

In a swung song a stem's distance from the click is known but for parts of the beat: strokes on the last third
look early, those on the beat late. There the stem that marks the beat and what lies between the two tell it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.results import Phase
from audit.rules.once import once_a_show
from audit.rules.phases import HABIT_ONSETS, MARKING, SLOW, Placed, is_sure, said_elsewhere

BEATING = frozenset({Role.DRUMS, Role.LOOP})
"""Roles that mark the beat; percussion is another instrument in every song, and may speak late."""

MARKS_MS, SPEAKS_MS = 1.0, 5.0
"""Where what marks the beat, and other sounds, usually lie after it: 0 to 2, and 0 to 15 ms. Own
measurement on rendered songs."""

OFF_MS = 20.0
"""As far as bands lie off of their own accord is left to the click. Own measurement: of 130 songs nobody
moved the farthest lies 15 ms off, but for one whose stems all really do."""

ALIKE_MS, CLOSELY_MS, MOST_ALIKE = 18.0, 8.0, 0.66
"""So many of the others have to lie so near to what marks the beat among them, or, where nothing does, to
their middle."""

QUICK_MS, FEWER = 5.0, 0.3
"""A slow role half of whose notes lie within this speaks as surely as a quick one, and so much confidence is
enough: a stem that is late takes some of the strokes that its song shares with it."""

NEAR_MS, MANY = 10.0, 3
"""What marks the beat and lies so near to the click has its zero there, unless so many quick sounds say
otherwise together."""

SWELLING = SLOW - {Role.OTHER}
"""Roles that may all be late by their sound; what no name tells is not one of them."""

PARTS, COARSE_PARTS = (3, 4, 6, 8), (3, 4)
"""Parts of the beat by which a place may be mistaken; where a stem shares no strokes with what marks the
beat, the second."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zero:
    """Where a stem's zero lies, as the song's other stems say it."""

    off_ms: float = 0.0  # from the click; positive = after it
    by_marks: bool = True  # by what marks the beat, or the click itself; False: by sounds that speak later


def at_zero(song: SongEvidence) -> SongEvidence:
    """The song with every stem's phase as its song's other stems let it be read."""
    phases = {name: _moved(phase, zero.off_ms) for name, _, phase, zero in _read(song)}
    return replace(
        song,
        stems=tuple(
            replace(stem, alignment=replace(stem.alignment, phase=phases[stem.name]))
            if stem.name in phases and stem.alignment is not None
            else stem
            for stem in song.stems
        ),
    )


def moved_stems(song: SongEvidence) -> frozenset[str]:
    """The stems whose zero is not the click: their place is uncertain by what the others' is."""
    return frozenset(name for name, _, _, zero in _read(song) if zero.off_ms)


@once_a_show
def sure_at_zero(show: ShowEvidence, *, by_marks: bool) -> list[tuple[str, list[Placed]]]:
    """The stems of every song whose place is sure, with the song's name; `by_marks` only those whose zero is
    the click, or known by what marks the beat."""
    return [(song.name, _sure(_read(song), by_marks=by_marks)) for song in show.songs]


def _sure(read: Sequence[tuple[str, Role, Phase, Zero]], *, by_marks: bool) -> list[Placed]:
    denied = said_elsewhere([(name, role, phase) for name, role, phase, _ in read])
    return [
        (name, role, _moved(phase, zero.off_ms))
        for name, role, phase, zero in read
        if is_sure(phase) and name not in denied and (zero.by_marks or not by_marks)
    ]


def moved_songs(show: ShowEvidence) -> frozenset[str]:
    """Songs whose own zero is not the click's."""
    return frozenset(zeros_ms(show))


def _read(song: SongEvidence) -> list[tuple[str, Role, Phase, Zero]]:
    """Every stem that has a phase, with it and its zero."""
    bpm = song.click.bpm if song.click is not None else None
    placed = [
        (stem.name, stem.role, phase)
        for stem in song.stems
        if stem.alignment is not None and (phase := stem.alignment.phase) is not None
    ]
    if not bpm:
        return [(name, role, phase, Zero()) for name, role, phase in placed]
    read = _by_the_beat(placed, 60_000.0 / bpm)
    return [(name, role, phase, _zero(name, read)) for name, role, phase in read]


@once_a_show
def zeros_ms(show: ShowEvidence) -> dict[str, float]:
    """Where the zeros of those songs lie, ms after the click."""
    by_song = {
        song.name: [zero.off_ms for _, _, phase, zero in _read(song) if is_sure(phase) and zero.off_ms]
        for song in show.songs
    }
    return {name: median(off_ms) for name, off_ms in by_song.items() if off_ms}


def _by_the_beat(placed: Sequence[Placed], beat_ms: float) -> list[Placed]:
    """Places that are a part of the beat away from where the song's drums and the way to them say."""
    marks = {name: phase for name, role, phase in placed if role in BEATING and _is_tight(phase)}
    if not marks:
        return list(placed)
    known = {name: phase.click_ms - MARKS_MS for name, phase in marks.items()}
    read = {name: phase for name, role, phase in placed if role in BEATING}
    for name, _, phase in placed:
        if name not in read and (ways := _ways(name, phase, marks)):
            wanted_ms = min(ways, key=lambda way_ms: abs(way_ms - phase.click_ms))
            read[name] = _moved(phase, -_mistaken_ms(wanted_ms - phase.click_ms, beat_ms, PARTS))
            known[name] = read[name].click_ms - SPEAKS_MS
    # Who shares no strokes with what marks the beat is read by where all those lie, if that is off the click.
    middle_ms = median(known.values()) + SPEAKS_MS
    for name, _, phase in placed:
        if name not in read and abs(middle_ms - SPEAKS_MS) <= OFF_MS:
            read[name] = phase
        elif name not in read:
            more_ms = _mistaken_ms(middle_ms - phase.click_ms, beat_ms, COARSE_PARTS, wholly=True)
            read[name] = _moved(phase, -more_ms)
    return [(name, role, read[name]) for name, role, _ in placed]


def _ways(name: str, phase: Phase, marks: Mapping[str, Phase]) -> list[float]:
    """Where the way to what marks the beat says that a stem lies: it is known from both ends, each but for a
    part of the beat."""
    there = [marks[one.stem].click_ms + one.lag_ms for one in phase.against if one.stem in marks]
    back = [mark.click_ms - one.lag_ms for mark in marks.values() for one in mark.against if one.stem == name]
    return there + back


def _mistaken_ms(more_ms: float, beat_ms: float, parts: Sequence[int], *, wholly: bool = False) -> float:
    """How much later a place is to be read that is to lie so much later: so much, where that is about a
    part of the beat, or `wholly` that part; 0.0 where it is none."""
    if abs(more_ms) <= OFF_MS:
        return 0.0
    part_ms = min(
        (math.copysign(beat_ms / part, more_ms) for part in parts), key=lambda one: abs(one - more_ms)
    )
    if abs(part_ms - more_ms) > ALIKE_MS:
        return 0.0
    return part_ms if wholly else more_ms


def _zero(name: str, placed: Sequence[Placed]) -> Zero:
    """Where the other stems lie together; the click, where they do not, lie near it, or are too few."""
    role, phase = next((role, phase) for one, role, phase in placed if one == name)
    own_ms = phase.click_ms - speaks_ms(role)
    others = [one for one in placed if one[0] != name and _is_tight(one[2])]
    if role in MARKING and abs(own_ms) <= NEAR_MS and not _far_alike(others):
        return Zero()
    tight = [one for one in others if one[1] not in SLOW or one[2].iqr_ms <= QUICK_MS]
    # Slow sounds alone may all speak late.
    surely = _together(tight) if any(one[1] not in SWELLING for one in tight) else None
    if surely is not None and (role in MARKING or surely.by_marks):
        return surely
    if any(role in MARKING and is_sure(one) and abs(one.click_ms) <= NEAR_MS for _, role, one in others):
        return Zero()  # what marks the beat stands on the click: the others speak late
    faintly = _together(others, least=1)
    if faintly is None or abs(own_ms - faintly.off_ms) > ALIKE_MS:
        return Zero()
    return faintly


def _far_alike(placed: Sequence[Placed]) -> bool:
    """Whether so many quick sounds lie so close together that drums on the click are off, or all the
    others."""
    quick = [one for one in placed if one[1] not in SLOW and is_sure(one[2])]
    return len(quick) >= MANY and _together(quick) is not None


def _together(placed: Sequence[Placed], *, least: int = 2) -> Zero | None:
    """Where so many stems at least lie off the click together; None where they do not."""
    places = [(role in BEATING, phase.click_ms - speaks_ms(role)) for _, role, phase in placed]
    marks = [off_ms for marks, off_ms in places if marks]
    middle = median(marks or [off_ms for _, off_ms in places] or [0.0])
    near_ms = ALIKE_MS if marks else CLOSELY_MS
    alike = sum(abs(off_ms - middle) <= near_ms for _, off_ms in places)
    if abs(middle) <= OFF_MS or alike < max(least, MOST_ALIKE * len(places)):
        return None
    return Zero(off_ms=middle, by_marks=bool(marks))


def _is_tight(phase: Phase) -> bool:
    """Whether its place is sure, or its strokes lie so close together that fewer of them tell it."""
    return is_sure(phase) or (
        phase.onsets >= HABIT_ONSETS and phase.confidence >= FEWER and phase.iqr_ms <= QUICK_MS
    )


def speaks_ms(role: Role) -> float:
    """How long after the beat a role is usually heard."""
    return MARKS_MS if role in MARKING else SPEAKS_MS


def _moved(phase: Phase, earlier_ms: float) -> Phase:
    if earlier_ms == 0.0:
        return phase
    return replace(
        phase,
        offset_ms=phase.offset_ms - earlier_ms,
        grid_ms=None if phase.grid_ms is None else phase.grid_ms - earlier_ms,
        half_later_ms=None if phase.half_later_ms is None else phase.half_later_ms - earlier_ms,
        half_earlier_ms=None if phase.half_earlier_ms is None else phase.half_earlier_ms - earlier_ms,
        lags=tuple(replace(one, lag_ms=one.lag_ms - earlier_ms) for one in phase.lags),
    )
