"""Splice clicks: a wrong sample, a jump, a join where samples are missing.

    SpliceFinder(rate_hz, bits=…, is_float=…)   .look(wave, start, stop, first_frame), .clicks()

A coarse test over hops of 64 samples looks for a third difference that stands out of all within some 20 ms;
few places pass. There, models by linear prediction (order 24, 20 ms before and 20 ms after) tell what the
sound can make. A click is

* a surprise: the model's residual rises SCORE times above its own robust spread, on both sides;
* alone: nothing within 20 ms surprises half as much. A voice's pulses, the edges of a square or a saw are
  many;
* one or two samples wide: up to three wrong samples, or one jump, explain the whole burst of the residual
  (EXPLAINED). A model's answer to a wrong sample is known, so this is a matched filter. A struck, plucked or
  blown note brings new sound with every sample that follows, and is explained neither way;
* no smaller than a twelfth of the largest step that the sound itself makes within 2 ms: what is, nobody
  hears, and the noise of strokes holds the like;
* followed by nothing: the sound after it is as loud, within RISE_DB, as the sound before (but for the level
  that a jump moves to);
* rare: more than NEARBY within NEARBY_S, or three at even distances, are crackle, glitches, notes without
  an attack: the sound of the stem;
* no stroke's: a sampler's own sample may begin with a wrong sample. Where STROKES others of the stem and more
  are alike in size and score, and it gets louder after RISING of them all, as it does where a note begins,
  they are the sound. After a fault it gets louder by chance.

Of each click is told whether a sample within 5 ms stands at full scale: the corners that clipping leaves are
clicks too.

What lies under bright noise is looked for once more below it (`low_clicks`) and above it (`high_clicks`).

Missing samples leave a jump in value; where both ends happen to meet (an edit at a zero crossing) nothing is
to be heard, and nothing is found. Not found either: jumps under bright, loud noise (cymbals, hiss), clicks
that were filtered, resampled or coded afterwards.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from audit.measure.high_clicks import HighClickFinder
from audit.measure.holes import evenly_spaced
from audit.measure.low_clicks import LowClickFinder
from audit.measure.samples import Samples
from audit.results import SpliceClick
from audit.units import to_db

SPAN_S = 0.02
FACTOR, ALONE, APART, FAR = 6.0, 1.1, 4.0, 40.0
"""Of the coarse test: highest bend over the mean on either side; over the highest within 10 hops; the largest
ratio of the two means, unless the bend is FAR above both."""

SEAM_ALONE = 0.5
"""As ALONE, for seams of repeated blocks, which have another one as high next to them."""

OF_STEPS, STEPS_S, OWN = 0.08, 0.002, 4
"""Of the largest step from one sample to the next within so long, its OWN samples left out. Own measurement:
a kick's beater 0.05 and 0.07; of 2948 planted at −20 and −30 dB that were told two lie below."""

FLOOR = 3e-4
BRIGHT, BRIGHT_ABOVE = 0.05, 0.03
"""Mean third difference over RMS from which on clicks may hide under noise, or show only above it; that of
white noise is 3.6."""

SCORE = 14.0
OTHER, OTHER_NEARBY = 0.19, 0.6
EXPLAINED, EXPLAINED_NEARBY = 0.9, 0.8
RISE_DB = 10.0
UNLIKE = 5.0
NEW_SOUND, SURE_DB = 3.5, 42.0
SMALLEST_DB, FAINTEST_DBFS = -32.0, -70.0
"""Of the wrong sample or the jump, under the RMS of the 40 ms around it: smaller ones are not heard."""

NEARBY, NEARBY_S = 4, 5.0
EVEN_S = 0.0005
LIKE_DB = 8.0
STROKES, STROKE_DB, RISING, SIZE_DB = 8, 1.0, 0.8, 6.0
"""Own measurement (tests/lab/MEASURED.md): wrong samples that begin a sampler's soft notes, over a sound."""

MOST = 4096

PADDED_CODE = 2.0**-15
"""Full scale is one code below 1.0, of 16 bits in a larger file (audit.measure.clipping)."""

CELL_S, CELLS = 0.0025, 2
"""Where full scale is reached is remembered by cells of this length; near is within so many cells."""


@dataclass(frozen=True, slots=True)
class _Jolt:
    """A place where something clicks, by nature or by a fault: is_fault by its own looks."""

    at_frame: int
    size: float
    score_db: float
    rise_db: float
    is_fault: bool


