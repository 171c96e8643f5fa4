"""Looks for a click's ticks at given places, under whatever lies over them (a spoken count, mostly).

    TickSearch(rate_hz, channels, places_s, sounds)   .add(block), .result() -> Finding a place

A matched filter: the tick's waveform is known and its level too, so the question is only whether it is there.
The piece of audio around a place is whitened by its own smoothed spectrum, which weighs each frequency by how
little else there is (the generalised least-squares estimate of the tick's gain). The gains found farther
than 20 ms from the place tell how far that estimate can be trusted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.tick_events import Numbers

AROUND_S = 0.08
NEAR_S = 0.015
AWAY_S = 0.02
SMOOTHED_HZ = 150.0
QUIETEST = 1e-4
PRESENT = 0.15
SURELY = 5.0
"""There: at a seventh of its usual level or more (it may be turned down, and a long tick is only partly
explained by its first 12 ms), and five times the estimate's spread."""

TRUSTED = 0.1
"""Spread of the gain, against the tick's own, up to which its absence can be told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TickSound:
    """One kind of tick: its waveform, and the peak it usually has (that of the waveform being 1.0)."""

    kind: int
    wave: Numbers  # shape (frames,); the sound starts `start_s` into it
    start_s: float
    peak: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """What was found at one place. there: None where too much lies over it to tell."""

    place_s: float
    there: bool | None
    at_s: float  # start of the tick's sound; the place itself unless `there`
    kind: int
    peak: float


class TickSearch:
    """Memory: the audio between a place and the one before it, 0.2 s at most, and one row a place."""

    def __init__(
        self, rate_hz: int, channels: int, places_s: Sequence[float], sounds: Sequence[TickSound]
    ) -> None:
        check_rate(rate_hz)
        self._rate_hz = rate_hz
        self._channels = channels
        self._sounds = tuple(sounds)
        self._waiting = sorted(places_s)
        self._around = round(AROUND_S * rate_hz)
        self._held = np.zeros((self._around, channels), dtype=np.float32)
        self._first = -self._around
        self._found: list[Sought] = []

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        for start in range(0, len(block), 1 << 16):
            self._take(block[start : start + (1 << 16)])

    def result(self) -> tuple[Sought, ...]:
        """One row a place, in order of time. The file is over: silence follows it."""
        self._take(np.zeros((2 * self._around, self._channels), dtype=np.float32))
        return tuple(self._found)

    def _take(self, block: Samples) -> None:
        if not self._waiting:
            return
        self._held = np.concatenate([self._held, block])
        end = self._first + len(self._held)
        while self._waiting and round(self._waiting[0] * self._rate_hz) + self._around <= end:
            self._found.append(self._look(self._waiting.pop(0)))
        next_frame = round(self._waiting[0] * self._rate_hz) - self._around if self._waiting else end
        keep_from = max(self._first, min(end - 2 * self._around, next_frame))
        self._held = self._held[keep_from - self._first :]
        self._first = keep_from

    def _look(self, place_s: float) -> Sought:
        centre = round(place_s * self._rate_hz) - self._first
        piece = self._held[max(0, centre - self._around) : centre + self._around].astype(np.float64)
        middle = min(centre, self._around)
        channel = int(np.argmax(np.sum(piece**2, axis=0) > 0.5 * np.sum(piece**2, axis=0).max()))
        best: tuple[float, Sought] | None = None
        for sound in self._sounds:
            gain, away, at = self._fit(piece[:, channel], sound, middle)
            share, spread = gain / sound.peak, away / sound.peak
            there: bool | None = None
            if share >= max(PRESENT, SURELY * spread):
                there = True
            elif spread <= TRUSTED and share < max(PRESENT, 2.0 * spread):
                there = False
            at_s = (self._first + max(0, centre - self._around) + at) / self._rate_hz + sound.start_s
            sought = Sought(
                place_s=place_s, there=there, at_s=at_s if there else place_s, kind=sound.kind,
                peak=sound.peak,
            )  # fmt: skip
            # The sound that fits best answers; where none does, one that cannot tell outweighs a no.
            rank = share / max(spread, 0.02) if there else (1.0 if there is None else 0.0)
            if best is None or rank > best[0]:
                best = (rank, sought)
        assert best is not None, "a search needs a sound to look for"
        return best[1]

    def _fit(self, piece: Numbers, sound: TickSound, middle: int) -> tuple[float, float, int]:
        """Largest gain near the place, its usual size away from it, and the first frame of the best fit."""
        size = 1 << (len(piece) + len(sound.wave)).bit_length()
        spectrum, pattern = np.fft.rfft(piece, size), np.fft.rfft(sound.wave, size)
        width = max(3, round(SMOOTHED_HZ * size / self._rate_hz)) | 1
        power = np.abs(spectrum) ** 2
        smooth = np.convolve(np.pad(power, width // 2, mode="edge"), np.ones(width) / width, mode="valid")
        weight = 1.0 / (smooth + QUIETEST * smooth.max() + 1e-20)
        # Where the tick itself has nothing, its waveform holds the noise of the file alone.
        strength = np.abs(pattern) ** 2
        pattern = np.where(strength >= QUIETEST * strength.max(), pattern, 0.0)
        gains = np.fft.irfft(spectrum * np.conj(pattern) * weight, size)[
            : max(1, len(piece) - len(sound.wave))
        ]
        # Energy of the pattern under the same weights, as irfft counts it: inner bins twice.
        energy = np.fft.irfft(np.abs(pattern) ** 2 * weight, size)[0]
        gains = gains / max(energy, 1e-300)
        lead = round(sound.start_s * self._rate_hz)
        target = middle - lead
        near, away = round(NEAR_S * self._rate_hz), round(AWAY_S * self._rate_hz)
        first, last = max(0, target - near), max(1, min(len(gains), target + near + 1))
        # Only a peak counts: what still rises at the edge belongs to a tick that lies outside.
        peaks = [
            k for k in range(max(first, 1), min(last, len(gains) - 1))
            if gains[k - 1] <= gains[k] >= gains[k + 1]
        ]  # fmt: skip
        at = max(peaks, key=lambda k: float(gains[k]), default=min(max(target, 0), len(gains) - 1))
        rest = np.concatenate([gains[: max(0, target - away)], gains[target + away :]])
        spread = float(np.sqrt(np.mean(rest**2))) if len(rest) else 0.0
        return float(gains[at]), spread, at
