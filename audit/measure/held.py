"""Samples that hold one value for a moment: an output that ran dry, shorter than what `dropouts` looks at.

    HeldFinder(rate_hz, bits=…, is_float=…)   .look(wave, start, stop, first_frame), .clicks()

That some samples are exactly equal is no chance where the sound cannot be foretold to several codes: there
even two are seldom. So a run of FEWEST samples up to LONGEST_S is one if

* linear prediction (order 24, 20 ms on either side) leaves many codes on both sides, UNREST and more: so many
  that CHANCE would make such a run, and one of its ends moves by UNREST too. Where the least step is met
  again and again it is a code, as in 16 bits within 24, turned down or not. Or, in soft sound: samples that
  are not silence end by a step LEAP times as large as any on either side, where the sound makes up for what
  it missed;
* next to nothing else stands still there: crushed, held and old sampled sounds do all the time, square waves
  and pulses most of the time;
* it is no flat top of something clipped, and lets something be heard: it ends by a jump, or lies off the
  middle of the sound, no fainter than SMALLEST_DB under it;
* the sound goes on at both edges, about as loud; about silence it is the same sound;
* it is rare: more than NEARBY in NEARBY_S, or three at even distances, are the sound of the stem.

Not found: a value that was held before the file was dithered or resampled, and one at the top of a low wave,
where the sound itself hardly moves.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass

import numpy as np

from audit.measure.holes import evenly_spaced
from audit.measure.samples import Samples
from audit.results import SpliceClick
from audit.units import to_db

FEWEST, LONGEST_S = 8, 0.002
"""From the rule's shortest hole on, it is one. A fuzz near its top stands still for up to seven samples."""

SPAN_S, EDGE_S, ORDER = 0.02, 0.001, 24
UNREST, CHANCE = 8.0, 1e-12
"""Of a sound whose next sample has the standard deviation s, in codes, about what is foretold, one sample is
equal to the last with a probability of 1/(s·√2π) at most; n equal ones take n − 1 such."""

LEAP, LEAP_CODES = 3.0, 64.0

STILL = 0.02
"""Of the steps of 20 ms on either side, so many may be none at all."""

MET_AGAIN = 4
"""Steps within half of the least one, zeros among them: of a wave without steps it is one or two."""

DITHER, STAIR = 2.5, 8.0
"""Codes that dither moves a sample by; and those from which on what is left are the stairs of fewer bits that
were turned up before it: quiet sound of 16 bits, made 50 dB louder."""

CLIPPED = 0.98
SMALLEST_DB, FAINTEST_DBFS = -32.0, -70.0
"""Of the jump at the end, under the RMS of the sound around: as of other clicks (`splices`)."""

EDGE, RISE_DB = 0.1, 12.0
SILENT_RISE_DB, SILENT_UNLIKE = 6.0, 4.0
"""Between two struck samples a sequencer leaves silence as short as this: that asks for the same sound on
both sides, as of the longest of `dropouts`."""

NEARBY, NEARBY_S, EVEN_S = 4, 5.0, 0.0005
MOST, MOST_AT_ONCE = 4096, 64
"""More in one chunk of less than a second are the sound of the stem."""


@dataclass(frozen=True, slots=True)
class _Run:
    at_frame: int
    frames: int
    size: float
    above_db: float


