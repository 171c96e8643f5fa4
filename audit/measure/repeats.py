"""Repeated blocks: a buffer that was played twice, found by equality, exact or within dither.

    RepeatFinder(rate_hz, bits=…, is_float=…)   .look(…), .look_dithered(…), .repeats()

A stretch that equals, sample for sample, what stood `lag` samples before it. One place in eight, chosen by a
hash of two samples, is looked up in a table of where that hash was met last; only where it matches are
samples compared. So the cost does not grow with the number of lags.

Much repeats by nature, and must not count:

* A waveform with a whole number of samples a period repeats for as long as its note; a sequenced sample is
  triggered again. A fault is as long as its block or a few times it: the stretch is lag, 2 lag or 3 lag
  (played once more, twice, three times), or half of lag (A B A), within SLACK samples.
* A sample that is triggered twice begins with an attack, both times. A buffer begins anywhere: there is
  no jump where the first copy begins (START, LEVEL_DB), but one where the second begins or ends, unless the
  sound is noise, in which a seam cannot be told (NOISY).
* Silence, held values, and what is quieter than a few codes of the file repeat by chance.
* A waveform whose period is `lag` has it before the first copy as well.
* Stutters and rough grains are many; more than NEARBY within 4 s are the sound of the stem, unless they have
  the length of an audio buffer, a power of two.

A copy that was dithered anew afterwards, to the file's bits or to 16, is the same within 2 codes of those. It
is looked for where the sound has a seam, sample by sample at every lag, and in bright sound, which hides
seams, by a hash of cells much higher than dither. Waves that repeat by nature come near each other and part
again; so such a copy has to begin and end at once, and to differ by dither alone in between (`_is_sharp`).

Covered: lags of 64 to 8192 samples at any rate, from 128 on where dithered anew. Not found: a copy that was
faded, filtered or mixed with another sound afterwards, or that lies in a stretch that repeats by nature at a
shorter period.
"""

from __future__ import annotations

from copy import copy

import numpy as np

from audit.measure.samples import Samples
from audit.results import Repeat
from audit.units import to_db

SHORTEST = 64
LONGEST = 4096
FARTHEST = 2 * LONGEST
TIMES = (0.5, 1.0, 2.0, 3.0)
SLACK = 4
SPAN_S = 0.02
SEAM, CALM = 2.0, 6.0
START = 0.1
LEVEL_DB = 9.0
NOISY_DB = 12.0
FLOOR = 1e-3
CODES = 6.0
NEARBY, NEARBY_S = 3, 4.0
PERIODIC = 0.2
MOST = 1024
MOST_ROWS = 4096
"""Stretches near one before them that a chunk's seams can have: 128 kB. Timecode has a hundred at each."""

TABLE = 1 << 13

BESIDE, PROBE = 64, 128
"""Beside a seam, whose place is known to 32 samples, so many have to be the same within dither."""

DITHER, DITHER_RMS, DITHER_STEPS, CELL = 2.5, 1.0, 8.0, 8.0
"""In codes: what two dithered copies differ by at most and in RMS (0.7 by triangular dither), the least RMS
from sample to sample, and the height of a cell."""

EDGE, PARTED = 4, 10.0
"""Within so many samples of its ends a dithered copy differs by so many codes from what it is no copy of."""

BRIGHT = 0.015
"""Mean third difference over RMS (`splices`) from which on a seam may not show."""

BEHIND = FARTHEST + LONGEST + 2048
AHEAD = 3 * LONGEST + 256
"""Samples a place needs before and after it to be judged."""


