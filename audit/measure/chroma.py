"""Harmony: which pitch classes sound when, how surely they are tones, and how they are tuned.

    ChromaMeter(rate_hz, channels)   .add(block)   .result(channels) -> Chroma

Each channel is thinned out to 8 kHz and more, cut into Hann windows of 2048 values (186 to 256 ms) every
100 ms, and its spectrum searched for tones between 38 and 2800 Hz: places that stand 12 dB over their
surroundings, which noise and the stroke of a drum have few of. A tone adds its amplitude (not its power: the
bass would drown the chord) to its place of the octave, a third of a semitone wide. The places are folded into
twelve classes around the tuning that the stem's own tones agree on, so a stem that is 40 cents sharp has
clear classes too. Windows of a quarter second part the partials of single low notes, not those of low chords.

After the pitch class profile of Fujishima (1999) and the harmonic one of Gómez (2006), which takes the tops
of the spectrum too [memory]. Tests compare with librosa's chroma.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from audit.measure.kept import KeptRows
from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.steps import part_channels
from audit.results import Chroma

Floats = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]

LOWEST_HZ, HIGHEST_HZ = 38.0, 2800.0
THINNED_HZ = 8000
WINDOW = 2048
HOP_S = 0.1

STOP_DB = 50.0
"""What folds back into the range is at least so much weaker."""

MOST_HOPS = 144_000
"""Four hours; later ones are not kept."""

FLOOR_DB = -120.0
STEPS_A_DB = 2.0
"""Levels are kept in half decibels above −120 dBFS."""

SURE = 0.25
"""Tones whose deviations from the semitones agree by less (mean resultant length, 0 … 1) have no tuning."""


def design_thinning(rate_hz: int) -> tuple[int, Floats]:
    """The factor to thin out by, and the taps of the low-pass before it (an odd number, linear phase).

    Kaiser's window and his formula for the number of taps (Kaiser 1974 [memory]).
    """
    factor = max(1, rate_hz // THINNED_HZ)
    if factor == 1:
        return 1, np.ones(1, dtype=np.float32)
    thinned_hz = rate_hz / factor
    change = 2.0 * np.pi * (thinned_hz - 2.0 * HIGHEST_HZ) / rate_hz
    half = int(np.ceil((STOP_DB - 8.0) / (2.285 * change) / 2.0))
    beta = 0.5842 * (STOP_DB - 21.0) ** 0.4 + 0.07886 * (STOP_DB - 21.0)
    at = np.arange(-half, half + 1)
    taps = np.sinc(at / factor) * np.kaiser(2 * half + 1, beta)
    return factor, (taps / taps.sum()).astype(np.float32)


class ChromaMeter:
    """Memory: 37 bytes a channel and 100 ms, deflated, for at most MOST_HOPS of them."""

    def __init__(
        self, rate_hz: int, channels: int, *, also: Callable[[int, Floats], object] | None = None
    ) -> None:
        """also: told every channel's power spectra, shape (hops, bins of `bin_hz`), as they come."""
        from audit.measure import chroma_kernel as kernel
        from audit.measure.silence_kernel import is_silent

        check_rate(rate_hz)
        from scipy.fft import rfft  # three times as fast as numpy's on many short rows of float32

        self._rfft, self._is_silent = rfft, is_silent
        self._kernel = kernel
        self._also = also
        self._channels = channels
        self._factor, self._taps = design_thinning(rate_hz)
        thinned_hz = rate_hz / self._factor
        self._hop = round(HOP_S * thinned_hz)
        self._hop_s = self._hop / thinned_hz
        self._bin_hz = thinned_hz / WINDOW
        self._low = int(np.ceil(LOWEST_HZ / self._bin_hz))
        self._high = int(HIGHEST_HZ / self._bin_hz)
        # Periodic Hann; scaled so that a full-scale sine has the power 1.
        hann = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(WINDOW) / WINDOW)
        self._window = (hann * 4.0 / WINDOW).astype(np.float32)
        # Zeros before the start: value 0 of the thinned wave lies on frame 0, window 0 around it.
        self._rest = np.zeros((channels, len(self._taps) // 2), dtype=np.float32)
        self._thinned = np.zeros((channels, WINDOW // 2), dtype=np.float32)
        # A place of the octave a column, and the level.
        self._kept = [KeptRows(kernel.FINE + 1) for _ in range(channels)]
        self._sums = np.zeros((channels, kernel.SUMS))
        self._hops = 0

    @property
    def bin_hz(self) -> float:
        """How far the values of the spectra lie apart."""
        return self._bin_hz

    @property
    def hop_s(self) -> float:
        return self._hop_s

    def add(self, block: Samples) -> None:
        """The next block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        wave = np.concatenate([self._rest, block.T], axis=1)
        count = max(0, (wave.shape[1] - len(self._taps)) // self._factor + 1)
        thinned = np.empty((self._channels, count), dtype=np.float32)
        if count:
            for channel in range(self._channels):
                if self._is_silent(wave[channel]):
                    thinned[channel] = 0.0
                else:
                    self._kernel.thin_out(wave[channel], self._taps, self._factor, thinned[channel])
        self._rest = wave[:, count * self._factor :].copy()
        self._thinned = np.concatenate([self._thinned, thinned], axis=1)
        hops = (self._thinned.shape[1] - WINDOW) // self._hop + 1
        if hops > 0:
            for channel in range(self._channels):
                if self._hops < MOST_HOPS:
                    self._search(channel, hops)
            self._hops += hops
            self._thinned = self._thinned[:, hops * self._hop :].copy()

    def _search(self, channel: int, hops: int) -> None:
        power = self._powers(self._thinned[channel], hops)
        if self._also is not None:
            self._also(channel, power)
        fine = np.zeros((hops, self._kernel.FINE), dtype=np.float32)
        levels = np.zeros(hops, dtype=np.float32)
        self._kernel.find_tones(power, self._bin_hz, self._low, self._high, fine, levels, self._sums[channel])
        top = np.maximum(fine.max(axis=1, keepdims=True), 1e-9)
        kept = np.empty((hops, self._kernel.FINE + 1), dtype=np.uint8)
        kept[:, :-1] = np.rint(255.0 * fine / top)
        kept[:, -1] = _packed(levels)
        self._kept[channel].extend(kept)

    def _powers(self, thinned: Floats, hops: int) -> Floats:
        """Power spectra of the next windows, shape (hops, bins)."""
        if self._is_silent(thinned):  # stems rest for minutes
            return np.zeros((hops, WINDOW // 2 + 1), dtype=np.float32)
        windows = np.empty((hops, WINDOW), dtype=np.float32)
        self._kernel.cut_windows(thinned, self._hop, self._window, windows)
        spectra = self._rfft(windows, axis=1, overwrite_x=True)
        power = np.empty(spectra.shape, dtype=np.float32)
        self._kernel.powers(spectra.view(np.float32), power)
        return power

    def result(self, channels: tuple[int, ...] | None = None) -> Chroma:
        """The harmony of some channels together (0-based; None: all).

        Silence and noise give hops whose level is 0 and whose classes are all 0. The last half window (128
        ms) is not told.
        """
        chosen = part_channels(channels, self._channels)
        sums = self._sums[list(chosen)].sum(axis=0)
        kernel = self._kernel
        agreed = float(np.hypot(sums[kernel.COSINE], sums[kernel.SINE]) / max(sums[kernel.WEIGHT], 1e-12))
        tuning = float(np.arctan2(sums[kernel.SINE], sums[kernel.COSINE]) / (2.0 * np.pi))
        told = agreed >= SURE
        fold = folding(tuning if told else 0.0, kernel.FINE)
        classes, levels = array("B"), array("B")
        for fine, level in self._together(chosen):
            folded = fine @ fold
            top = np.maximum(folded.max(axis=1, keepdims=True, initial=0.0), 1e-9)
            classes.frombytes(np.rint(255.0 * folded / top).astype(np.uint8).tobytes())
            levels.frombytes(_packed(level).tobytes())
        return Chroma(
            hop_s=self._hop_s,
            classes=classes,
            levels=levels,
            tonal=float(sums[kernel.TONAL] / max(sums[kernel.SOUNDING], 1e-12)),
            tuning_cents=100.0 * tuning if told else None,
            tuning_agreed=agreed,
        )

    def _together(self, channels: tuple[int, ...]) -> Iterator[tuple[Floats, Floats]]:
        """Amplitudes of the hops' places, shape (hops, FINE), and their sums: channels added; in pieces."""
        for pieces in zip(*(self._kept[channel].pieces() for channel in channels), strict=True):
            total = np.zeros((len(pieces[0]), self._kernel.FINE), dtype=np.float32)
            level = np.zeros(len(pieces[0]), dtype=np.float32)
            for kept in pieces:
                places = kept[:, :-1].astype(np.float32)
                sound = unpacked(kept[:, -1])
                total += places * (sound / np.maximum(places.sum(axis=1), 1e-9))[:, None]
                level += sound
            yield total, level


def folding(tuning: float, places: int) -> Floats:
    """Weights of each place of the octave in each class, shape (places, 12). tuning: in semitones.

    A class takes whole what lies within a third of a semitone of it, and nothing from two thirds on.
    """
    at = np.arange(places) * 12.0 / places - tuning
    off = np.abs((at[:, None] - np.arange(12)[None, :] + 6.0) % 12.0 - 6.0)
    return np.clip(2.0 - 3.0 * off, 0.0, 1.0).astype(np.float32)


def _packed(level: Floats) -> Bytes:
    steps = STEPS_A_DB * (20.0 * np.log10(np.maximum(level, 1e-12)) - FLOOR_DB)
    return np.clip(np.rint(steps), 0, 255).astype(np.uint8)


def unpacked(levels: Bytes) -> Floats:
    """Amplitudes of levels as a Chroma keeps them; 0.0 for those of 0."""
    amplitudes = 10.0 ** ((levels / STEPS_A_DB + FLOOR_DB) / 20.0)
    return np.where(levels > 0, amplitudes, 0.0).astype(np.float32)
