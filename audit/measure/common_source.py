"""Whether two stems of a song hold the same source, a little apart or upside down.

    CommonSourceMeter(names, rate_hz)   .hear(name, block) of every stem, .step(frames)   .result()

Fed in rounds, with the same frames of every stem. Every third of a second one window of about 90 ms of every
stem's mono sum is transformed, scaled to one energy, and the cross-spectra of all pairs are added up (Welch's
method). Two takes of one part, or two instruments playing the same notes, have a phase between them that
changes from note to note and averages out; one source in two files keeps it. From a pair's cross-spectrum the
generalized cross-correlation tells the lag (Knapp & Carter, "The generalized correlation method for
estimation of time delay", IEEE Trans. ASSP 24(4), 1976 [memory]), here with every half octave that sounds
in both weighing alike, so that the bass alone decides nothing. Its envelope is taken (all phases turned by
one angle count as the same source), for an amplifier or an equaliser turns phases.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples, mono
from audit.results import CommonSource
from audit.units import power_to_db

WINDOW_S, EVERY_S = 0.09, 0.37
"""Windows are powers of two near 90 ms. 0.37 s is no simple share of a beat at any usual tempo."""

LOW_HZ, HIGH_HZ = 50.0, 6000.0
BANDS_AN_OCTAVE = 2
BAND_FLOOR = 10.0 ** (-30.0 / 10.0)
"""A band counts where both stems have in it at least this share of their strongest band's energy."""

LEAST_BANDS = 4
"""Two octaves. A lag is not told from a few partials: all of a tone's periods fit."""

LEAST_WINDOWS = 16
"""Six seconds of both sounding. Unrelated sounds then reach a coherence of about 1/√16 in a single bin, and
far less in the mean of a band."""

SOUND_POWER = 10.0 ** (-60.0 / 10.0)
UNDER_LOUDEST = 10.0 ** (-40.0 / 10.0)
"""A stem sounds in a window above both: −60 dBFS, and 40 dB under its loudest window so far."""

SEARCH_S = 0.025
"""A larger lag than any that is asked for: a tone's next period must not be taken for the lag."""

KEPT = 0.35
"""Pairs with less in common than this are not told of."""

MOST_STEMS = 96
"""All pairs grow with the square of the stems: 96 take some 60 MB. Later ones are not compared."""

FINE, BATCH = 8, 16

Spectra = npt.NDArray[np.complex64]
Wave = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.float64]


