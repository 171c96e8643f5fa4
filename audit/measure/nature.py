"""What a channel's waveform looks like, apart from its name: timecode, a click, or neither.

NatureMeter(rate_hz, channels)   .add(block), .result(channel) -> Nature, .timecode_met
"""

from __future__ import annotations

import numpy as np

from audit.measure.biphase import WINDOW_S, TimecodeSigns
from audit.measure.cutting import Cutter
from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.steps import part_channels
from audit.measure.ticks import TickSigns
from audit.results import Nature

HOP_S = 0.001


class NatureMeter:
    """Memory: a window of 0.25 s, and 40 bytes an event of a channel that has silence between its events."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        hop = max(1, round(HOP_S * rate_hz))
        window = hop * round(WINDOW_S / HOP_S)
        self._channels = channels
        self._cutter = Cutter(window, channels)
        self._timecode = [TimecodeSigns(rate_hz, window) for _ in range(channels)]
        self._ticks = [TickSigns(rate_hz, hop) for _ in range(channels)]

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        for piece in self._cutter.cut(block):
            for channel in range(self._channels):
                wave = np.ascontiguousarray(piece[:, channel])
                self._timecode[channel].look(wave)
                self._ticks[channel].look(wave)

    @property
    def timecode_met(self) -> tuple[bool, ...]:
        """For each channel whether a window of it was timecode so far."""
        return tuple(signs.met for signs in self._timecode)

    def result(self, channel: int) -> Nature:
        """Nature of one channel; silence is neither. Raises BadSamplesError for one that is not there."""
        part_channels((channel,), self._channels)
        rest = np.ascontiguousarray(self._cutter.rest[:, channel])
        return Nature(
            timecode_share=self._timecode[channel].share(rest), tick_share=self._ticks[channel].share()
        )
