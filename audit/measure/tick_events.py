"""Every short sound of a click part, to the sample: when it begins, how loud it is, what kind it is of.

    TickMeter(rate_hz, channels)   .add(block), .result() -> Ticks

A sound begins where the waveform's peak within a millisecond, or its steepest step, is half as much again as
in the 12 ms before. Steps as well as levels: a tick stands out of a voice and of its forerunner's tail by its
high frequencies, and out of hiss by its level.
Which of the sounds are the click's beats, `click` says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.tick_kinds import TickKinds

HOP_S = 0.001
PAST_HOPS = 12
HOLDS = np.array([24, 5])
RISES = np.array([1.5, 3.0])
"""A sound lasts 24 ms before another may begin, 5 ms before one three times as loud."""

LEAST_PEAK = 10.0 ** (-70.0 / 20.0)
FLOORS = np.array([10.0 ** (-96.0 / 20.0), LEAST_PEAK])
BEFORE_S = 0.006
AGAIN_S = 0.002
AFTER_S = 0.05
MOST_TICKS = 200_000
"""More than a click has in three hours of sixteenths; a stem with more is none."""

ENDS_S, ENDED, AS_LOUD = 0.005, 0.1, 1.25
"""A step after which 5 ms are ten times as quiet as the sound before it, and which is no louder than that
sound, is where it was cut: a gated beep ends with a steeper step than it has."""

FOUND = 0.5
OTHER_SIDE = 1.5
"""The first channel is listened to unless another is this many times as loud."""

Numbers = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """The waveform of a kind, peak about 1.0; the sound starts `start_s` into it."""

    wave: Numbers
    start_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticks:
    """One row a sound, in order of time."""

    at_s: Numbers  # start of the sound
    level_db: Numbers  # peak of the sound itself, dBFS: what lies over it does not count
    kind: npt.NDArray[np.int64]  # sounds of one waveform share a number
    likeness: Numbers  # correlation with its kind, 0 for the first of a kind; FOUND: dug out from other sound
    sounds: Mapping[int, Sound]  # of the kinds met most

    def __len__(self) -> int:
        return len(self.at_s)


class TickMeter:
    """Memory: 32 bytes a sound, and 60 ms of audio."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        from audit.measure import tick_events_kernel as kernel

        self._kernel = kernel
        self._rate_hz = rate_hz
        self._channels = channels
        self._hop = max(1, round(HOP_S * rate_hz))
        self._before = round(BEFORE_S * rate_hz)
        self._after = round(AFTER_S * rate_hz)
        # Frames that are not yet done with; they begin at frame `_first`. Silence before the file counts.
        self._held = np.zeros((self._before, channels), dtype=np.float32)
        self._first = -self._before
        self._searched = 0  # frames, whole hops, searched for rises
        self._ring = np.zeros((PAST_HOPS, 2), dtype=np.float32)
        self._state = np.array([0, HOLDS[0]], dtype=np.int64)
        self._waiting: list[int] = []
        self._kinds = TickKinds(rate_hz)
        self._rows: list[tuple[float, float, int, float]] = []
        self._ended = False

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite. None may follow once result was asked for."""
        check_block(block, self._channels)
        if self._ended:
            raise ValueError("the ticks were already counted")
        # Long blocks are taken in pieces: what is held stays small.
        for start in range(0, len(block), 1 << 16):
            self._take(block[start : start + (1 << 16)])

    def result(self) -> Ticks:
        """All sounds of the part; empty where nothing begins in it."""
        if not self._ended:
            self._take(np.zeros((self._after + self._hop, self._channels), dtype=np.float32))
            self._ended = True
        starts = self._kinds.starts()
        rows = np.array(self._rows, dtype=np.float64).reshape(-1, 4)
        kind = rows[:, 2].astype(np.int64)
        at_s = rows[:, 0] / self._rate_hz + np.array([starts[number] for number in kind], dtype=np.float64)
        order = np.argsort(at_s, kind="stable")
        # A tick with something quieter just before it was met twice, and placed by its waveform both times.
        again = (np.diff(at_s[order]) < AGAIN_S) & (np.diff(kind[order]) == 0)
        order = order[np.concatenate([[True], ~again])] if len(order) else order
        return Ticks(
            at_s=at_s[order],
            level_db=20.0 * np.log10(np.maximum(rows[order, 1], 1e-9)),
            kind=kind[order],
            likeness=rows[order, 3],
            sounds={
                number: Sound(wave=wave, start_s=starts[number])
                for number, wave in self._kinds.waves().items()
            },
        )

    def _take(self, block: Samples) -> None:
        self._held = np.concatenate([self._held, block])
        end = self._first + len(self._held)
        hops = (end - self._searched) // self._hop
        if hops:
            begin = self._searched - self._first
            rows = np.zeros((hops, 2), dtype=np.float32)
            self._kernel.envelopes(self._held[begin:], self._held[begin - 1], self._hop, rows)
            found = np.zeros(hops, dtype=np.int64)
            count = self._kernel.rises(rows, self._ring, self._state, FLOORS, RISES, HOLDS, found)
            self._waiting.extend(self._searched + int(hop) * self._hop for hop in found[:count])
            self._searched += hops * self._hop
        while self._waiting and self._waiting[0] + self._after <= end:
            self._look(self._waiting.pop(0))
        keep_from = min(self._waiting[0] if self._waiting else end, self._searched) - self._before
        self._held = self._held[max(0, keep_from - self._first) :]
        self._first = max(self._first, keep_from)

    def _only_ends(self, wave: Numbers, near: int) -> bool:
        """Whether nothing begins in the hop at `near`, but a sound is cut off there."""
        after = near + self._hop
        sounding = np.abs(wave[:near]).max(initial=0.0)
        return bool(
            np.abs(wave[near:after]).max() <= AS_LOUD * sounding
            and np.abs(wave[after : after + round(ENDS_S * self._rate_hz)]).max(initial=0.0)
            < ENDED * sounding
        )

    def _look(self, rise: int) -> None:
        """The sound that begins in the hop at frame `rise`."""
        if len(self._rows) >= MOST_TICKS:
            return
        begin = rise - self._before - self._first
        region = self._held[max(0, begin) : rise + self._after - self._first].astype(np.float64)
        near = rise - self._first - max(0, begin)
        peaks = np.abs(region[near : near + round(0.03 * self._rate_hz)]).max(axis=0)
        loudest = int(np.argmax(peaks))
        channel = loudest if peaks[loudest] > OTHER_SIDE * peaks[0] else 0
        if peaks[channel] < LEAST_PEAK or self._only_ends(region[:, channel], near):
            return
        placed = self._kinds.place(region[:, channel], near)
        at = self._first + max(0, begin) + placed.at
        self._rows.append((at, placed.peak, placed.kind, placed.likeness))
