"""Whether what a stem holds is the noise of a broken file, which a clip must never play loudly.

    NoiseMeter(shape)   .add(block), .add_clip(block), .noise -> bool
    LoudNoise(rate_hz, channels)   .add(block), .found -> bool

Two signs, each enough. The clip itself: loud noise as no instrument makes it, on any one channel, before
channels are added up. And all that was read on the way to it: samples whose bytes are in the wrong places or
are none of audio (measure.scrambled). A quiet stretch of those is not at full scale, but is no sound either.
"""

from __future__ import annotations

import numpy as np

from audit.facts import StemFormat
from audit.measure.cutting import Cutter
from audit.measure.samples import Samples
from audit.measure.scrambled import ScrambledMeter

NOISE_WINDOW_S = 0.010
NOISE_WINDOWS = 5
NOISE_RMS_DB = -15.0
NOISE_TILT = 1.0
"""Noise: 50 ms on end at −15 dBFS RMS and more whose first difference has more energy than the wave itself.

White noise has 2.0; music has little above a quarter of its rate and stays far below 1, and samples that were
cut at the wrong byte are as good as white at −4.8 dBFS.
"""

SCRAMBLED_SHARE = 0.05
"""Of the windows that sound, as the rule full-scale-noise has it; one window is enough here: to be wrong
makes a clip soft, no more."""


class NoiseMeter:
    """shape: of the stem that is read. Memory: half a second of it."""

    def __init__(self, shape: StemFormat) -> None:
        self._scrambled = ScrambledMeter(
            shape.sample_rate_hz, shape.channels, bits=shape.bits, is_float=shape.is_float
        )
        self._loud = LoudNoise(shape.sample_rate_hz, shape.channels)

    def add(self, block: Samples) -> None:
        """What is read of the stem, in order; float32, shape (frames, channels), finite."""
        self._scrambled.add(block)

    def add_clip(self, block: Samples) -> None:
        """That of it which belongs to the clip."""
        self._loud.add(block)

    @property
    def noise(self) -> bool:
        found = self._scrambled.result()
        return self._loud.found or max(found.readable, found.even) > SCRAMBLED_SHARE * found.windows


class LoudNoise:
    """Windows on end that are noise, channel by channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        self._window = max(2, round(NOISE_WINDOW_S * rate_hz))
        self._cutter = Cutter(self._window, channels)
        self._run = np.zeros(channels, dtype=np.int64)
        self.found = False

    def add(self, block: Samples) -> None:
        for piece in self._cutter.cut(block):
            windows = np.clip(piece, -1e6, 1e6).astype(np.float64).reshape(-1, self._window, len(self._run))
            power = np.mean(windows**2, axis=1)
            steps = np.mean(np.diff(windows, axis=1) ** 2, axis=1)
            noisy = (power >= 10.0 ** (NOISE_RMS_DB / 10.0)) & (steps > NOISE_TILT * power)
            for one in noisy:
                self._run = np.where(one, self._run + 1, 0)
                self.found |= bool(np.any(self._run >= NOISE_WINDOWS))
