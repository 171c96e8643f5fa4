"""Whether a channel's waveform is linear timecode: a cheap signature, not a decoder.

    TimecodeSigns(rate_hz)   .look(wave), .share(rest) -> 0 … 1, .met; one channel

What the code says is read by `timecode`, which costs more and wants to know where to look.

Timecode is bi-phase mark (IEC 60461:2010, 8.3): an edge at the border of each bit cell, one more in the
middle of a one. So the times between zero crossings are T or T/2, the halves in pairs; polarity and level do
not matter. T is 1/1918 … 1/2400 s, times the speed of a tape (0.5 … 2 here). Tones an octave apart can look
the same (some data cassettes do), therefore a window also has to hold the sync word, twelve ones between 00
and 01, in two of five frames at least, read forwards or backwards.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

WINDOW_S = 0.25
"""Six frames at 24 a second; three where a tape runs at half speed."""

FLOOR = 10.0 ** (-72.0 / 20.0)
"""Windows whose peak stays below −72 dBFS are silence."""

SHORTEST_S = 0.5 / 2400.0 / 2.0 * 0.85
LONGEST_S = 1.0 / 1918.0 * 2.0 * 1.15
"""Half and whole bit cell of the standard's rates at twice and half the speed, with room for jitter."""

ALLOWED = 0.2
"""Share of a window that may break the pattern (a dropout, a jump) before it no longer counts."""

RANGE_DB = 40
"""Windows further below the loudest one than this (tape hiss after the code) do not count as sound."""

_BINS = 160


class TimecodeSigns:
    """Memory: the intervals of one window."""

    def __init__(self, rate_hz: int, window_frames: int) -> None:
        from audit.measure import biphase_kernel as kernel

        self._kernel = kernel
        self._window = window_frames
        self._shortest = SHORTEST_S * rate_hz
        self._longest = LONGEST_S * rate_hz
        self._gaps = np.zeros(window_frames)
        self.met = False  # whether any window so far was timecode
        # Frames of sound, and of timecode, by the level of their window in whole dB below full scale.
        self._sound = np.zeros(_BINS)
        self._timecode = np.zeros(_BINS)

    def look(self, wave: npt.NDArray[np.float32]) -> None:
        """Whole windows of one channel, one after another, in order."""
        for start in range(0, len(wave), self._window):
            self._enter(wave[start : start + self._window], self._sound, self._timecode)

    def _enter(
        self, wave: npt.NDArray[np.float32], sound: npt.NDArray[np.float64], timecode: npt.NDArray[np.float64]
    ) -> None:
        kind, frames, level = self._kernel.examine(
            wave, FLOOR, self._shortest, self._longest, ALLOWED, self._gaps
        )
        if frames == 0.0:
            return
        # Float files may lie above full scale: 20 bins are kept for that.
        place = min(_BINS - 1, max(0, round(20.0 - 20.0 * math.log10(level))))
        sound[place] += frames
        if kind == self._kernel.TIMECODE:
            timecode[place] += frames
            self.met = True

    def share(self, rest: npt.NDArray[np.float32]) -> float:
        """Share of the sounding time that is timecode. rest: the frames of the unfinished last window."""
        sound, timecode = self._sound.copy(), self._timecode.copy()
        if len(rest) > 1:
            self._enter(rest, sound, timecode)
        levels = np.flatnonzero(sound)
        if len(levels) == 0:
            return 0.0
        heard = slice(levels[0], levels[0] + RANGE_DB)
        return float(timecode[heard].sum() / sound[heard].sum())
