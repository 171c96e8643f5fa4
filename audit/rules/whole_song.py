"""Songs whose stems lie beside their click all alike: then the click is off, or all of them are.

    beside_the_beat(song, show, limit) -> BesideTheBeat | None    within the beat, or half a beat
    another_tempo(song)                -> AnotherTempo | None     on no part of the beat at all
    beats_mislaid(song, show)          -> bool                    the click's beats tell nothing of one stem

Stems that are right with one another leave nothing to hear but a band that plays beside its tracks. Whole
beats are told by the click's accents (`whole_bar.py`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.rules.half_beats import BEATERS
from audit.rules.once import once_a_show
from audit.rules.phases import MARKING, SLOW, sure_phases
from audit.rules.places import PLAINLY, Together, as_far, click_habits, lie_off, off_together
from audit.rules.rule import Limit
from audit.rules.witnesses import STILL
from audit.rules.zero import zeros_ms

BETWEEN, ON = -0.3, 0.1
"""Strokes on the beats less those half-way between them: those of stems that strike between, and on them."""

NEVER_SONGS = 4
"""A role that strikes between the beats in none of so many other songs does not do so here."""

SHARED, OFF_CLICK = 0.7, 0.45
"""Stems that share a pulse gather on it like this, and no more than the second on the click."""

SAME = 1e-3
"""A tempo this near to the click's is the click's."""

SO_TOO_BEATS = 0.03
"""As far as two songs may differ that lie off their clicks by the same part of the beat."""

MISLAID = 0.15
"""Part of a beat by which all stems are off: then beats say nothing of one of them."""

CLOSE_STEMS, CLOSELY_MS, CLOSE_MOST_MS = 3, 4.0, 42.0
"""So many stems, one of which marks the beat, that lie so near to one another off the click were moved
together, or the click was; music that was cut by hand lies a tenth of a beat off its click, and farther."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideTheBeat:
    """off_ms: of the stems against the click, positive = after it. half: half a beat comes to it, either way;
    off_ms then is the nearer of the two."""

    off_ms: float
    half: bool
    stems: tuple[str, ...]
    bound_ms: float
    sure: bool
    habits: bool = False  # past them; False: from the click itself
    all_stems: bool = False  # none lies elsewhere
    standing: tuple[str, ...] = ()  # stems that lie on the click as their roles do elsewhere
    alike_in: str = ""  # another song that lies off its click by the same part of its beat


def beside_the_beat(song: SongEvidence, show: ShowEvidence, limit: Limit) -> BesideTheBeat | None:
    """Whether most stems lie off the click alike, past their roles' habits, or strike between the beats; by
    the plain distance of all of them where the show is too small for habits."""
    together = off_together(song, click_habits(show, without=song.name))
    between, bpm = _between(song, show), song.click.bpm if song.click is not None else None
    if between and bpm is not None:
        off_ms = together.off_ms if together else 0.0
        return BesideTheBeat(
            off_ms=off_ms - math.copysign(30_000.0 / bpm, off_ms), half=True, stems=between,
            bound_ms=limit["together"],
            sure=any(role in BEATERS | MARKING for name, role, _ in sure_phases(song) if name in between),
        )  # fmt: skip
    if together is None:
        return _all_alike(song, limit)
    return _past_habits(song, show, together, limit)


def _past_habits(
    song: SongEvidence, show: ShowEvidence, together: Together, limit: Limit
) -> BesideTheBeat | None:
    """What lies alike, where that is far enough past the roles' habits and off the click itself."""
    bound_ms = max(limit["together"], limit["together_spreads"] * together.spread_ms)
    if abs(together.off_ms) < bound_ms or not as_far(together.plain_ms, together.off_ms, PLAINLY):
        return None  # it is the others that lie off
    standing = _standing(song, show, together)
    alike_in = _lies_so_too(song, together.plain_ms, show)
    return BesideTheBeat(
        off_ms=together.off_ms, half=False, stems=together.stems, bound_ms=bound_ms,
        sure=_is_sure(together, limit) and not alike_in, habits=True, standing=standing, alike_in=alike_in,
        all_stems=len(together.stems) == together.asked and not standing,
    )  # fmt: skip


def _is_sure(together: Together, limit: Limit) -> bool:
    """Whether many songs make the habits, or it lies farther off than a band would, or was moved as one."""
    closely = (
        together.marked
        and len(together.stems) >= CLOSE_STEMS
        and together.apart_ms <= CLOSELY_MS
        and abs(together.off_ms) <= CLOSE_MOST_MS
    )
    far = abs(together.off_ms) >= limit["together_warning"]
    return together.songs >= limit["together_songs"] or closely or far


def _standing(song: SongEvidence, show: ShowEvidence, together: Together) -> tuple[str, ...]:
    """Other stems, that lie on the click as their roles do elsewhere."""
    usual = click_habits(show, without=song.name)
    return tuple(
        name
        for name, role, phase in sure_phases(song)
        if name not in together.stems
        and role in usual
        and abs(phase.click_ms - usual[role].click_ms) <= STILL * abs(together.off_ms)
    )


