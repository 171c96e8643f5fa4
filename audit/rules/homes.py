"""Which song a stem belongs to, by its hits beside a click and by its chords beside other stems.

    home_of(stem, limit, own, …) -> the song that it belongs to, None where it may well be at home
    rhythm_there, chords_there, changes_there(home, there, limit) -> whether that speaks for the other song
    margin(stem, other) -> by how much it fits better there

The limits are those of foreign-stem (`foreign.py`), whose text says what each asks.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from types import MappingProxyType

from audit.evidence import StemEvidence
from audit.results import Elsewhere, KeyFit, RhythmFit
from audit.rules.rule import Limit

NOWHERE: Mapping[str, KeyFit | None] = MappingProxyType({})

LINE = 1.7
"""Fewer classes at once than this are a line: its harmony alone moves no stem to another song."""


def home_of(
    stem: StemEvidence,
    limit: Limit,
    own: Collection[str] = (),
    copied_in: Mapping[str, KeyFit | None] = NOWHERE,
    *,
    by_click: bool = True,
    bare: Collection[str] = (),
) -> Elsewhere | None:
    """The song that it belongs to, if it is not this one (own: its names); None where it may well be at home.
    copied_in: songs that hold a copy of it, and how that goes with the stems there: it would go with itself
    best of all, so its own harmony says nothing of them. by_click: whether the song's own click tells where
    its stems should lie. bare: songs with too little music for their click to be a home.

    Rhythm or harmony has to speak for the other song, by a wide margin, in both halves of the stem, and the
    other of the two must not speak for this one.
    """
    candidates = [
        there
        for other in stem.elsewhere
        if other.song not in own
        and (there := _beside_a_copy(stem, other, limit, copied_in, by_click)) is not None
        and _belongs(stem, there, limit, by_click, bare=other.song in bare and other.copy is None)
    ]
    return max(candidates, key=lambda other: margin(stem, other), default=None)


def _beside_a_copy(
    stem: StemEvidence,
    other: Elsewhere,
    limit: Limit,
    copied_in: Mapping[str, KeyFit | None],
    by_click: bool,
) -> Elsewhere | None:
    """How it goes with a song that may hold a copy of it: as that copy does; None where nothing tells."""
    if other.song not in copied_in:
        return other
    fit = copied_in[other.song]
    if fit is not None:
        return replace(other, key=fit)
    return other if by_click and rhythm_there(stem.rhythm, other.rhythm, limit) else None


def _belongs(stem: StemEvidence, other: Elsewhere, limit: Limit, by_click: bool, *, bare: bool) -> bool:
    rhythm = by_click and rhythm_there(stem.rhythm, other.rhythm, limit)
    if changes_there(stem.key, other.key, limit):
        return True
    chords = chords_there(stem.key, other.key, limit)
    if rhythm and chords:
        return True
    if rhythm and not bare:
        return not _at_home(stem.key, other.key, limit)
    if chords and stem.key is not None and other.key is not None and stem.key.voices >= LINE:
        # A transposed stem of this song may fit a song in that key: then the turn explains it better.
        turned = stem.key.fit_turned >= other.key.fit_as_is - 0.1
        kept_time = stem.rhythm is not None and stem.rhythm.fit >= limit["rhythm"]
        there_too = other.rhythm is not None and other.rhythm.fit >= limit["rhythm"]
        return not turned and (not kept_time or there_too)
    return False


def rhythm_there(home: RhythmFit | None, there: RhythmFit | None, limit: Limit) -> bool:
    if home is None or there is None:
        return False
    good = min(there.fit, there.first_half, there.second_half) >= limit["rhythm"]
    return good and home.fit <= limit["poor_rhythm"] and there.fit - home.fit >= limit.value


def chords_there(home: KeyFit | None, there: KeyFit | None, limit: Limit) -> bool:
    if home is None or there is None or there.fit_as_is < limit["harmony"] or _unsure(home, limit):
        return False
    halves = ((home.first_half_fit, there.first_half_fit), (home.second_half_fit, there.second_half_fit))
    steady = all(now - was >= 0.5 * limit.value for was, now in halves)
    bad = home.fit_as_is <= limit["poor_harmony"]
    return steady and bad and there.fit_as_is - home.fit_as_is >= limit.value


def _unsure(home: KeyFit, limit: Limit) -> bool:
    """One other stem alone, a tune maybe, has to differ clearly."""
    return home.others < 2 and home.fit_as_is > limit["alone"]


def changes_there(home: KeyFit | None, there: KeyFit | None, limit: Limit) -> bool:
    """Whether its tones come and go with that song's chords, and not with this one's in any key."""
    if home is None or there is None or _unsure(home, limit):
        return False
    halves = min(
        there.first_half_changes - home.first_half_changes,
        there.second_half_changes - home.second_half_changes,
    )
    good, bad = there.changes_as_is >= limit["changes"], home.changes_as_is <= limit["poor_changes"]
    # A transposed stem of this song may fit a song in that key: then the turn explains it as well.
    better = there.changes_as_is - home.changes_turned >= 0.5 * limit["changes"]
    fits = there.fit_as_is > home.fit_as_is
    return good and bad and better and fits and halves >= 0.5 * limit["changes"]


def _at_home(home: KeyFit | None, there: KeyFit | None, limit: Limit) -> bool:
    """Whether its harmony speaks for its own song."""
    if home is None or home.fit_as_is <= limit["poor_harmony"]:
        return False
    return there is None or there.fit_as_is < home.fit_as_is


def margin(stem: StemEvidence, other: Elsewhere) -> float:
    rhythm = other.rhythm.fit - stem.rhythm.fit if stem.rhythm and other.rhythm else 0.0
    chords = other.key.fit_as_is - stem.key.fit_as_is if stem.key and other.key else 0.0
    changes = other.key.changes_as_is - stem.key.changes_as_is if stem.key and other.key else 0.0
    return rhythm + chords + changes
