"""How a part's last sound ends: dying away, or cut off while it still sounds.

    HardEndMeter(rate_hz, channels)   .add(block)   .result(channels) -> HardEnd | None

What an instrument plays dies away, and what a fade or a release ends falls within its last milliseconds; a
bounce that is too short, or a region cut too early, ends at the level that it had. Gated synths, chopped
voices and chips end all their notes so: the earlier ends, those before a rest, are counted too.

Own method. Sound is what lies above −70 dBFS, a rest 10 ms without any: chips
and plucks begin their next note so soon.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from audit.measure.activity import SOUND
from audit.measure.samples import Samples, check_block, check_rate
from audit.results import HardEnd
from audit.units import power_to_db

REST_S = 0.01
LEVEL_S = 0.05
"""The level of an end is that of so much before it."""

LAST_S, FROM_S, UNTIL_S = 0.008, 0.06, 0.02
"""It falls by what its last 8 ms lie under the time from 60 to 20 ms before it."""

SUDDEN_DB = 7.0
"""Where that is lower by more, the sound began in between, a knock of 15 ms: it falls from the time between.
What is shorter still, a tick, or swells so fast to its end falls by infinitely much."""

KEPT_S = 0.2

HARD_DBFS, HARD_FALL_DB = -50.0, 6.0
"""An end is hard above this level that falls by less: a straight fade of 10 ms falls by 6.6 dB, one of
20 ms by 12.7, a chord that rings on for two seconds more by 1.1 (its test)."""

Wave = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.float64]


@dataclass(slots=True)
class _Channel:
    """kept: its last 200 ms. last: the newest end before a rest: behind its last sample, level, fall."""

    kept: Wave = field(default_factory=lambda: np.zeros(0, dtype=np.float32))
    passed: int = 0  # frames
    stops: int = 0
    hard: int = 0
    last: tuple[int, float, float] | None = None

    def found(self, end: tuple[int, float, float]) -> None:
        self.stops += 1
        self.hard += _is_hard(end)
        self.last = end


class HardEndMeter:
    """Memory: 200 ms a channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        from audit.measure import hard_end_kernel

        self._kernel = hard_end_kernel
        self._rate_hz = rate_hz
        self._rest = max(2, round(REST_S * rate_hz))
        self._channels = [_Channel() for _ in range(channels)]

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, len(self._channels))
        if not len(block):
            return
        keep = round(KEPT_S * self._rate_hz)
        for number, channel in enumerate(self._channels):
            wave = np.ascontiguousarray(block[:, number])
            # To join all of a block to what was kept would cost more than the search.
            seam = np.concatenate([channel.kept, wave[:keep]])
            self._look(channel, seam, channel.passed - len(channel.kept))
            if len(wave) > keep:
                self._look(channel, wave, channel.passed)
            channel.kept = (wave if len(wave) > keep else seam)[-keep:].copy()
            channel.passed += len(block)

    def result(self, channels: tuple[int, ...]) -> HardEnd | None:
        """The end of the channel (0-based) that sounds last, the louder of two; None where none sounds."""
        ends = [(self._end(self._channels[number]), self._channels[number]) for number in channels]
        told = [(end, channel) for end, channel in ends if end is not None]
        if not told:
            return None
        (behind, level_dbfs, fall_db), channel = max(told, key=lambda one: one[0][:2])
        # The end itself is among those before a rest, where one follows.
        own = channel.last is not None and channel.last[0] == behind
        return HardEnd(
            at_s=behind / self._rate_hz,
            level_dbfs=level_dbfs,
            fall_db=fall_db,
            stops=channel.stops - own,
            hard_stops=channel.hard - (own and _is_hard((behind, level_dbfs, fall_db))),
        )

    def _look(self, channel: _Channel, wave: Wave, first: int) -> None:
        """Rests in `wave`, whose first sample is frame `first`, that were not met before."""
        begins = np.empty(len(wave) // self._rest + 1, np.int64)
        count = self._kernel.rests(wave, self._rest, SOUND, begins)
        for begin in begins[:count].tolist():
            known = channel.last[0] if channel.last is not None else 0
            if begin > 0 and first + begin > known:
                channel.found(self._judged(wave, begin, first))

    def _judged(self, wave: Wave, behind: int, first: int) -> tuple[int, float, float]:
        """wave: sounds up to before sample `behind`. A constant that it stands on is none of its level."""

        def piece(from_s: float, until_s: float = 0.0) -> Numbers:
            start, stop = (max(0, behind - round(at_s * self._rate_hz)) for at_s in (from_s, until_s))
            return wave[start:stop].astype(np.float64)

        constant = float(piece(LEVEL_S).mean())

        def level_dbfs(part: Numbers) -> float:
            return power_to_db(float(np.square(part - constant).mean()) if len(part) else 0.0)

        last_dbfs, fall_db = level_dbfs(piece(LAST_S)), math.inf
        for spell in (piece(FROM_S, UNTIL_S), piece(UNTIL_S, LAST_S)):
            if level_dbfs(spell) >= last_dbfs - SUDDEN_DB:
                fall_db = level_dbfs(spell) - last_dbfs
                break
        return first + behind, level_dbfs(piece(LEVEL_S)), fall_db

    def _end(self, channel: _Channel) -> tuple[int, float, float] | None:
        """Of all that was heard so far."""
        loud = np.flatnonzero(np.abs(channel.kept) > SOUND)
        first = channel.passed - len(channel.kept)
        if not len(loud) or (channel.last is not None and first + int(loud[-1]) < channel.last[0]):
            return channel.last
        return self._judged(channel.kept, int(loud[-1]) + 1, first)


def _is_hard(end: tuple[int, float, float]) -> bool:
    _, level_dbfs, fall_db = end
    return level_dbfs > HARD_DBFS and fall_db < HARD_FALL_DB