class CommonSourceMeter:
    """names: one for each stem. Memory: fixed, about 6 kB a pair of stems."""

    def __init__(self, names: tuple[str, ...], rate_hz: int) -> None:
        self.names = names[:MOST_STEMS]
        self._rate_hz = rate_hz
        self._size = 2 ** round(math.log2(WINDOW_S * rate_hz))
        self._hop = max(self._size, round(EVERY_S * rate_hz))
        self._shape = np.hanning(self._size + 1)[:-1].astype(np.float32)
        first, last = math.ceil(LOW_HZ * self._size / rate_hz), int(HIGH_HZ * self._size / rate_hz)
        self._bins = np.arange(first, min(last, self._size // 2 - 1) + 1)
        count, bins = len(self.names), len(self._bins)
        self._cross = np.zeros((bins, count, count), dtype=np.complex64)
        self._own = np.zeros((bins, count, count), dtype=np.float32)
        self._level = np.zeros((count, count))  # energy of one stem where the other sounds
        self._together = np.zeros((count, count))
        self._open = np.zeros((count, self._size), dtype=np.float32)
        self._spectra = np.zeros((bins, count, BATCH), dtype=np.complex64)
        self._energy = np.zeros((count, BATCH))
        self._loudest = np.zeros(count)
        self._rows = {name: row for row, name in enumerate(self.names)}
        self._heard: dict[int, dict[int, tuple[float, Spectra | None]]] = {}  # of this round, by window
        self._filled = 0
        self._at = 0  # frames fed so far

    def hear(self, name: str, block: Samples) -> None:
        """One stem's block of this round, float32, shape (frames, channels), finite; `step` ends the round.
        It is not kept."""
        if name not in self._rows:
            return
        row = self._rows[name]
        for number, start in self._windows(len(block)):
            begin, end = max(start, self._at), min(start + self._size, self._at + len(block))
            if start >= self._at and end == start + self._size:
                window = mono(block[start - self._at : end - self._at])  # whole in this block
            else:
                piece = block[begin - self._at : end - self._at]
                self._open[row, begin - start : end - start] = mono(piece)
                if end < start + self._size:
                    continue
                window = self._open[row]
            self._heard.setdefault(number, {})[row] = self._transformed(row, window)
            self._open[row] = 0.0

    def step(self, length: int) -> None:
        """End of a round in which the longest block had this many frames."""
        for number, start in self._windows(length):
            if start + self._size > self._at + length:
                break
            # A stem that ended inside of the window: what it still had, and silence.
            heard = self._heard.pop(number, {})
            for row in np.flatnonzero(self._open.any(axis=1)).tolist():
                if row not in heard:
                    heard[row] = self._transformed(row, self._open[row])
                    self._open[row] = 0.0
            self._enter(heard)
        self._at += length

    def _windows(self, length: int) -> Iterator[tuple[int, int]]:
        """Number and first frame of every window that has a share in the next `length` frames."""
        number = max(0, (self._at - self._size) // self._hop)
        while number * self._hop < self._at + length:
            if number * self._hop + self._size > self._at:
                yield number, number * self._hop
            number += 1

    def _transformed(self, row: int, window: Wave) -> tuple[float, Spectra | None]:
        """Mean square of a window, and its spectrum in one scale; none where the stem does not sound."""
        energy = float(np.square(window, dtype=np.float64).mean())
        self._loudest[row] = max(self._loudest[row], energy)
        if energy <= max(SOUND_POWER, UNDER_LOUDEST * self._loudest[row]):
            return 0.0, None
        scale = np.float32(1.0 / math.sqrt(max(energy, SOUND_POWER) * self._size))
        return energy, np.fft.rfft(window * (scale * self._shape))[self._bins].astype(np.complex64)

    def _enter(self, heard: Mapping[int, tuple[float, Spectra | None]]) -> None:
        self._spectra[:, :, self._filled] = 0.0
        self._energy[:, self._filled] = 0.0
        for row, (energy, spectrum) in heard.items():
            if spectrum is not None:
                self._spectra[:, row, self._filled] = spectrum
                self._energy[row, self._filled] = energy
        self._filled += 1
        if self._filled == BATCH:
            self._sum_up()

    def _sum_up(self) -> None:
        if self._filled == 0:
            return
        spectra, energy = self._spectra[:, :, : self._filled], self._energy[:, : self._filled]
        sounds = energy > 0.0
        self._cross += np.conj(spectra) @ spectra.transpose(0, 2, 1)
        self._own += (spectra.real**2 + spectra.imag**2) @ sounds.T.astype(np.float32)
        self._level += energy @ sounds.T
        self._together += sounds.astype(np.float64) @ sounds.T
        self._filled = 0

    def result(self) -> tuple[CommonSource, ...]:
        """Every pair that has at least KEPT in common, in the order of the names."""
        self._sum_up()
        found = []
        for first in range(len(self.names)):
            for second in range(first + 1, len(self.names)):
                if self._together[first, second] >= LEAST_WINDOWS:
                    one = self._compared(first, second)
                    if one is not None:
                        found.append(one)
        return tuple(found)

    def _compared(self, first: int, second: int) -> CommonSource | None:
        cross = self._cross[:, first, second].astype(np.complex128)
        bands = self._bands()
        starts = np.flatnonzero(np.diff(bands, prepend=-1))
        mine = np.add.reduceat(self._own[:, first, second].astype(np.float64), starts)
        other = np.add.reduceat(self._own[:, second, first].astype(np.float64), starts)
        counts = (mine > BAND_FLOOR * mine.max()) & (other > BAND_FLOOR * other.max())
        if counts.sum() < LEAST_BANDS:
            return None
        inverse = np.where(counts, 1.0 / np.sqrt(np.maximum(mine * other, 1e-30)), 0.0) / counts.sum()
        spectrum = np.zeros(self._size * FINE, dtype=np.complex128)
        spectrum[self._bins] = cross * np.repeat(inverse, np.diff([*starts, len(bands)]))
        curve = np.fft.ifft(spectrum) * len(spectrum)
        reach = round(SEARCH_S * self._rate_hz * FINE)
        near = np.concatenate([curve[-reach:], curve[: reach + 1]])
        best = int(np.argmax(np.abs(near)))
        lag = (best - reach) / FINE  # frames
        shrunk = self._shared_window(lag)
        likeness = float(np.abs(near[best])) / shrunk
        if likeness < KEPT:
            return None
        turned = np.add.reduceat(cross * np.exp(2j * np.pi * self._bins * lag / self._size), starts)
        single = np.abs(turned[counts]) / np.sqrt(mine * other)[counts] / shrunk
        level_db = power_to_db(self._level[second, first] / self._level[first, second])
        return CommonSource(
            first=self.names[first],
            second=self.names[second],
            lag_ms=1000.0 * lag / self._rate_hz,
            lag_frames=lag,
            likeness=min(1.0, likeness),
            coherence=min(1.0, float(single.mean())),
            turned_deg=abs(math.degrees(float(np.angle(near[best])))),
            level_db=level_db,
            together_s=float(self._together[first, second]) * self._hop / self._rate_hz,
        )

    def _bands(self) -> npt.NDArray[np.int64]:
        """The number of the band that each bin belongs to, ascending."""
        hz = self._bins * self._rate_hz / self._size
        return np.asarray(np.floor(BANDS_AN_OCTAVE * np.log2(hz / LOW_HZ) + 1e-9), dtype=np.int64)

    def _shared_window(self, lag: float) -> float:
        """By how much a lag alone lowers the correlation: what the window shares with itself, moved."""
        whole = min(round(abs(lag)), self._size - 1)
        shape = self._shape.astype(np.float64)
        return float(shape[whole:] @ shape[: self._size - whole] / (shape @ shape))