class HeldFinder:
    """One channel. bits: valid bits of a PCM sample, None for lossy codecs. Memory: MOST places."""

    def __init__(self, rate_hz: int, *, bits: int | None, is_float: bool) -> None:
        from audit.measure import dropouts_kernel, prediction_kernel

        self._kernel, self._models = dropouts_kernel, prediction_kernel
        self._rate_hz = rate_hz
        self._code = 2.0 ** -(bits - 1) if bits and not is_float else 2.0**-23
        self._span, self._edge = round(SPAN_S * rate_hz), round(EDGE_S * rate_hz)
        self._longest = round(LONGEST_S * rate_hz)
        self._found: list[_Run] = []
        self._table = np.zeros((MOST_AT_ONCE, self._kernel.COLUMNS))

    def branch(self) -> HeldFinder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._found = self._found[:]
        return other

    def look(self, wave: Samples, start: int, stop: int, first_frame: int) -> None:
        """Runs that begin in wave[start:stop], one channel; wave[0] is frame `first_frame` of the file.

        Needs SPAN_S before `start`, and as much and LONGEST_S after `stop`.
        """
        limits = (self._longest, self._span, STILL, UNREST * self._code, LEAP)
        rows = self._kernel.find_held(wave, start, stop, FEWEST, limits, self._table)
        for begin, end, *_ in self._table[:rows].tolist():
            if len(self._found) < MOST and int(begin) + first_frame >= self._span:
                self._judge(wave[int(begin) - self._span : int(end) + self._span], int(begin + first_frame))

    def _judge(self, piece: Samples, at_frame: int) -> None:
        """piece: the run with the sound before and after it."""
        wave = piece.astype(np.float64)
        before, after, value = wave[: self._span], wave[-self._span :], wave[self._span]
        if value != 0.0 and abs(value) >= CLIPPED * (np.sign(value) * np.concatenate((before, after))).max():
            return
        levels = [_rms(side) for side in (before, after)]
        edges = [_rms(side) for side in (before[-self._edge :], after[: self._edge])]
        unrest = min(self._unforetold(side) for side in (before, after))
        code = max(self._code, _step_of(before, after), _stair_of(self._code, before, after))
        size = max(abs(after[0] - value), abs(value - wave.mean()))
        frames, jump = len(piece) - 2 * self._span, abs(after[0] - value)
        steps = max(np.abs(np.diff(side)).max() for side in (before, after))
        leaps = value != 0.0 and jump >= LEAP * max(steps, abs(value - before[-1]))
        # What held still in a restless sound ends by a jump; a plateau of a wave with sharp edges does not.
        ends = max(jump, abs(value - before[-1]))
        restless = unrest >= code * _least_unrest(frames) and ends >= UNREST * code
        if (
            (restless or (leaps and jump >= LEAP_CODES * code))
            and min(edges) >= EDGE * max(levels)
            and abs(to_db(levels[1]) - to_db(levels[0])) <= (RISE_DB if value else SILENT_RISE_DB)
            and (value != 0.0 or self._unlike(before, after) <= SILENT_UNLIKE)
            and to_db(size) >= max(to_db(max(levels)) + SMALLEST_DB, FAINTEST_DBFS)
        ):
            above_db = to_db(unrest / (0.5 * code) if restless else jump / max(unrest, code))
            self._found.append(_Run(at_frame, frames, size, above_db))

    def _unforetold(self, side: np.ndarray) -> float:
        models = self._models
        return float(models.middle(models.residual(side, models.windowed_model(side, ORDER))))

    def _unlike(self, before: np.ndarray, after: np.ndarray) -> float:
        likeness = self._kernel.likeness
        return float(max(likeness(before, after), likeness(after, before)))

    def clicks(self) -> list[SpliceClick]:
        """The runs that are no part of the sound, in order."""
        frames = np.array([run.at_frame for run in self._found])
        even = evenly_spaced(frames.tolist(), round(EVEN_S * self._rate_hz))
        near = NEARBY_S * self._rate_hz
        return [
            SpliceClick(
                at_frame=run.at_frame,
                size_dbfs=to_db(run.size),
                above_db=run.above_db,
                held_frames=run.frames,
            )
            for run, regular in zip(self._found, even, strict=True)
            if not regular and np.count_nonzero(np.abs(frames - run.at_frame) <= near) <= NEARBY
        ]


def _least_unrest(frames: int) -> float:
    """Codes, for a run of so many samples."""
    return max(UNREST, math.pow(CHANCE, -1.0 / (frames - 1)) / math.sqrt(2.0 * math.pi))


def _step_of(*sides: np.ndarray) -> float:
    """What samples are whole multiples of, if it shows: the least step between neighbours is met again, or
    they stand still. 0.0 where it is but the least of many."""
    steps = np.abs(np.concatenate([np.diff(side) for side in sides]))
    least = float(steps[steps > 0.0].min(initial=1.0))
    return least if np.count_nonzero(steps <= 1.5 * least) >= MET_AGAIN else 0.0


def _stair_of(code: float, *sides: np.ndarray) -> float:
    """The height of stairs under dither: many neighbours differ by dither alone, and nobody by less than a
    stair that is met again and again. 0.0 where there are none."""
    steps = np.abs(np.concatenate([np.diff(side) for side in sides]))
    moves = steps > DITHER * code
    least = float(steps[moves].min(initial=1.0))
    met = np.count_nonzero(np.abs(steps - least) <= DITHER * code)
    stands = np.count_nonzero(~moves) >= STILL * len(steps)
    return least if stands and least >= STAIR * code and met >= MET_AGAIN else 0.0


def _rms(wave: np.ndarray) -> float:
    return float(np.sqrt(np.mean(wave**2)))
