"""Clicks under bright noise: a wrong sample that shows below 3 kHz, where cymbals and shakers leave gaps.

    LowClickFinder(rate_hz)   .look(wave, start, stop, first_frame), .clicks()

A wrong sample has the same energy at every frequency, a cymbal hardly any below a few kHz. A model of the
whole band, as `splices` has it, spends its order on the cymbal and does not resolve that gap; so the wave is
low-passed, taken every few samples (some 6 kHz), and searched by itself:

* A place stands out of what linear prediction leaves of 40 ms around it.
* Models of the 27 ms before it, and of the 27 ms after it backward, see the answer of a wrong sample to the
  low-pass, as matched filters: SCORE times the spread on both sides and SURE of both together, alike in size,
  with little left beside it, and nothing else as large.
* The whole band holds the same wrong sample: of the same size, at the same sample, WHOLE times its own error.
  This is what tells a click from cut noise. A hat that begins or ends at once leaves something like a click
  below its own band, which above it is none.
* Those of a stem that fail only the last are its own sound; where they outnumber the others, nothing is told.
  Neither are more than NEARBY within NEARBY_S, which are crackle, or of even distances.

Only single wrong samples are looked for, not jumps: what is cut off leaves jumps, by design or not.

Own measurement, in `python -m tests.damage_lab`: see tests/lab/MEASURED.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from math import hypot
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from audit.measure.holes import evenly_spaced
from audit.measure.samples import Samples
from audit.results import SpliceClick
from audit.units import to_db

THINNED_HZ, PASSED = 6000.0, 0.4
"""The rate that is left, about, and the part of it that the low-pass lets through."""

TAPS_A_SIDE = 8
"""Of the low-pass, times the factor of thinning: Blackman's window, 74 dB down at the thinned rate's half."""

BLOCK, SPAN, REACH = 128, 160, 120
"""Thinned samples: of a survey's model, of the models on either side, and that a place is alone in."""

FACTOR, ALONE, FLOOR = 6.0, 1.15, 1e-4
WHOLE_SPAN_S, WHOLE_REACH = 0.03, 1
NEARBY, NEARBY_S, EVEN_S = 4, 5.0, 0.0005

SCORE, SURE, WHOLE = 8.0, 18.0, 14.0
LEFT, LEFT_EITHER, OF_SCORE = 1.8, 3.0, 1e-3
OTHER, AGREE, UNLIKE = 0.5, 0.85, 3.0
APART, OF_ERROR = 0.03, 1.2
SAME_FRAMES, SAME_SIZE = 2, 0.25
RISE_DB, FALL_DB, SMALLEST_DB, FAINTEST_DBFS = 2.0, 4.0, -32.0, -70.0
"""Of the highest bends 5 ms after over before; and of the wrong sample, under the RMS of the 40 ms around."""

MOST = 2048

Finder = TypeVar("Finder", bound="LowClickFinder")


@dataclass(frozen=True, slots=True)
class _Place:
    """Something like a wrong sample below 3 kHz; is_fault: in the whole band as well."""

    at_frame: int
    size: float
    score: float
    is_fault: bool


