"""What is asked of a stem that lies beside the beat before it is told, and how bad it is then.

judge(stem, phase, usual, limit, moved=…)         -> Judged | None: the bound that its role and spread ask for
verdict(judged, song, habits, ways, limit)        -> Verdict | None: who says it, and how surely
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from statistics import median

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Phase
from audit.rules.alignment_words import Judged, Verdict
from audit.rules.by_length import has_another_length
from audit.rules.phases import MARKING, SLOW, sure_phases
from audit.rules.places import Habit, as_far, band_ms, past_habit_ms
from audit.rules.rule import Limit
from audit.rules.witnesses import STILL, ByClick, ByStrokes, Ways, by_click, by_strokes, is_a_part
from audit.rules.zero import MANY

Habits = Mapping[Role, Habit]

STEADY = frozenset({Role.DRUMS, Role.LOOP})
"""Roles that lie as steadily from song to song as from note to note, or more so."""

ENOUGH_TO_BE_SURE = 5

PROGRAMMED_MS, PROGRAMMED_MARKS_MS, EXACT_MS, EXACT_STEMS = 18.0, 14.0, 3.0, 3
"""In a song that is played by a sequencer a pitched stem is told from here on, and one that marks the beat,
however widely its role lies in songs that people play. Own measurement: of 135 clean stems that strike as
exactly as three others of their song none that marks the beat lies more than 9.4 ms off, and no other 6.5."""

EXACT_BESIDE_HABIT_MS = 2.0
"""Against what its role does in other songs, and by the word of two that share its strokes."""

LATEST_SPOKEN_MS = 65.0
"""Slow attacks are heard up to so much behind their note. Own measurement: sampled brass, strings, voices."""


def judge(
    stem: StemEvidence, phase: Phase, usual: Habit | None, limit: Limit, *, moved: bool
) -> Judged | None:
    """The stem against the bound that its role and spread ask for; None where it cannot be judged."""
    off_ms = past_habit_ms(phase, usual)
    if not _enough_onsets(stem, phase, off_ms, limit) or (usual is not None and _is_odd(usual, off_ms)):
        return None
    if usual is None:
        slow = limit["alone_slow"] if stem.role in SLOW else limit["alone_pitched"]
        least = limit["alone"] if stem.role in MARKING else slow
    elif stem.role in MARKING:
        # A tambourine speaks later than drums: what they lend it is no habit of its own.
        least = limit["lent"] if usual.lent else limit.value
    else:
        least = limit["slow"] if stem.role in SLOW else limit["pitched"]
    zero_ms = limit["zero" if stem.role in MARKING else "zero_pitched"] if moved else 0.0
    spread_ms = max(phase.error_ms, usual.spread_ms if usual else 0.0, zero_ms)
    return Judged(
        stem=stem,
        phase=phase,
        habit=usual,
        off_ms=off_ms,
        limit_ms=max(least, limit["spreads"] * spread_ms),
        spread_ms=spread_ms,
        zero_ms=zero_ms,
    )


def _is_odd(usual: Habit, off_ms: float) -> bool:
    """Whether the habit is the odd one: known from few songs, of which one keeps what this stem does, nearer
    to the click. Two late stems of three would else make an error of everyone that is in time."""
    place_ms = usual.usual_ms + off_ms
    alike = any(abs(place - place_ms) <= STILL * abs(off_ms) for place in usual.places_ms)
    return usual.songs < ENOUGH_TO_BE_SURE and alike and abs(place_ms) < abs(usual.usual_ms)


def _enough_onsets(stem: StemEvidence, phase: Phase, off_ms: float, limit: Limit) -> bool:
    """Few do where they lie close together, far off, and all but all of them fit."""
    if phase.onsets >= limit["onsets"]:
        return phase.confidence >= limit["confidence"]
    return (
        stem.role not in SLOW
        and phase.onsets >= limit["few_onsets"]
        and phase.iqr_ms <= limit["few_spread"] * abs(off_ms)
        and phase.confidence * limit["onsets"] >= limit["few_confidence"] * phase.onsets
    )


def verdict(judged: Judged, song: SongEvidence, habits: Habits, ways: Ways, limit: Limit) -> Verdict | None:
    """How bad it is, and who says so; None: not at all."""
    on_click = _early_on_the_click(judged, limit)
    may_be_meant = (
        _speaks_late(judged, song) or _is_a_figure(judged, song, limit) or _lies_with_its_song(judged)
    )
    if may_be_meant or (on_click and _of_others(judged)):
        return None
    strokes = by_strokes(judged, song, ways, limit)
    least_ms, error_ms = _bounds_ms(judged, strokes, song, limit)
    size_ms = abs(judged.off_ms)
    spreads = _loose(judged, limit) * judged.phase.iqr_ms >= size_ms
    told = strokes.agreeing and size_ms > least_ms and not (spreads and not _is_surely_off(judged, limit))
    if not told or not _off_the_click(judged, song, habits, limit):
        click = by_click(judged, song, habits, ways, limit)
        return None if click is None else _told_by_click(judged, click, limit)
    unsure = (
        spreads
        or _lies_loosely(judged, limit)
        or _stabs(judged, song, limit)
        or (on_click and _is_known_from_few(judged.habit))
    )
    warned = size_ms <= error_ms or unsure
    alone = judged.habit is None and judged.stem.role not in MARKING
    return Verdict(
        judged=judged,
        severity=Severity.WARNING if warned or alone else Severity.ERROR,
        bound_ms=least_ms if warned else error_ms,
        agreeing=strokes.agreeing,
    )


def _is_surely_off(judged: Judged, limit: Limit) -> bool:
    """However widely its notes spread."""
    return _is_steady(judged, limit) and judged.phase.iqr_ms < abs(judged.off_ms)


def _is_known_from_few(habit: Habit | None) -> bool:
    return habit is not None and habit.songs < ENOUGH_TO_BE_SURE


def _bounds_ms(judged: Judged, strokes: ByStrokes, song: SongEvidence, limit: Limit) -> tuple[float, float]:
    """From where on it is told, and from where on it is an error."""
    least, error = judged.limit_ms, judged.limit_ms
    if judged.habit is not None and judged.stem.role not in SLOW:
        least = max(_near_ms(judged.stem.role, judged.habit, limit), limit["spreads"] * judged.spread_ms)
    marking = judged.stem.role in MARKING
    if (judged.habit is not None or not marking) and _as_programmed(judged, strokes, song):
        least = min(least, PROGRAMMED_MARKS_MS if marking else PROGRAMMED_MS)
    if strokes.direct < 2:  # one distance alone says it: as much is asked as where the click does
        least = max(least, _by_one(judged, song, limit))
        error = max(error, limit["click_surely"] * least)
    return least, error


def _near_ms(role: Role, habit: Habit, limit: Limit) -> float:
    """The least that is told of a role that has a habit."""
    if role in MARKING:
        return limit["lent" if habit.lent else "near"]
    return limit["near_bass" if role is Role.BASS else "near_pitched"]


def _lies_loosely(judged: Judged, limit: Limit) -> bool:
    """Who lies back by twice what his notes differ by may mean to: a person plays so, no file is late so."""
    loosely = judged.phase.iqr_ms >= limit["loosely"] * abs(judged.off_ms)
    return judged.stem.role not in MARKING and loosely


def _stabs(judged: Judged, song: SongEvidence, limit: Limit) -> bool:
    """Whether horns, strings or voices lie a sixteenth off: their stabs may be written beside the eighths."""
    bpm = song.click.bpm if song.click is not None else None
    if bpm is None or judged.stem.role not in SLOW:
        return False
    return abs(abs(judged.off_ms) - 15_000.0 / bpm) <= limit["figure_ms"]


def as_its_length_says(judged: Judged, said: Verdict | None, limit: Limit) -> Verdict:
    """Of a stem whose file is as much longer or shorter as it lies off: nobody plays so by chance."""
    if said is None:
        least = max(limit.value, limit["spreads"] * judged.spread_ms if judged.habit is not None else 0.0)
        bound_ms = min(least, abs(judged.off_ms))
        said = Verdict(judged=judged, severity=Severity.WARNING, bound_ms=bound_ms)
    return replace(said, by_length=True)


def _as_programmed(judged: Judged, strokes: ByStrokes, song: SongEvidence) -> bool:
    """Whether it strikes as exactly as three others and more that it lies off, and these lie at one place:
    nobody plays so, and a sequencer starts all notes at once."""
    exactly_ms = EXACT_MS if judged.habit is None else EXACT_BESIDE_HABIT_MS
    fewest = EXACT_STEMS if judged.habit is None else 2
    if judged.stem.role in SLOW or judged.phase.iqr_ms > exactly_ms or strokes.direct < fewest:
        return False
    if has_another_length(judged.stem):
        return False
    exact = [
        phase.click_ms
        for name, _, phase in sure_phases(song)
        if name in strokes.agreeing and phase.iqr_ms <= exactly_ms
    ]
    return len(exact) >= EXACT_STEMS and max(exact) - min(exact) <= EXACT_MS


def _speaks_late(judged: Judged, song: SongEvidence) -> bool:
    """Whether a slow sound that is read far early may as well be the next sixteenth's, spoken late: its soft
    attack is heard some tens of milliseconds behind its note."""
    bpm = song.click.bpm if song.click is not None else None
    if bpm is None or judged.stem.role not in SLOW or judged.off_ms >= 0.0:
        return False
    return 0.0 <= judged.phase.click_ms + 15_000.0 / bpm <= LATEST_SPOKEN_MS


def _lies_with_its_song(judged: Judged) -> bool:
    """Whether a stem that is known by other instruments' places alone lies with its own song's stems: a
    conguero who leans back is off what tambourines and bells do in the other songs, and nobody else."""
    habit = judged.habit
    if habit is None or not (habit.lent or judged.stem.role is Role.PERCUSSION):
        return False
    return not as_far(judged.phase.from_others_ms, judged.off_ms, STILL)


def _early_on_the_click(judged: Judged, limit: Limit) -> bool:
    """Whether a pitched stem is early against a habit alone and not against the click: it may speak sooner,
    an organ among guitars, an upright bass among synthesised ones."""
    pitched = judged.stem.role not in MARKING | SLOW
    return pitched and judged.off_ms < 0.0 and judged.phase.click_ms > -limit["ahead"]


def _of_others(judged: Judged) -> bool:
    """Whether its habit is that of other instruments: of other roles, or names that it shares with nobody."""
    return judged.habit is not None and (judged.habit.lent or not judged.named_elsewhere)


def _told_by_click(judged: Judged, click: ByClick, limit: Limit) -> Verdict:
    size_ms = abs(click.off_ms)
    surely = (
        len(click.standing) >= 2 and limit["click_surely"] * click.bound_ms < size_ms <= limit["click_most"]
    )
    return Verdict(
        judged=replace(judged, off_ms=click.off_ms),
        severity=Severity.ERROR if surely else Severity.WARNING,
        bound_ms=click.bound_ms,
        standing=click.standing,
    )


SHORTEST_PART_MS = 80.0
"""Nobody plays a whole song on the sixteenth beside the beat where it is shorter (188 beats a minute)."""


def _is_a_figure(judged: Judged, song: SongEvidence, limit: Limit) -> bool:
    """Whether all its strokes lie on one third or quarter of the beat: an off-beat that is written so. Of a
    bass that is asked where it strikes on the beats too, as they stand."""
    on_beat, bpm = judged.phase.on_beat, song.click.bpm if song.click is not None else None
    if judged.stem.role in {Role.DRUMS, Role.LOOP} or bpm is None or on_beat is None:
        return False
    quarters, beat_ms = judged.phase.quarters, 60_000.0 / bpm
    near_ms = abs(abs(judged.off_ms) - beat_ms / 4)
    if quarters is not None and min(quarters) >= limit["sixteenths"] and near_ms <= limit["figure_ms"]:
        return True  # sixteenths all through: a sixteenth later they strike where they did
    if quarters is not None and _leaves_the_beat_out(judged, quarters, beat_ms, limit):
        return True
    parts: tuple[int, ...] = (3, 4)
    if judged.stem.role is Role.BASS:
        before = 0.0 if quarters is None else quarters[3 if judged.off_ms > 0.0 else 1]
        parts = (4,) if before >= limit["figure_before"] else ()
    lengths_ms = [beat_ms / part for part in parts if beat_ms / part >= SHORTEST_PART_MS]
    near = min((abs(abs(judged.off_ms) - part_ms) for part_ms in lengths_ms), default=math.inf)
    return on_beat >= limit["figure_on_beat"] and near <= limit["figure_ms"]


def _leaves_the_beat_out(judged: Judged, quarters: tuple[float, ...], beat_ms: float, limit: Limit) -> bool:
    """Whether it strikes three quarters of the beat and never the beat: a sixteenth later, or a swung one, it
    would strike the beat and leave another quarter out, and may be written either way."""
    lowest_ms, highest_ms = beat_ms / 4 - limit["figure_ms"], beat_ms / 3 + limit["figure_ms"]
    three = sorted(quarters)[1] >= limit["sixteenths"]
    off_it = judged.phase.on_beat is not None and judged.phase.on_beat <= limit["figure_off_beat"]
    return three and off_it and lowest_ms <= abs(judged.off_ms) <= highest_ms


def _by_one(judged: Judged, song: SongEvidence, limit: Limit) -> float:
    """The bound where the others are known by way of one stem; no distance is enough for what may be written
    so, or be an echo."""
    bpm = song.click.bpm if song.click is not None else None
    tight = judged.phase.iqr_ms <= limit["tight"]
    places = (judged.off_ms,) if tight else (judged.off_ms, judged.phase.click_ms)
    if bpm is None or any(is_a_part(place, bpm, limit, tight=tight) for place in places):
        return math.inf
    lent = judged.habit is None or judged.habit.lent or judged.stem.role is Role.PERCUSSION
    if judged.stem.role in SLOW:
        least = limit["click_slow"]
    elif lent:
        least = limit["click" if tight else "click_lent"]
    else:
        least = 0.0 if tight else limit["click"]
    return max(least, 0.0 if tight else limit["click_loose"] * judged.phase.iqr_ms)


def _loose(judged: Judged, limit: Limit) -> float:
    """How many times the spread of its single notes a displacement has to be."""
    if judged.stem.role in STEADY:
        return 1.0
    return limit["loose_percussion" if judged.stem.role is Role.PERCUSSION else "loose"]


def _is_steady(judged: Judged, limit: Limit) -> bool:
    """Whether the show's percussion lies so steadily that a wide spread of its notes says little."""
    habit = judged.habit
    return (
        judged.stem.role is Role.PERCUSSION
        and habit is not None
        and not habit.lent
        and habit.songs >= ENOUGH_TO_BE_SURE
        and abs(judged.off_ms) >= limit["surely"] * judged.spread_ms
    )


