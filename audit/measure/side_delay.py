"""How the two sides of a pair are alike once a delay between them is taken away.

    SideDelayMeter(rate_hz, channels)   .add(block), .result(channels) -> SideDelay | None

Correlation of left and right over lags of up to 1 ms either way, over the whole file: the inverse transform
of the cross-spectra's sum, over the root of both energies. A side that is the other upside down and a little
late shows as a deep low away from lag 0, where the plain correlation says next to nothing.
"""

from __future__ import annotations

import numpy as np

from audit.measure.samples import Samples
from audit.measure.spectra import Spectrum, WindowSpectra
from audit.measure.steps import part_channels
from audit.results import SideDelay

FARTHEST_S = 0.001


class SideDelayMeter:
    """spectra: shared windows; whoever shares them calls `look`, and `add` does nothing. Memory: one spectrum
    a pair."""

    def __init__(self, rate_hz: int, channels: int, *, spectra: WindowSpectra | None = None) -> None:
        from audit.measure import side_delay_kernel as kernel

        self._kernel = kernel
        self._own = spectra is None
        self._spectra = WindowSpectra(rate_hz, channels) if spectra is None else spectra
        bins = self._spectra.frames // 2 + 1
        self._cross = np.zeros((channels // 2, 2, bins))  # real and imaginary part
        self._energy = np.zeros((channels, bins))

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        if self._own:
            for spectra in self._spectra.of(block):
                self.look(spectra)

    def look(self, spectra: tuple[Spectrum, ...]) -> None:
        """Windows of every channel, from WindowSpectra."""
        for pair, (real, imaginary) in enumerate(self._cross):
            left, right = (np.ascontiguousarray(spectra[2 * pair + side]).view(np.float32) for side in (0, 1))
            self._kernel.add_pair(left, right, real, imaginary, self._energy[2 * pair : 2 * pair + 2])

    def result(self, channels: tuple[int, ...] | None = None) -> SideDelay | None:
        """Of one pair (0, 1), (2, 3) …; None for anything else, and where a side is silent."""
        part = part_channels(channels, len(self._energy))
        if len(part) != 2 or abs(part[0] - part[1]) != 1 or min(part) % 2:
            return None
        frames = self._spectra.frames
        energies = [float(np.fft.irfft(self._energy[channel], n=frames)[0]) for channel in part]
        if min(energies) <= 0.0:
            return None
        real, imaginary = self._cross[min(part) // 2]
        lags = np.fft.irfft(real + 1j * imaginary, n=frames) / np.sqrt(energies[0] * energies[1])
        farthest = round(FARTHEST_S * self._spectra.rate_hz)
        near = np.concatenate((lags[-farthest:], lags[: farthest + 1]))
        lowest = int(near.argmin())
        return SideDelay(
            lowest=float(np.clip(near[lowest], -1.0, 1.0)),
            lowest_at_ms=1000.0 * (lowest - farthest) / self._spectra.rate_hz,
            highest=float(np.clip(near.max(), -1.0, 1.0)),
        )