def _lies_so_too(song: SongEvidence, off_ms: float, show: ShowEvidence) -> str:
    """Another song that lies off its click by about the same part of its beat: then that is how this music
    was cut, or one fault is in both. A machine is late by equal times at all tempi. Empty for none."""
    beats_ms = {
        one.name: 60_000.0 / one.click.bpm for one in show.songs if one.click is not None and one.click.bpm
    }
    zeros = zeros_ms(show)
    if song.name not in beats_ms:
        return ""
    part = zeros.get(song.name, off_ms) / beats_ms[song.name]
    return next(
        (
            name
            for name, other_ms in zeros.items()
            if name != song.name
            and name in beats_ms
            and abs(other_ms / beats_ms[name] - part) <= SO_TOO_BEATS
        ),
        "",
    )


def beats_mislaid(song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether the song's stems lie so far off the click's beats that a turn on one is put to another."""
    if another_tempo(song) is not None or _between(song, show):
        return True
    bpm = song.click.bpm if song.click is not None else None
    if bpm is None or song.name not in lie_off(show):
        return False
    together = off_together(song, click_habits(show, without=song.name))
    return together is not None and abs(together.off_ms) >= MISLAID * 60_000.0 / bpm


def _all_alike(song: SongEvidence, limit: Limit) -> BesideTheBeat | None:
    phases = [
        (stem.name, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None and not stem.silent
    ]
    many = [(name, phase.offset_ms) for name, phase in phases if phase.onsets >= limit["onsets"]]
    if len(many) < 3:
        return None
    middle = median(off_ms for _, off_ms in many)
    alike = all(abs(off_ms - middle) <= limit.value for _, off_ms in many)
    if not alike or abs(middle) < limit["together"]:
        return None
    sure = abs(middle) >= limit["together_warning"]
    return BesideTheBeat(
        off_ms=middle, half=False, stems=tuple(name for name, _ in many), sure=sure, all_stems=True,
        bound_ms=limit["together_warning"] if sure else limit["together"],
    )  # fmt: skip


def _between(song: SongEvidence, show: ShowEvidence) -> tuple[str, ...]:
    """The stems that strike between the beats, where their roles do in no other song: two and more, or
    nothing. Where somebody here strikes on the beats, drums and basses among them have to tell: chords on the
    off-beats lie on the beat then."""
    told = [
        (name, role, phase.on_beat)
        for name, role, phase in sure_phases(song)
        if phase.on_beat is not None and role not in SLOW
    ]
    between = [
        (name, role)
        for name, role, on_beat in told
        if on_beat <= BETWEEN and _never_between(role, song, show)
    ]
    on_them = [role for _, role, on_beat in told if on_beat >= ON]
    if on_them and not _beating_say_it(on_them, [role for _, role in between]):
        return ()
    return tuple(name for name, _ in between) if len(between) >= 2 else ()


def _beating_say_it(on_them: Sequence[Role], between: Sequence[Role]) -> bool:
    """Whether two roles that mark the beat strike between the beats, and none strikes on them."""
    beating = BEATERS | MARKING
    return beating.isdisjoint(on_them) and len(beating.intersection(between)) >= 2


def _never_between(role: Role, song: SongEvidence, show: ShowEvidence) -> bool:
    elsewhere = [
        [on_beat for one, on_beat in places if one is role]
        for name, places in _on_beats(show)
        if name != song.name
    ]
    known = [min(places) for places in elsewhere if places]
    return len(known) >= NEVER_SONGS and min(known) > BETWEEN


@once_a_show
def _on_beats(show: ShowEvidence) -> list[tuple[str, list[tuple[Role, float]]]]:
    return [
        (
            song.name,
            [(role, phase.on_beat) for _, role, phase in sure_phases(song) if phase.on_beat is not None],
        )
        for song in show.songs
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnotherTempo:
    """ratio: the tempo of the stems over the click's, the nearest that their pulse may be a multiple of."""

    ratio: float
    fit: float  # of the stem that keeps to it best
    on_click: float  # of the same stem
    stems: tuple[str, ...]


def another_tempo(song: SongEvidence) -> AnotherTempo | None:
    """Whether two stems and more share a pulse that is none of the click's."""
    pulses = [
        (stem, stem.alignment.pulse)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.pulse is not None
    ]
    sharing = [(stem, pulse) for stem, pulse in pulses if pulse.fit >= SHARED and pulse.on_click <= OFF_CLICK]
    if len(sharing) < 2 or 2 * len(sharing) <= len(pulses):
        return None
    _, best = max(sharing, key=lambda one: one[1].fit)
    if abs(best.tempo_ratio - 1.0) < SAME:
        return None
    return AnotherTempo(
        ratio=best.tempo_ratio,
        fit=best.fit,
        on_click=best.on_click,
        stems=tuple(stem.name for stem, _ in sharing),
    )
