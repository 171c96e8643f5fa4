"""How a part's level runs through the file, in few enough bins for a picture.

    EnvelopeMeter(rate_hz, channels)   .add(block), .result(channels) -> Envelope

Bins are whole numbers of the 100 ms steps that levels are computed from anyway, as many together as it takes
to stay within MOST_BINS. A bin holds the highest |sample| and the RMS; both in half decibels, finer than any
picture shows.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples
from audit.measure.steps import StepSums, part_channels
from audit.results import Envelope

MOST_BINS = 720
"""A page is hardly wider in dots, and a show of 1500 stems stays a file that can be mailed."""

FULL_SCALE_CODE = 240
CODES_A_DB = 2


class EnvelopeMeter:
    """Memory: that of its step sums (12 bytes per channel and 100 ms).

    sums: shared step sums; whoever shares them feeds them, and `add` does nothing.
    """

    def __init__(self, rate_hz: int, channels: int, *, sums: StepSums | None = None) -> None:
        self._own = sums is None
        self._sums = StepSums(rate_hz, channels) if sums is None else sums

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        if self._own:
            self._sums.add(block)

    def result(self, channels: tuple[int, ...] | None = None) -> Envelope | None:
        """Envelope of the given channels together (None: all); None where there is no frame."""
        part = list(part_channels(channels, self._sums.channels))
        tops = self._sums.tops[:, part].max(axis=1)
        if not len(tops):
            return None
        powers = self._sums.powers[:, part].mean(axis=1, dtype=np.float64)
        together = -(-len(tops) // MOST_BINS)
        starts = np.arange(0, len(tops), together)
        # A shorter last step weighs by its length.
        lengths = self._sums.step_lengths_s
        squares = np.add.reduceat(powers * lengths, starts) / np.add.reduceat(lengths, starts)
        return Envelope(
            bin_s=together * self._sums.step_frames / self._sums.rate_hz,
            peaks=_codes(np.maximum.reduceat(tops, starts).astype(np.float64)).tobytes(),
            levels=_codes(np.sqrt(squares)).tobytes(),
        )


def _codes(amplitudes: npt.NDArray[np.float64]) -> npt.NDArray[np.uint8]:
    """Amplitudes (full scale 1.0) as the bytes of an Envelope."""
    sounding = amplitudes > 0.0
    level_db = 20.0 * np.log10(np.where(sounding, amplitudes, 1.0))
    codes = np.clip(np.round(level_db * CODES_A_DB) + FULL_SCALE_CODE, 1, 255)
    return np.where(sounding, codes, 0).astype(np.uint8)
