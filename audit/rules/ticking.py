"""Stems that tick with the click before anything else sounds: a loudspeaker or headphones in a room, whose
sound is no longer the click's own.

    ticks_alone(stem, song) -> Ticks | None

The click's wave is searched for by itself (`measure/leak.py`). What reaches a microphone by way of a room is
another wave, and not found so where the room is louder than the straight way; but nobody plays the count-in
to the millisecond, from its first beat on, with the click's own accents, far below what the stem plays later.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from statistics import median

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import ClickTrack, Envelope, Onsets
from audit.rules.parts import sounding_parts
from audit.rules.phases import MARKING

FEWEST, UP_TO = 4, 16
"""Beats of the count-in that it has to tick with, all of them; more tell no more."""

EARLY_MS, LATE_MS, EXACT_MS = -3.0, 40.0, 3.0
"""Where a tick may lie from its beat (14 m of air), and by how much from the middle of them. Own measurement:
through rooms ticks differ by 1 ms, hands by 5 and more."""

UNDER_DB = 12.0
"""So far below its own loudest sample: who plays on every beat of the count-in is about as loud later."""

ACCENTS_DB = 1.5
"""By so much the ticks on the click's accents are louder."""

OTHERS = 0.1
"""Strokes beside the beats, of those with them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticks:
    """beats: how many it ticks with; level_dbfs: their peaks, in the middle; late_ms: after the click."""

    beats: int
    first_s: float
    level_dbfs: float
    late_ms: float


def ticks_alone(stem: StemEvidence, song: SongEvidence) -> Ticks | None:
    """Of a stem that the audience hears and that does not mark the beat; None where it does not tick, or the
    song has no count-in of so many beats, or no accents in it."""
    click, parts = song.click, sounding_parts(stem)
    if click is None or len(parts) != 1 or not parts[0].audience or stem.role in MARKING:
        return None
    measures = parts[0].measures
    if stem.role is Role.PERCUSSION or measures.onsets is None or measures.envelope is None:
        return None
    beats_s, accents = _count_in(click)
    lags_ms = _lags_ms(measures.onsets, beats_s)
    if len(beats_s) < FEWEST or len(lags_ms) < len(beats_s):
        return None
    middle_ms = median(lags_ms)
    if not EARLY_MS <= middle_ms <= LATE_MS or max(abs(lag - middle_ms) for lag in lags_ms) > EXACT_MS:
        return None
    levels = [_peak_dbfs(measures.envelope, beat_s + middle_ms / 1000.0) for beat_s in beats_s]
    level_dbfs = median(levels)
    if max(levels) > measures.peaks.sample_dbfs - UNDER_DB or not _accented(levels, accents):
        return None
    if _strokes_beside(measures.onsets, beats_s) > OTHERS * len(beats_s):
        return None
    return Ticks(beats=len(beats_s), first_s=beats_s[0], level_dbfs=level_dbfs, late_ms=middle_ms)


def _count_in(click: ClickTrack) -> tuple[list[float], list[bool]]:
    """The beats before the music, and which of them are accents."""
    music_s = click.music_s if click.music_s is not None else 0.0
    count = min(bisect_left(click.beats_s, music_s - 0.02), UP_TO)
    return list(click.beats_s[:count]), list(click.accents[:count])


def _lags_ms(onsets: Onsets, beats_s: list[float]) -> list[float]:
    """How far after each beat a stroke lies, where one does."""
    lags = []
    for beat_s in beats_s:
        near = bisect_left(onsets.times_s, beat_s + EARLY_MS / 1000.0)
        if near < len(onsets.times_s) and onsets.times_s[near] <= beat_s + LATE_MS / 1000.0:
            lags.append(1000.0 * (onsets.times_s[near] - beat_s))
    return lags


def _strokes_beside(onsets: Onsets, beats_s: list[float]) -> int:
    """Strokes between the first beat and the last that are none of the ticks."""
    first = bisect_left(onsets.times_s, beats_s[0] + EARLY_MS / 1000.0)
    last = bisect_left(onsets.times_s, beats_s[-1] + LATE_MS / 1000.0)
    return last - first - len(beats_s)


def _peak_dbfs(envelope: Envelope, at_s: float) -> float:
    peak = envelope.peak_dbfs(at_s, at_s + envelope.bin_s)
    return -120.0 if peak is None else peak


def _accented(levels: list[float], accents: list[bool]) -> bool:
    """Whether the ticks are louder where the click is accented; False where it is nowhere, or everywhere."""
    on = [level for level, accent in zip(levels, accents, strict=True) if accent]
    off = [level for level, accent in zip(levels, accents, strict=True) if not accent]
    return bool(on and off) and median(on) >= median(off) + ACCENTS_DB
