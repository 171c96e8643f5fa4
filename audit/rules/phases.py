"""The stems of a song whose place within the beat is sure, and which roles mark the beat or are slow.

sure_phases(song) -> [(stem, role, Phase)]
"""

from __future__ import annotations

from collections.abc import Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.results import Phase
from audit.rules.once import once_a_show

MARKING = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP})
"""Roles that mark the beat."""

SLOW = frozenset({
    Role.PAD, Role.STRINGS, Role.BRASS, Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR, Role.WOODWIND,
    Role.EFFECTS, Role.FULL_MIX, Role.OTHER,
})  # fmt: skip
"""Roles that swell, breathe, or hold anything."""

TUNES = frozenset({Role.LEAD_VOCAL, Role.WOODWIND})
"""Roles of one tone at a time, and few of them: such a line fits the band's chords in many places."""

HABIT_ONSETS, HABIT_CONFIDENCE = 20, 0.5

ELSEWHERE_MS = 40.0
"""What two stems say of the way between them differs by no more, if both mean the same strokes."""

Placed = tuple[str, Role, Phase]
"""A stem's name, role and phase."""


def sure_phases(song: SongEvidence) -> list[Placed]:
    """The stems whose place is sure."""
    placed = [
        (stem.name, stem.role, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None
    ]
    denied = said_elsewhere(placed)
    return [one for one in placed if is_sure(one[2]) and one[0] not in denied]


def said_elsewhere(placed: Sequence[Placed]) -> frozenset[str]:
    """The stems that more others say lie elsewhere than share strokes with them by their own word: their
    place is a part of the beat away from where it was read."""
    found = set()
    for name, _, phase in placed:
        said_ms = [
            other.click_ms - way.lag_ms for _, _, other in placed for way in other.against if way.stem == name
        ]
        elsewhere = [place_ms for place_ms in said_ms if abs(place_ms - phase.click_ms) > ELSEWHERE_MS]
        if len(elsewhere) >= 2 and len(elsewhere) > max(len(phase.against), len(said_ms) - len(elsewhere)):
            found.add(name)
    return frozenset(found)


def is_sure(phase: Phase) -> bool:
    """Whether enough of its onsets fit."""
    return phase.onsets >= HABIT_ONSETS and phase.confidence >= HABIT_CONFIDENCE


@once_a_show
def sure_phases_by_song(show: ShowEvidence) -> list[tuple[str, list[Placed]]]:
    """The same of every song, with its name."""
    return [(song.name, sure_phases(song)) for song in show.songs]
