"""Dropouts: holes of silence, or of one held value, in sound that stops dead and goes on just as suddenly.

    DropoutFinder(rate_hz, bits=…, is_float=…)   .look(wave, start, stop, first_frame), .holes()

Every rest is silence inside sound, so silence alone says nothing. What a dropout has and a rest has not:

* Both its edges are cuts. The sound keeps the level that its own past (after the hole: its own future) lets
  expect right up to the hole, but for a fade of FADE_S at most. What a player, a gate or an envelope ends is
  damped for longer, and what begins after a rest mostly begins softly. The expectation is linear prediction
  by Burg's method: it knows the place in the wave of a low note and the spread of a noise. Where it knows too
  little (low and changing tones), a cut shows by its edge, a jolt that is JOLT times all there is before it.
* It is short, or the sound is the same on both sides: level, spectrum, no attack, no decay.
* It is rare. Gates, chopped voices, tremolo, pulse waves, sample-and-hold make holes all the time, square
  waves and crushed bits make runs of one value all the time: where more lie within a second than faults
  do, they are the sound.

Within "one value": exactly in float and lossy files; ± 2 codes in PCM of 16 bits and more, which is what
dither leaves of silence. Not found: holes filled with noise or with quiet remains of the sound; a fault in
the middle of an effect that makes holes itself.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples
from audit.results import Hole
from audit.units import to_db

Wave = npt.NDArray[np.float64]
Sides = tuple[Wave, Wave]
"""CONTEXT_S of sound before a hole, and after it; that runs backwards."""

Edge = tuple[float, float]
"""What the sound keeps just before a hole of what was expected there; what the hole lacks, over its level."""

SHORTEST_S = 0.001
"""The shortest run of one value that is looked at; the rule's limit lies above."""

LONGEST_S = 1.0
FADE_S = 0.00075
ZONE_S = 0.0015
CONTEXT_S = 0.04
NEAR_S = 0.02
HORIZON_S = 0.003
FLOOR = 1e-3
"""−60 dBFS: sound that stays below it is not looked at."""

LAST, LAST_SHORT = 0.05, 0.02
"""Highest sample of the last millisecond over that of 20: what is below was damped, or a low wave met zero.
Up to SHORT_S, LAST_SHORT will do where a jolt shows that there was a cut."""

FADED = 0.05
KEPT = 0.5
MISSING = 0.12
"""Amplitude just before the hole over what was expected there: below FADED no cut, at one edge KEPT at least.
A fade of 3 ms leaves 0.5, one of 5 ms 0.3; a voice between two pulses of its throat and a bell's beating can
be as low in sound that goes on. MISSING: what the hole lacks, over the level of the sound."""

JOLT, JOLTED, SHORT_S = 30.0, 0.2, 0.03
"""Over the residual's highest in the 20 ms before; asked up to SHORT_S. Where both edges are cuts, by it or
as they are, they count as JOLTED and KEPT at least: too little for sounds that are not alike, as words are
not. Own measurement: sines and saws below 330 Hz that end within 0.75 ms leave 45 and more, in 1 ms and
longer 30 once in a hundred, noise below 1."""

FALL_DB, FALL_S = 10.0, 0.015
"""A release that is cut off at its end leaves a jolt as well. In 15 ms one of 20 ms to −30 dB falls by 14 dB,
nine of ten low waves that were cut, wherever in the wave, by less than 10."""

RELEASE_S, RELEASED = 0.006, 0.3
"""Above SHORT_S, which is a rest in quick music as well, the level is asked of what was known so long
before, too: a release of some milliseconds in a straight line, as samplers choke a drum with, bends what
linear prediction expects. Own measurement: of holes of 35 and 50 ms cut into stems 95 in 100 keep more than
this, of releases of 5, 7 and 10 ms that passed for cuts 38, 64 and 75 in 100 less."""

LET_GO_DB, STRUCK_DB = 5.0, 12.0
"""Sound that falls so much in FALL_S towards the hole and is so much louder after it is one note let go and
another struck: a synth that ends its notes at zero rests for a few ms between two of them."""