class RepeatFinder:
    """One channel. bits: valid bits of a PCM sample, None for lossy codecs. Memory: a table of 64 kB."""

    def __init__(self, rate_hz: int, *, bits: int | None, is_float: bool) -> None:
        from audit.measure import repeats_kernel

        self._kernel = repeats_kernel
        self._rate_hz = rate_hz
        self._code = 2.0 ** -(bits - 1) if bits and not is_float else 2.0**-23
        self._dithers = sorted({max(self._code, 2.0**-23), 2.0**-15}) if self._code <= 2.0**-15 else []
        self._span = min(2048, max(256, round(SPAN_S * rate_hz)))
        self._table = np.full(TABLE, -1, dtype=np.int64)
        self._told = np.zeros(1, dtype=np.int64)
        self._table_near, self._told_near = self._table.copy(), self._told.copy()
        self._found: list[Repeat] = []
        self._met: list[int] = []  # where copies begin, by nature or by a fault

    def branch(self) -> RepeatFinder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._table, other._told = self._table.copy(), self._told.copy()
        other._table_near, other._told_near = self._table_near.copy(), self._told_near.copy()
        other._found, other._met = self._found[:], self._met[:]
        return other

    def look(
        self, wave: Samples, start: int, stop: int, first_frame: int, room: tuple[np.ndarray, ...]
    ) -> None:
        """Copies whose anchors lie in wave[start:stop], one channel; wave[0] is frame `first_frame`.

        room: scratch, int64, uint32 and uint32, of stop − start values and more; nothing is kept in it.
        """
        codes = wave.view(np.uint32)
        places, keys, mixed = room
        count = self._kernel.anchors(codes, start, stop, places, keys, mixed)
        found = np.empty((64, self._kernel.COLUMNS), dtype=np.int64)
        rows = self._kernel.find_repeats(
            codes, places, keys, count, first_frame, self._told, self._table, FARTHEST, SHORTEST, found
        )
        for begin, end, lag in found[:rows].tolist():
            times = _times(end - begin, lag)
            if times is not None and len(self._found) < MOST:
                self._judge(
                    wave, begin - first_frame, end - first_frame, lag, times, first_frame, CODES * self._code
                )

    def look_dithered(
        self, wave: Samples, start: int, stop: int, seams: list[int], first_frame: int,
        room: tuple[np.ndarray, ...], *, bright: bool,
    ) -> None:  # fmt: skip
        """Copies that were dithered anew afterwards: those that begin or end at one of the seams, places in
        wave, and in bright sound, which hides seams, all others. Else as `look`."""
        if not self._dithers:
            return
        if not seams and not bright:
            return
        kernel, found = self._kernel, np.empty((MOST_ROWS, self._kernel.COLUMNS), dtype=np.int64)
        places = np.array([(seam + BESIDE, seam - BESIDE - PROBE) for seam in seams], dtype=np.int64).ravel()
        for code in reversed(self._dithers):
            slack, least = np.float32(DITHER * code), np.float32(0.5 * DITHER_STEPS * code)
            told = np.empty(len(places), dtype=np.int64)
            rows = kernel.near_copies_at(wave, places, PROBE, slack, least, SHORTEST, FARTHEST, told, found)
            self._judge_dithered(wave, found[:rows], first_frame, code)
            if not told.any():
                break
            places = places[told != 0]  # what is no copy within the rougher dither is none within a finer
        if bright:
            code = self._dithers[-1]
            cells = np.empty(stop + 1 - start, dtype=np.int32)
            kernel.cells(wave[start : stop + 1], np.float32(CELL * code), cells)
            places, keys, mixed = room
            count = kernel.anchors(cells.view(np.uint32), 0, stop - start, places, keys, mixed)
            rows = kernel.find_near_repeats(
                wave, start, places, keys, count, first_frame, self._told_near, self._table_near,
                np.float32(DITHER * code), FARTHEST, PROBE, found,
            )  # fmt: skip
            self._judge_dithered(wave, found[:rows], first_frame, code)

    def _judge_dithered(self, wave: Samples, found: np.ndarray, first_frame: int, code: float) -> None:
        for begin, end, lag in found.tolist():
            times = round((end - begin) / lag)
            if not 1 <= times <= max(TIMES) or abs(end - begin - times * lag) > SLACK or lag < PROBE:
                continue
            known = any(
                -PROBE <= begin + first_frame - one.at_frame <= one.times * one.frames + PROBE
                for one in self._found
            )
            if not known and len(self._found) < MOST and _is_sharp(wave, begin, end, lag, code):
                self._judge(wave, begin, end, lag, times, first_frame, DITHER_STEPS * code)

    def _judge(
        self, wave: Samples, begin: int, end: int, lag: int, times: float, first_frame: int, least_step: float
    ) -> None:
        kernel, first = self._kernel, begin - lag
        length = min(lag, end - begin)
        low = first - self._span
        if low < 0 or end + 4 > len(wave) or not SHORTEST <= length <= LONGEST:
            return
        known = wave[low : end + 4].astype(np.float64)
        block = known[self._span : self._span + length]
        steps = np.diff(block)
        if np.abs(block).max() < FLOOR or np.sqrt(np.mean(steps**2)) < least_step:
            return
        if np.count_nonzero(steps) < 0.5 * len(steps):
            return  # held values
        if self._periodic(wave, first, begin - first):
            return
        if len(self._met) < MOST:
            self._met.append(begin + first_frame)
        worst, spread = kernel.surprises(known, self._span, begin - low, end - low, self._span)
        spread = max(spread, 0.3 * self._code)
        jump = max(worst[1], worst[2])
        if worst[0] > max(START * jump, CALM * spread):
            return
        if jump < SEAM * spread:
            near = min(length, self._span // 4)
            before, after = known[self._span - near : self._span], block[:near]
            noisy = to_db(spread) > to_db(_rms(known[: self._span])) - NOISY_DB
            if not noisy or to_db(_rms(after)) - to_db(_rms(before)) > LEVEL_DB:
                return
        self._found.append(
            Repeat(at_frame=begin + first_frame, frames=length, times=round(max(1.0, times)), lag_frames=lag)
        )

    def _periodic(self, wave: Samples, place: int, lag: int) -> bool:
        """Whether the sound before `place` is nearly what it was `lag` samples earlier by nature."""
        count = min(self._span, place - lag)
        if count < SHORTEST:
            return False
        now = wave[place - count : place].astype(np.float64)
        return _rms(now - wave[place - count - lag : place - lag]) < PERIODIC * _rms(now)

    def repeats(self) -> list[Repeat]:
        """The repeated blocks that are no part of the sound, in order."""
        starts = np.array(self._met)
        near = NEARBY_S * self._rate_hz
        return [
            repeat
            for repeat in self._found
            if _is_power_of_two(repeat.frames)
            or np.count_nonzero(np.abs(starts - repeat.at_frame) <= near) <= NEARBY
        ]


def _times(length: int, lag: int) -> float | None:
    """How often the block was played again; None where the stretch has no length that a fault has."""
    return next((times for times in TIMES if abs(length - times * lag) <= SLACK), None)


def _is_sharp(wave: Samples, begin: int, end: int, lag: int, code: float) -> bool:
    """Whether a stretch differs from what it repeats by dither alone, and ends at once on either side. Waves
    that repeat by nature come near each other and part again."""
    low, high = begin - EDGE, end + EDGE
    if low < lag or high > len(wave):
        return False
    apart = np.abs(wave[low:high].astype(np.float64) - wave[low - lag : high - lag])
    outside = min(apart[:EDGE].max(), apart[-EDGE:].max())
    return outside >= PARTED * code and _rms(apart[EDGE:-EDGE]) <= DITHER_RMS * code


def _is_power_of_two(count: int) -> bool:
    return count & (count - 1) == 0


def _rms(wave: np.ndarray) -> float:
    return float(np.sqrt(np.mean(wave**2)))