def _off_the_click(judged: Judged, song: SongEvidence, habits: Habits, limit: Limit) -> bool:
    """Whether it lies off the click too, in the same direction.

    Where the other stems together lie off the click, the click does not tell which stem is right: the
    others do, if they lie off more than their roles do in the show's other songs. Else they are slow sounds.
    Who lies on the click as its role does in every song is off only where the others have moved far away.
    """
    own = judged.phase.click_ms - (judged.habit.click_ms if judged.habit else 0.0)
    as_ever = judged.as_ever_ms if judged.as_ever_ms is not None else own
    on_click = judged.habit is not None and min(abs(own), abs(as_ever)) < STILL * abs(judged.off_ms)
    quick = sum(name != judged.stem.name and role not in SLOW for name, role, _ in sure_phases(song))
    # From a zero of its own it is off however far the others have moved, if enough of them are quick sounds.
    unsure = judged.zero_ms > 0.0 and quick < MANY
    if on_click and (abs(judged.off_ms) <= limit["on_click"] or unsure):
        return False
    if abs(band_ms(judged.phase)) > 1.5 * limit.value:
        off = _past_their_roles(judged, song, habits)
        if off is None:  # slow sounds make a band late of which the drums are not early
            return judged.stem.role not in MARKING or abs(own) > limit.value
        return off * judged.off_ms > 0.0 and abs(off) >= 0.6 * abs(judged.off_ms)
    return own * judged.off_ms > 0.0 and abs(own) >= 0.6 * abs(judged.off_ms)


def _past_their_roles(judged: Judged, song: SongEvidence, habits: Habits) -> float | None:
    """How much more than the others it lies off the click, each past its habit; None without habits."""
    if judged.habit is None:
        return None
    others = [
        phase.click_ms - habits[role].click_ms
        for name, role, phase in sure_phases(song)
        if name != judged.stem.name and role in habits
    ]
    own = judged.phase.click_ms - judged.habit.click_ms
    return own - median(others) if others else None
