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

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.holes import FADED, KEPT, LONGEST_S, SHORT_S, Cut, Runs, holes_among
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

MISSING = 0.12
"""What the hole lacks, over the level of the sound, at least; of what an edge keeps see FADED and KEPT."""

JOLT, JOLTED = 30.0, 0.2
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

FADES_DB, FADES_S = 7.0, 0.01
"""Sound that falls by more than this towards the hole, from the 20 ms before its last 10 ms to these, on both
sides, fades out and in: a straight line to zero falls by 11 dB, whatever its length. Own measurement: pads
with 7 to 18 ms of zeros between fades of 100 and 200 ms 8.7 and more on the gentler side; 424 holes cut into
stems (seed 31) 7.0 at most, 99 in 100 below 4.3."""

SETTLED, SETTLING = 0.1, 0.4
"""Of the usual step, from the value to the next sample beside it and to the one after that."""

LINE_HELD, LINE_DB, SOFT_S, SOFT = 0.2, 2.5, 0.00015, 0.1
"""A bass note that falls to zero in a straight line over 15 ms has so little of its level left, has fallen so
much in FALL_S, and the next one begins so softly. Own measurement: of holes of 5 to 20 ms cut into basses and
drums 13 in 800 end such a fall, and the sound behind one of them began softly."""

STAIRS, FEW_STEPS = 0.85, 0.1
"""A sound of stairs: a tenth of its steps from sample to sample is so much of its movement. Crushed or old
sampled sounds stand still between them, and a held value is one stair more. Own measurement: the middle of
stems 0.26, an 8-bit sample played low 0.91 to 0.93."""

WIDE_STEP = 40.0 * 2.0**-15
"""Steps of a bit crusher that is heard as one; dither moves by a few codes of 16 bits."""


MOST = 4096


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
        self._open: _Open | None = None
        self._runs = Runs(max(1, rate_hz // 10))
        self._found: list[Cut] = []
        self._table = np.zeros((0, 0))

    def branch(self) -> DropoutFinder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._runs = Runs(self._runs.bin_frames, self._runs.counts[:])
        other._found = self._found[:]
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
            self._runs.count(begin + first_frame)
        if not self._may_be_a_hole(gap, lasts) or _is_flat_top(value, before, after):
            return
        sides = before.astype(np.float64), after.astype(np.float64)
        if value != 0.0 and all(self._settles(side, value) for side in sides):
            return
        edges = self._cut_edges(sides, gap, value, lasts)
        if edges is None:
            return
        run = wave[max(0, begin) : end]
        equal = bool(run.min() == run.max())
        cut = Cut(begin + first_frame, gap, value, equal, *self._compare(*sides, edges))
        struck_anew = cut.step_db >= STRUCK_DB and self._fall_db(sides[0]) >= LET_GO_DB
        if not struck_anew and not self._fades(sides, value):
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

    def _settles(self, side: Wave, value: float) -> bool:
        """Whether it comes to rest on the value: an old sample of few bits, played slowly, is stairs whose
        corners the interpolation has rounded. What is held breaks off at any slope."""
        usual = _rms(np.diff(side[-round(NEAR_S * self._rate_hz) :]))
        return bool(abs(side[-1] - value) <= SETTLED * usual and abs(side[-2] - value) <= SETTLING * usual)

    def _fall_db(self, side: Wave) -> float:
        """By how much it falls towards the hole."""
        some = round(FALL_S * self._rate_hz)
        return to_db(_rms(side[-2 * some : -some])) - to_db(_rms(side[-some:]))

    def _fades(self, sides: Sides, value: float) -> bool:
        """Whether a fade-out ends before the hole and a fade-in begins behind it."""
        last = round(FADES_S * self._rate_hz)
        levels = [(_rms(side[-3 * last : -last] - value), _rms(side[-last:] - value)) for side in sides]
        return min(to_db(above) - to_db(below) for above, below in levels) > FADES_DB

    def _compare(self, before: Wave, after: Wave, edges: list[Edge]) -> tuple[float, ...]:
        """What Cut says from `level` on. `after` runs backwards."""
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

    def holes(self) -> list[Hole]:
        """The holes that are no part of the sound, in order."""
        return holes_among(self._found, self._runs, rate_hz=self._rate_hz, tolerance=float(self._tolerance))


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
