"""Where a stem lies by its harmony and its strokes together: what tells half and quarter beats.

    lies_beside(stem, song, show, limit) -> Lies | None    beside where its role's harmony lies elsewhere
    by_both(phase, off_ms, lies)         -> the lag of its strokes that its harmony means, or None

Strokes look the same half a beat on; what sounds, and where it changes, does not. A bass, keys or guitar lie
with the band in every song, so a place half a beat beside that is told apart from none. Harmony is exact to a
tenth of a beat, strokes to milliseconds: of the lags at which these meet the others', it names one.
"""

from __future__ import annotations

from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.results import Phase
from audit.rules.bars import USUAL_BEAT_S, beat_s
from audit.rules.beat_habits import STRUCK, leaves_the_place_to_another, usual_place
from audit.rules.phases import MARKING
from audit.rules.rule import Limit

FIT, OF_USUAL = 0.1, 0.4
"""Least fit at the top, and of how well the song's other stems fit one another."""

AGREES, WITHOUT_ONE = 0.15, 0.35
"""Beats: the two halves of the song, and what others say each by itself, lie no farther from it, nor does
what they say without any one of them."""

SAME_MS = 25.0
"""Lags nearer to each other are one."""

SPREAD, MEETS = 0.06, 3.0
"""What a place by harmony is uncertain by, in beats, and how much it counts that strokes meet nobody's there.
Own measurement (demo, corpus, 12 long songs, 11 songs that people play; basses, guitars, keys with a clear
place): of 377 moved by 10, 20 and 50 ms 359 are told right, of 373 moved by 250 ms, a quarter or half a beat
354."""

SURELY = 1.0

NEXT_TO = 0.15
"""Beats: farther from every lag the harmony means none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lies:
    """Past its role's usual place; positive = late."""

    off_ms: float
    beside_ms: float  # beside the others, whatever is usual
    spread_ms: float  # what the usual place is uncertain by
    beat_ms: float
    fit: float
    another_there: bool  # another stem of its role lies where the role does: this may be its echo, or answer
    saying_so: tuple[str, ...]  # other stems against each of which it lies there, two and more
    as_usual: int  # against which it lies as usual


def lies_beside(stem: StemEvidence, song: SongEvidence, show: ShowEvidence, limit: Limit) -> Lies | None:
    """None where its harmony has no clear place. limit: of shifted-by-beats."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    if beats is None or beats.place is None or stem.role not in STRUCK:
        return None
    place = beats.place
    if place.fit < max(FIT, OF_USUAL * beats.usual) or beats.usual < limit["company"]:
        return None
    if any(abs(one - place.at_beats) > AGREES for one in place.halves_beats):
        return None
    if abs(place.without_one_beats - place.at_beats) > WITHOUT_ONE:
        return None
    harmonic = {one.name for one in song.stems if one.role not in MARKING}
    by_stem = [(name, at) for name, at in place.by_stem if name in harmonic]
    so = tuple(name for name, at in by_stem if abs(at - place.at_beats) <= AGREES)
    habit = usual_place(show, stem.role, limit, without=song.name)
    if habit is None or len(so) < 2:
        return None
    length_s = beat_s(song.click) or USUAL_BEAT_S
    usual = habit.usual_s / length_s
    return Lies(
        off_ms=1000.0 * (place.at_beats * length_s - habit.usual_s),
        beside_ms=1000.0 * place.at_beats * length_s,
        spread_ms=1000.0 * habit.spread_s,
        beat_ms=1000.0 * length_s,
        fit=place.fit,
        another_there=leaves_the_place_to_another(stem, song, show, usual, limit),
        saying_so=so,
        as_usual=sum(abs(at - usual) <= AGREES for _, at in by_stem),
    )


def by_both(phase: Phase, off_ms: float, lies: Lies, *, surely: float = SURELY) -> float | None:
    """How far off it is, ms past its habit: `off_ms` itself or another lag that its strokes allow.

    off_ms: as the strokes say it within the beat. surely: natural logarithm of how much likelier it has to be
    than the next likely lag.
    """
    past = off_ms - phase.offset_ms
    here = max((one.height for one in phase.lags if abs(one.lag_ms - phase.offset_ms) < SAME_MS), default=0.0)
    places = [(off_ms, here)]
    places += [
        (one.lag_ms + past, one.height) for one in phase.lags if abs(one.lag_ms - phase.offset_ms) >= SAME_MS
    ]
    places += [
        (half_ms + past, 0.0)
        for half_ms in (phase.half_later_ms, phase.half_earlier_ms)
        if half_ms is not None and all(abs(half_ms + past - ms) >= SAME_MS for ms, _ in places)
    ]
    most = max(height for _, height in places) or 1.0

    def against(place: tuple[float, float]) -> float:
        apart = (place[0] - lies.off_ms) / lies.beat_ms
        return 0.5 * (apart / SPREAD) ** 2 + MEETS * (1.0 - place[1] / most)

    best, *others = sorted(places, key=against)
    near = abs(best[0] - lies.off_ms) <= NEXT_TO * lies.beat_ms
    return best[0] if near and all(against(one) - against(best) >= surely for one in others[:1]) else None