LINE_HELD, LINE_DB, SOFT_S, SOFT = 0.2, 2.5, 0.00015, 0.1
"""A bass note that falls to zero in a straight line over 15 ms has so little of its level left, has fallen so
much in FALL_S, and the next one begins so softly. Own measurement: of holes of 5 to 20 ms cut into basses and
drums 13 in 800 end such a fall, and the sound behind one of them began softly."""

TURNS, PULSES = 60.0, 16.0
"""A held value in sound of fewer tolerances (16 bits: −47 dBFS) is the turn of a low wave that dies away.
Where it is zero, and samples of the run differ, fewer than the second (−58 dBFS) are a soft voice between two
pulses of its throat, or its echo. Own measurement: seven of those in four songs at 6 to 10."""

STAIRS, FEW_STEPS = 0.85, 0.1
"""A sound of stairs: a tenth of its steps from sample to sample is so much of its movement. Crushed or old
sampled sounds stand still between them, and a held value is one stair more. Own measurement: the middle of
stems 0.26, an 8-bit sample played low 0.91 to 0.93."""

WIDE_STEP = 40.0 * 2.0**-15
"""Steps of a bit crusher that is heard as one; dither moves by a few codes of 16 bits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a hole up to a certain length must be like: the longer, the more like a rest, the stricter."""

    longest_s: float
    kept: float  # at the softer edge
    louder_db: float  # what starts so much louder than what stopped is an attack
    unlike: float  # residual of one side under the other side's model, over that under its own


BRIEF_S = 0.012
KINDS = (
    Kind(longest_s=BRIEF_S, kept=FADED, louder_db=20.0, unlike=math.inf),
    Kind(longest_s=0.06, kept=KEPT, louder_db=16.0, unlike=math.inf),
    Kind(longest_s=0.03, kept=0.2, louder_db=16.0, unlike=8.0),
    Kind(longest_s=0.06, kept=0.25, louder_db=12.0, unlike=4.0),
    Kind(longest_s=LONGEST_S, kept=0.45, louder_db=6.0, unlike=4.0),
)
STEEPEST_DB = 30.0
"""Sound that rose from nothing within 40 ms of the hole is no sound that a hole could interrupt."""

OTHER_SOUND = 300.0
"""So much worse foretold by the other side, two sounds share nothing: a note that is cut off and another one,
struck a few ms later. Own measurement: two sounds of a synthetic kit 29 000; both sides of 434 holes of 2 to
120 ms cut into stems 51 at most, 95 in 100 below 3."""

SAME_KEPT, SAME_STEP_DB, SAME_UNLIKE = 0.7, 6.0, 1.9
"""What holds for both sides where one sound goes on; words of a voice end and begin otherwise."""

CHOKED, CHOKED_S = 6, 10.0
"""A stem in which so many other runs, hard at both edges and no holes, lie so near has sounds that are choked
dead: one more, longer than SHORT_S, is a rest of the same kind."""

RUNS_A_SECOND = 8
BRIEF_NEARBY, LONGER_NEARBY, NEARBY_S = 8, 2, 1.0
EVEN_S = 0.0005
"""More runs in a second, or more cuts within NEARBY_S, are the sound of the stem; so are three longer ones at
even distances."""

MOST = 4096


@dataclass(frozen=True, slots=True)
class _Cut:
    """A hole between two cuts, and how the sound on both sides compares."""

    at_frame: int
    frames: int
    value: float
    equal: bool  # every sample of it is that value, exactly
    level: float  # RMS of the 20 ms before it
    kept: float  # of the more damped edge
    kept_most: float  # of the other
    step_db: float  # level after over level before
    slope_db: float  # steepest change of level within 40 ms on either side
    unlike: float  # how much worse each side's model foretells the other: 1 for the same sound


@dataclass(slots=True)
class _Open:
    """A run whose end, with the sound after it, is still to come."""

    begin: int
    value: float
    before: Samples


