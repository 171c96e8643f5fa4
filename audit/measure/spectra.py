"""Spectra of 100 ms windows, as the blocks go by: what ceiling and side-to-side delay are both taken from.

    WindowSpectra(rate_hz, channels)   .of(block) -> pieces

Windows lie end to end, are weighted with Hann's window and give bins of 10 Hz, so that every rate audio is
stored at falls on a whole number of bins: a spectrum mirrored at 22 050 Hz is mirrored bin by bin.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from audit.measure.cutting import Cutter
from audit.measure.samples import Samples, check_block, check_rate

WINDOW_S = 0.1

Spectrum: TypeAlias = npt.NDArray[np.complex64]
"""One channel's windows: shape (windows, bins), bins of 10 Hz from 0 to half the rate."""


class WindowSpectra:
    """Memory: one window. An unfinished last window is not looked at."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        from scipy.fft import rfft

        from audit.measure.silence_kernel import is_silent

        self._rfft, self._is_silent = rfft, is_silent
        self.rate_hz = rate_hz
        self.channels = channels
        self.frames = round(WINDOW_S * rate_hz)
        self._cutter = Cutter(self.frames, channels)
        turn = 2.0 * np.pi * np.arange(self.frames) / self.frames
        self._window = (0.5 - 0.5 * np.cos(turn)).astype(np.float32)

    def of(self, block: Samples) -> Iterator[tuple[Spectrum, ...]]:
        """The windows that this block completes, in order: tuples of one spectrum a channel.

        block: float32, shape (frames, channels), finite.
        """
        check_block(block, self.channels)
        for piece in self._cutter.cut(block):
            yield tuple(self._transformed(piece[:, channel]) for channel in range(self.channels))

    def _transformed(self, wave: Samples) -> Spectrum:
        wave = np.ascontiguousarray(wave)
        windows = wave.reshape(-1, self.frames)
        if self._is_silent(wave):  # stems rest for minutes
            return np.zeros((len(windows), self.frames // 2 + 1), dtype=np.complex64)
        return np.asarray(self._rfft(windows * self._window, axis=1, overwrite_x=True))
