"""The stems of a song whose place within the beat is sure, and which roles mark the beat or are slow.

sure_phases(song) -> [(stem, role, Phase)]
"""

from __future__ import annotations

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

HABIT_ONSETS, HABIT_CONFIDENCE = 20, 0.5

Placed = tuple[str, Role, Phase]
"""A stem's name, role and phase."""


def sure_phases(song: SongEvidence) -> list[Placed]:
    """The stems whose place is sure."""
    return [
        (stem.name, stem.role, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None and is_sure(stem.alignment.phase)
    ]


def is_sure(phase: Phase) -> bool:
    """Whether enough of its onsets fit."""
    return phase.onsets >= HABIT_ONSETS and phase.confidence >= HABIT_CONFIDENCE


@once_a_show
def sure_phases_by_song(show: ShowEvidence) -> list[tuple[str, list[Placed]]]:
    """The same of every song, with its name."""
    return [(song.name, sure_phases(song)) for song in show.songs]