class LowClickFinder:
    """One channel. Memory: MOST places."""

    _left, _falls_db, _rises_db = LEFT, FALL_DB, RISE_DB

    def __init__(self, rate_hz: int) -> None:
        from audit.measure import low_clicks_kernel

        self._kernel = low_clicks_kernel
        self._rate_hz = rate_hz
        self._factor = round(rate_hz / THINNED_HZ)
        self._taps = _low_pass(self._factor)
        self._window = np.hanning(2 * BLOCK + 2)[1:-1].astype(np.float32)
        self._found: list[_Place] = []

    def branch(self: Finder) -> Finder:
        """A second finder that goes on from here, while this one stays as it is."""
        other = copy(self)
        other._found = self._found[:]
        return other

    def look(self, wave: Samples, start: int, stop: int, first_frame: int) -> None:
        """Clicks in wave[start:stop], float32, one channel; wave[0] is frame `first_frame` of the file. 60 ms
        stand before start and after stop."""
        if self._factor < 2:
            return  # a rate that has nothing above
        kernel, factor, half = self._kernel, self._factor, len(self._taps) // 2
        # Blocks and thinned samples lie at multiples of the file's frames, wherever this piece begins.
        begin = (start + first_frame) // factor
        end = -(-(stop + first_frame) // factor)
        first = (begin - REACH) // BLOCK * BLOCK
        blocks = -(-(end + REACH - first) // BLOCK)
        low, count = first - BLOCK // 2, (blocks + 1) * BLOCK
        thin = np.zeros(count, np.float32)
        at = low * factor - first_frame - half
        missing = max(0, -(at // factor))
        room = min(count, (len(wave) - at - len(self._taps)) // factor + 1) - missing
        self._thin(wave[at + missing * factor :], thin[missing : missing + room])
        if not self._is_worth_it(thin):
            return
        rest = np.empty(blocks * BLOCK, np.float32)
        kernel.surprises(thin, BLOCK, self._window, FLOOR, rest)
        places = np.empty(count, np.int64)
        lead = begin - REACH - first
        told = kernel.outstanding(
            rest[lead : lead + end - begin + 2 * REACH], REACH, (FACTOR, ALONE, FLOOR), places
        )
        for place in (places[:told] + lead + BLOCK // 2).tolist():
            if (place + low) * factor >= 2 * SPAN * factor and len(self._found) < MOST:
                self._judge(thin, place, low, wave, first_frame)

    def _thin(self, wave: Samples, out: Samples) -> None:
        """The band that is looked at; out[0] comes of the samples that wave begins with."""
        self._kernel.thinned(wave, self._taps, self._factor, out)

    def _is_worth_it(self, thin: Samples) -> bool:
        """Whether a band may hold a click at all, at a glance."""
        return True

    def _judge(self, thin: Samples, place: int, low: int, wave: Samples, first_frame: int) -> None:
        kernel, factor = self._kernel, self._factor
        around = SPAN + kernel.ORDER + 2 * TAPS_A_SIDE + 8
        piece = thin[max(0, place - around) : place + around + 1].astype(np.float64)
        at = min(place, around)
        if len(piece) < at + SPAN + 2 * TAPS_A_SIDE + 8 or at < SPAN + TAPS_A_SIDE + 8:
            return
        answer = kernel.examine(piece, at, SPAN, factor, self._taps.astype(np.float64), SCORE)
        before, after = answer[kernel.BEFORE], answer[kernel.AFTER]
        sure = hypot(before, after)
        left = (answer[kernel.REST_BEFORE], answer[kernel.REST_AFTER])
        if (
            sure < SURE
            or min(left) > self._left
            or left[0] > LEFT_EITHER + OF_SCORE * before**2
            or left[1] > LEFT_EITHER + OF_SCORE * after**2
            or answer[kernel.OTHER] > OTHER * min(before, after)
            or answer[kernel.AGREE] < AGREE
            or answer[kernel.WORSE] > UNLIKE
        ):
            return
        frame = (place + low) * factor + int(answer[kernel.AT])
        is_fault = self._is_fault(answer, wave, frame - first_frame)
        self._found.append(_Place(frame, abs(answer[kernel.SIZE]), sure, is_fault))

    def _is_fault(self, answer: npt.NDArray[np.float64], wave: Samples, here: int) -> bool:
        """Whether the whole band holds the same wrong sample, in sound that goes on. answer: of `examine`."""
        kernel = self._kernel
        size, sure = answer[kernel.SIZE], hypot(answer[kernel.BEFORE], answer[kernel.AFTER])
        span = round(WHOLE_SPAN_S * self._rate_hz)
        side = span + kernel.WHOLE_ORDER + 8
        whole, whole_score = kernel.in_the_whole(
            wave[here - side : here + side + 1].astype(np.float64), side, span, WHOLE_REACH
        )
        apart = APART + OF_ERROR * (1.0 / sure + 1.0 / max(whole_score, 1e-9))
        near = round(0.02 * self._rate_hz)
        level_db = to_db(
            float(np.sqrt(np.mean(np.square(wave[here - near : here + near], dtype=np.float64))))
        )
        return bool(
            whole_score >= WHOLE
            and abs(self._same(whole, size) - 1.0) <= apart
            and -self._falls_db <= self._change_db(wave, here) <= self._rises_db
            and to_db(abs(size)) >= max(level_db + SMALLEST_DB, FAINTEST_DBFS)
        )

    def _same(self, whole: float, size: float) -> float:
        """The wrong sample's size in the whole band over that in this one."""
        return whole / size

    def _change_db(self, wave: Samples, at: int) -> float:
        """Level of the bends (third differences) in the 5 ms after a place over those before it."""
        width = round(0.005 * self._rate_hz)
        bends = np.abs(np.diff(wave[at - width - 10 : at + width + 11].astype(np.float64), 3))
        return to_db(float(bends[width + 16 :].mean()) + 1e-9) - to_db(float(bends[:width].mean()) + 1e-9)

    def clicks(self, others: Sequence[tuple[int, float]] = ()) -> list[SpliceClick]:
        """The clicks that are no part of the sound, in order.

        others: frames and sizes of what the whole band holds like a wrong sample, though by itself it would
        not do; where both are one, it does.
        """
        faults = [
            place
            for place in self._found
            if place.is_fault
            or any(
                abs(place.at_frame - frame) <= SAME_FRAMES and abs(size / place.size - 1.0) <= SAME_SIZE
                for frame, size in others
            )
        ]
        if len(self._found) > 2 * len(faults) + 2:
            return []
        frames = np.array([place.at_frame for place in faults])
        slack = round(EVEN_S * self._rate_hz)
        told = []
        for place in faults:
            near = frames[np.abs(frames - place.at_frame) <= NEARBY_S * self._rate_hz]
            regular = evenly_spaced(near.tolist(), slack)[int(np.searchsorted(near, place.at_frame))]
            if len(near) <= NEARBY and not regular:
                told.append(
                    SpliceClick(
                        at_frame=place.at_frame, size_dbfs=to_db(place.size), above_db=to_db(place.score)
                    )
                )
        return told


def _low_pass(factor: int) -> npt.NDArray[np.float32]:
    """Windowed sinc, its gain 1 at 0 Hz; the sum of its taps is 1. Source: any textbook [memory]."""
    half = TAPS_A_SIDE * factor
    at = np.arange(-half, half + 1)
    taps = np.sinc(2.0 * PASSED / factor * at) * np.blackman(len(at))
    return np.asarray(taps / taps.sum(), dtype=np.float32)