class SpliceFinder:
    """One channel. bits: valid bits of a PCM sample, None for lossy codecs. Memory: MOST places, and 400
    bytes a second up to the last sample at full scale."""

    def __init__(self, rate_hz: int, *, bits: int | None, is_float: bool) -> None:
        from audit.measure import splices_kernel
        from audit.measure.silence_kernel import is_silent

        self._is_silent = is_silent
        self._kernel = splices_kernel
        self._rate_hz = rate_hz
        self._code = 2.0 ** -(bits - 1) if bits and not is_float else 2.0**-23
        self._span = max(256, round(SPAN_S * rate_hz))
        self._found: list[_Jolt] = []
        self._full = 1.0 - max(self._code, PADDED_CODE)
        self._cell = max(1, round(CELL_S * rate_hz))
        self._at_full = bytearray()  # one a cell: whether a sample in it stands at full scale
        self._low, self._high = LowClickFinder(rate_hz), HighClickFinder(rate_hz)

    def branch(self) -> SpliceFinder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._found = self._found[:]
        other._at_full = self._at_full[:]
        other._low, other._high = self._low.branch(), self._high.branch()
        return other

    def look(self, wave: Samples, start: int, stop: int, first_frame: int) -> tuple[list[int], float]:
        """Clicks in wave[start:stop], one channel; wave[0] is frame `first_frame` of the file.

        start and stop are multiples of 64 frames apart; 40 ms and more stand before and after them. Returns
        the places in wave, to half a hop of 64, that may be a seam, and the mean third difference over RMS.
        """
        kernel = self._kernel
        hop, around = kernel.HOP, kernel.AROUND
        low, high = start - around * hop, stop + around * hop
        if self._is_silent(wave[low:high]):
            return [], 0.0  # rests have none, and stems rest for minutes
        self._note_full_scale(wave[start:stop], first_frame + start)
        hops = (high - low) // hop
        means, tops = np.empty(hops, np.float32), np.empty(hops, np.int32)
        mean = kernel.bends(
            wave[low:high], wave[low - 1 : high - 1], wave[low - 2 : high - 2], wave[low - 3 : high - 3],
            means, tops,
        )  # fmt: skip
        heard = math.sqrt(kernel.energy(wave[start:stop]) / (stop - start))
        brightness = mean / max(heard, 1e-9)
        if brightness >= BRIGHT:
            self._low.look(wave, start, stop, first_frame)
        if brightness >= BRIGHT_ABOVE:
            self._high.look(wave, start, stop, first_frame)
        places = np.empty(hops, np.int64)
        limits = (FACTOR, max(FLOOR, 8.0 * self._code), ALONE, APART, FAR)
        count = kernel.suspects(means, tops.view(np.float32), around, hops - around, limits, places)
        room = self._span + 8 * hop
        for at in _middles(places[:count], low):
            if at + first_frame >= room and len(self._found) < MOST:
                piece = wave[at - room : at + room].astype(np.float64)
                self._judge(piece, room, first_frame + at - room)
        limits = (FACTOR, max(FLOOR, 8.0 * self._code), SEAM_ALONE, APART, FAR)
        count = kernel.suspects(means, tops.view(np.float32), around, hops - around, limits, places)
        return _middles(places[:count], low), brightness

    def _note_full_scale(self, wave: Samples, first_frame: int) -> None:
        if max(wave.max(), -wave.min()) < self._full:
            return
        cells = np.unique((np.flatnonzero(np.abs(wave) >= self._full) + first_frame) // self._cell)
        self._at_full.extend(bytes(max(0, int(cells[-1]) + 1 - len(self._at_full))))
        for cell in cells.tolist():
            self._at_full[cell] = 1

    def is_at_full_scale(self, frame: int) -> bool:
        """Whether a sample within some 5 ms of a frame stands at full scale."""
        cell = frame // self._cell
        return any(self._at_full[max(0, cell - CELLS) : cell + CELLS + 1])

    def _judge(self, piece: np.ndarray, at: int, first_frame: int) -> None:
        kernel = self._kernel
        answer = kernel.examine(piece, at, self._span, SCORE, OTHER_NEARBY)
        peak, spread = answer[kernel.PEAK], max(answer[kernel.SPREAD], 0.3 * self._code)
        wrong, jump = answer[kernel.IMPULSE], answer[kernel.STEP]
        if peak < SCORE * spread or max(wrong, jump) < EXPLAINED_NEARBY:
            return
        place = int(answer[kernel.AT])
        size = float(answer[kernel.IMPULSE_SIZE] if wrong >= jump else answer[kernel.STEP_SIZE])
        score_db = to_db(peak / spread)
        change_db = abs(to_db(answer[kernel.RISE]))
        if answer[kernel.RISE] < 1.0:
            # Sound that dies away is weaker after any place in it; next to the place it is as it was.
            change_db = min(change_db, abs(to_db(answer[kernel.NEAR_RISE])))
        rise_db = self._rise_db(piece, place, is_jump=jump > wrong)
        is_fault = (
            max(wrong, jump) >= EXPLAINED
            and answer[kernel.OTHER] <= OTHER * peak
            and score_db >= min(SURE_DB, to_db(SCORE) + NEW_SOUND * change_db)
            and answer[kernel.UNLIKE] <= UNLIKE
            and to_db(size) >= max(to_db(_rms(piece)) + SMALLEST_DB, FAINTEST_DBFS)
            and abs(rise_db) <= RISE_DB
            and self._is_heard(piece, place, size)
        )
        self._found.append(_Jolt(place + first_frame, size, score_db, rise_db, bool(is_fault)))

    def _is_heard(self, piece: np.ndarray, place: int, size: float) -> bool:
        near = round(STEPS_S * self._rate_hz)
        steps = np.abs(np.diff(piece[max(0, place - near) : place + near]))
        own = min(near, place)
        steps[own - OWN : own + OWN] = 0.0
        return size >= OF_STEPS * float(steps.max())

    def _rise_db(self, piece: np.ndarray, place: int, *, is_jump: bool) -> float:
        """How much louder the sound is after the place than before it."""
        before, after = piece[place - self._span : place - 4], piece[place + 4 : place + self._span]
        rise_db = to_db(_rms(after)) - to_db(_rms(before))
        if is_jump:
            # What the jump itself leaves behind, a level that dies away, is no louder sound.
            rise_db = min(rise_db, to_db(_rms(_levelled(after))) - to_db(_rms(_levelled(before))), key=abs)
        return rise_db

    def clicks(self) -> list[SpliceClick]:
        """The clicks that are no part of the sound, in order."""
        told = self._in_the_whole()
        jolts = [(jolt.at_frame, jolt.size) for jolt in self._found]
        finders: tuple[LowClickFinder, ...] = (self._low, self._high)
        for finder in finders:
            taken = [click.at_frame for click in told]
            told += [
                click
                for click in finder.clicks(jolts)
                if all(abs(click.at_frame - frame) > self._span for frame in taken)
            ]
        told = [replace(click, at_full_scale=self.is_at_full_scale(click.at_frame)) for click in told]
        return sorted(told, key=lambda click: click.at_frame)

    def _in_the_whole(self) -> list[SpliceClick]:
        near, slack = NEARBY_S * self._rate_hz, round(EVEN_S * self._rate_hz)
        frames = np.array([jolt.at_frame for jolt in self._found])
        scores_db = np.array([jolt.score_db for jolt in self._found])
        told = []
        for jolt in self._found:
            if not jolt.is_fault:
                continue
            like = frames[(scores_db >= jolt.score_db - LIKE_DB) & (np.abs(frames - jolt.at_frame) <= near)]
            regular = evenly_spaced(like.tolist(), slack)[int(np.searchsorted(like, jolt.at_frame))]
            if len(like) <= NEARBY and not regular and not self._is_of_strokes(jolt):
                told.append(
                    SpliceClick(at_frame=jolt.at_frame, size_dbfs=to_db(jolt.size), above_db=jolt.score_db)
                )
        return told

    def _is_of_strokes(self, jolt: _Jolt) -> bool:
        """Whether many like it, all through the stem, stand where notes begin."""
        rises = [
            other.rise_db >= STROKE_DB
            for other in self._found
            if abs(other.score_db - jolt.score_db) <= LIKE_DB
            and abs(to_db(other.size / jolt.size)) <= SIZE_DB
        ]
        return len(rises) > STROKES and sum(rises) >= RISING * len(rises)


def _middles(hops: np.ndarray, low: int) -> list[int]:
    return [low + place * 64 + 32 for place in hops.tolist()]


def _levelled(wave: np.ndarray) -> np.ndarray:
    """A wave without its mean and its slope."""
    slope = np.linspace(-1.0, 1.0, len(wave))
    return np.asarray(wave - wave.mean() - slope * (wave @ slope) / (slope @ slope))


def _rms(wave: np.ndarray) -> float:
    return float(np.sqrt(np.mean(wave**2)))