class DropoutFinder:
    """One channel. bits: valid bits of a PCM sample, None for lossy codecs.

    Memory: MOST holes, 2 bytes for each 100 ms, and 40 ms of sound.
    """

    def __init__(self, rate_hz: int, *, bits: int | None, is_float: bool) -> None:
        from audit.measure import dropouts_kernel

        self._kernel = dropouts_kernel
        codes = None if is_float else bits
        wide = codes is not None and codes >= 16
        self._tolerance = np.float32(2.5 * 2.0 ** -(codes - 1) if wide and codes is not None else 0.0)
        self._rate_hz = rate_hz
        self._shortest = max(8, round(SHORTEST_S * rate_hz))
        self._context = round(CONTEXT_S * rate_hz)
        self._bin = max(1, rate_hz // 10)
        self._open: _Open | None = None
        self._runs = array("H")
        self._found: list[_Cut] = []
        self._table = np.zeros((0, 0))

    def branch(self) -> DropoutFinder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._runs, other._found = self._runs[:], self._found[:]
        return other

    def look(self, wave: Samples, start: int, stop: int, first_frame: int) -> None:
        """Runs that begin in wave[start:stop], one channel; wave[0] is frame `first_frame` of the file.

        Needs CONTEXT_S before `start` and after `stop`.
        """
        if self._open is not None:
            start = max(start, self._go_on(wave, first_frame))
        if len(self._table) == 0:
            self._table = np.zeros((len(wave) // self._shortest + 1, self._kernel.COLUMNS))
        rows = self._kernel.find_runs(wave, start, stop, self._shortest, self._tolerance, self._table)
        for begin, end, value, _ in self._table[:rows].tolist():
            before = wave[max(0, int(begin) - self._context) : int(begin)]
            if int(end) + self._context > len(wave):
                self._open = _Open(int(begin) + first_frame, value, before.copy())
            else:
                self._judge(before, wave, int(begin), int(end), value, first_frame)

    def _go_on(self, wave: Samples, first_frame: int) -> int:
        """Where the open run ends; it is judged there, or stays open."""
        run = self._open
        assert run is not None
        begin = run.begin - first_frame
        end = self._kernel.run_end(wave, max(0, begin), np.float32(run.value), self._tolerance)
        if end + self._context > len(wave):
            return len(wave)
        self._open = None
        self._judge(run.before, wave, begin, end, run.value, first_frame)
        return int(end)

    def _judge(
        self, before: Samples, wave: Samples, begin: int, end: int, value: float, first_frame: int
    ) -> None:
        after = wave[end : end + self._context][::-1]
        if len(before) < self._context:
            return
        gap, lasts = end - begin, self._lasts(before, after, value)
        if min(lasts) >= LAST:
            self._count(begin + first_frame)
        if not self._may_be_a_hole(gap, lasts) or _is_flat_top(value, before, after):
            return
        sides = before.astype(np.float64), after.astype(np.float64)
        edges = self._cut_edges(sides, gap, value, lasts)
        if edges is None:
            return
        run = wave[max(0, begin) : end]
        equal = bool(run.min() == run.max())
        cut = _Cut(begin + first_frame, gap, value, equal, *self._compare(*sides, edges))
        if cut.step_db < STRUCK_DB or self._fall_db(sides[0]) < LET_GO_DB:
            self._found.append(cut)

    def _lasts(self, before: Samples, after: Samples, value: float) -> list[float]:
        """Of each side the highest of its last millisecond, over that of the 20 beside the hole."""
        near, short = (round(time_s * self._rate_hz) for time_s in (NEAR_S, 0.001))
        floor = max(FLOOR, 20.0 * float(self._tolerance))
        return [self._kernel.last_of(side[-near:], value, short, floor) for side in (before, after)]

    def _is_short(self, gap: int) -> bool:
        return gap <= SHORT_S * self._rate_hz

    def _may_be_a_hole(self, gap: int, lasts: Sequence[float]) -> bool:
        """Whether sound stops on both sides, for no longer than a hole may last."""
        stops = min(lasts) >= (LAST_SHORT if self._is_short(gap) else LAST)
        return stops and gap <= LONGEST_S * self._rate_hz and len(self._found) < MOST

    def _cut_edges(self, sides: Sides, gap: int, value: float, lasts: Sequence[float]) -> list[Edge] | None:
        """Both edges; None where one of them is no cut, as far as a hole of this length tells."""
        if all(_is_stairs(side, float(self._tolerance)) for side in sides):
            return None
        fade, zone, horizon = (round(time_s * self._rate_hz) for time_s in (FADE_S, ZONE_S, HORIZON_S))
        edges = [self._kernel.edge(side, value, gap, fade, zone, horizon) for side in sides]
        if min(missing for _, missing in edges) < MISSING:
            return None
        if self._is_short(gap):
            edges = self._with_jolts(sides, value, lasts, edges)
            if not edges or self._is_next_note(*sides, value):
                return None
        elif self._held(sides[0], value) < RELEASED:
            return None
        return edges if min(kept for kept, _ in edges) >= FADED else None

    def _with_jolts(
        self, sides: Sides, value: float, lasts: Sequence[float], edges: list[Edge]
    ) -> list[Edge]:
        """The edges, raised where both are cuts by themselves or by a jolt; none where a side dies away
        without one."""
        fade, near = (round(time_s * self._rate_hz) for time_s in (FADE_S, NEAR_S))
        jolts = [
            self._kernel.jolt(side, value, fade, near) >= JOLT and self._fall_db(side) <= FALL_DB
            for side in sides
        ]
        if not all(jolt or last >= LAST for jolt, last in zip(jolts, lasts, strict=True)):
            return []
        if not all(kept >= KEPT or jolt for jolt, (kept, _) in zip(jolts, edges, strict=True)):
            return edges
        (low, some), (high, more) = sorted(edges)
        return [(max(low, JOLTED), some), (max(high, KEPT), more)]

    def _held(self, before: Wave, value: float) -> float:
        """How much of its level the sound keeps, by what was known of it before a release would begin."""
        fade, zone, lead = (round(time_s * self._rate_hz) for time_s in (FADE_S, ZONE_S, RELEASE_S))
        kept, _ = self._kernel.edge(before, value, 0, fade, zone, 0, lead)
        return float(kept)

    def _is_next_note(self, before: Wave, after: Wave, value: float) -> bool:
        """Whether a note was let go in a straight line, as sequenced basses are, and another begins at its
        zero. `after` runs backwards."""
        soft, near = (round(time_s * self._rate_hz) for time_s in (SOFT_S, NEAR_S))
        return bool(
            _rms(after[-soft:]) <= SOFT * _rms(after[-near:])
            and self._fall_db(before) >= LINE_DB
            and self._held(before, value) < LINE_HELD
        )

    def _fall_db(self, side: Wave) -> float:
        """By how much it falls towards the hole."""
        some = round(FALL_S * self._rate_hz)
        return to_db(_rms(side[-2 * some : -some])) - to_db(_rms(side[-some:]))

    def _compare(self, before: Wave, after: Wave, edges: list[Edge]) -> tuple[float, ...]:
        """What _Cut says from `level` on. `after` runs backwards."""
        near = round(NEAR_S * self._rate_hz)
        level, next_level = _rms(before[-near:]), _rms(after[-near:])
        slopes_db = [to_db(_rms(side[-near:])) - to_db(_rms(side[:near])) for side in (before, after)]
        forward = after[::-1].copy()
        unlike = max(self._kernel.likeness(before, forward), self._kernel.likeness(forward, before))
        kept = sorted(kept for kept, _ in edges)
        return (
            float(level), kept[0], kept[1], to_db(next_level) - to_db(level),
            max(abs(slope) for slope in slopes_db), float(unlike),
        )  # fmt: skip

    def _count(self, frame: int) -> None:
        place = max(0, frame // self._bin)
        if place >= len(self._runs):
            self._runs.extend([0] * (place + 1 - len(self._runs)))
        self._runs[place] = min(self._runs[place] + 1, 65_535)

    def holes(self) -> list[Hole]:
        """The holes that are no part of the sound, in order."""
        rate_hz = self._rate_hz
        brief = [cut for cut in self._found if cut.frames <= BRIEF_S * rate_hz]
        longer = [cut for cut in self._found if cut.frames > BRIEF_S * rate_hz]
        even = evenly_spaced([cut.at_frame for cut in longer], round(EVEN_S * rate_hz))
        told = [cut for cut in brief if self._is_fault(cut) and self._alone(cut, brief, BRIEF_NEARBY)]
        told += [
            cut
            for cut, regular in zip(longer, even, strict=True)
            if not regular and self._is_fault(cut) and self._alone(cut, longer, LONGER_NEARBY)
        ]
        return [
            Hole(
                at_frame=cut.at_frame, frames=cut.frames, value=cut.value, level_dbfs=to_db(cut.level),
                same_sound=_is_same_sound(cut),
            )
            for cut in sorted(told, key=lambda cut: cut.at_frame)
            if self._is_short(cut.frames) or not self._is_choked(cut, told)
        ]  # fmt: skip

    def _is_fault(self, cut: _Cut) -> bool:
        # The turn of a wave this small stays within the tolerance for as long as a hole lasts.
        turns = TURNS if cut.value != 0.0 else 0.0 if cut.equal else PULSES
        if cut.level < turns * self._tolerance or cut.unlike > OTHER_SOUND:
            return False
        return any(
            cut.frames <= kind.longest_s * self._rate_hz
            and cut.kept >= kind.kept
            and cut.kept_most >= KEPT
            and cut.step_db <= kind.louder_db
            and cut.slope_db <= STEEPEST_DB
            and cut.unlike <= kind.unlike
            for kind in KINDS
        )

    def _alone(self, cut: _Cut, others: list[_Cut], most: int) -> bool:
        place, near = cut.at_frame // self._bin, NEARBY_S * self._rate_hz
        runs = sum(self._runs[max(0, place - 5) : place + 6])
        return (
            runs <= RUNS_A_SECOND
            and sum(abs(other.at_frame - cut.at_frame) <= near for other in others) <= most
        )

    def _is_choked(self, cut: _Cut, told: Sequence[_Cut]) -> bool:
        place, reach = cut.at_frame // self._bin, round(CHOKED_S * self._rate_hz) // self._bin
        runs = sum(self._runs[max(0, place - reach) : place + reach + 1])
        holes = sum(abs(one.at_frame // self._bin - place) <= reach for one in told)
        return runs - holes >= CHOKED


def _is_same_sound(cut: _Cut) -> bool:
    kept = cut.kept >= SAME_KEPT and cut.unlike <= SAME_UNLIKE
    return kept and abs(cut.step_db) <= SAME_STEP_DB


def evenly_spaced(frames: list[int], slack: int) -> list[bool]:
    """For each place whether it is one of three neighbours with the same distance between them."""
    even = [False] * len(frames)
    for i in range(2, len(frames)):
        if abs(frames[i] - 2 * frames[i - 1] + frames[i - 2]) <= slack:
            even[i - 2 : i + 1] = [True] * 3
    return even


def _is_flat_top(value: float, before: Samples, after: Samples) -> bool:
    """Of something clipped."""
    return value != 0.0 and bool(abs(value) >= 0.98 * max(np.abs(before).max(), np.abs(after).max()))


def _is_stairs(wave: Wave, tolerance: float) -> bool:
    """Whether few steps make up all that moves; or it stands still most of the time, but for dither, and
    moves by wide steps alone."""
    steps = np.sort(np.abs(np.diff(wave)))
    stands = steps <= 2.0 * tolerance
    if 2 * np.count_nonzero(stands) >= len(steps) and not (steps[~stands] < WIDE_STEP).any():
        return True
    most = steps[-max(1, round(FEW_STEPS * len(steps))) :]
    return float(most.sum()) > STAIRS * float(steps.sum())


def _rms(wave: Wave) -> float:
    return float(np.sqrt(np.mean(wave**2)))
