"""Samples whose bytes are not where the header says: swapped, shifted, of another width, or no audio at all.

    ScrambledMeter(rate_hz, channels, bits=…, is_float=…)   .add(block), .result() -> Scrambled

Such a file plays as loud noise. That noise alone proves little (cymbals, risers and distortion are noise as
well), so the window's bytes are read again in the ways that files really go wrong, and the proof is that one
of them gives a smooth waveform. Roughness is Σ(x[n] − x[n−1])² over Σ(x − mean)², 2 for samples without any
relation, far below 0.1 for most music; a window is looked at closer from ROUGH on, and read right where
another reading is four times smoother and below SMOOTH. No shuffling of the bytes of real noise does that.

Where no reading helps, the samples may be no audio at all: coded, encrypted or random bytes have every value
equally often from −full scale to +full scale, RMS 1/√3, and no relation from one to the next.

A window of 1024 frames every half second is looked at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt

from audit.measure.cutting import Cutter
from audit.measure.samples import Samples, check_block, check_rate
from audit.results import Reading, Scrambled

HOP_S = 0.5
WINDOW_FRAMES = 1024

SOUND_RMS = 0.003
"""−50 dBFS."""

ROUGH = 0.15
SMOOTH, SMOOTHER = 0.5, 4.0

NOISY = 1.0
"""Roughness below which 16-bit samples are no halves of 32-bit ones: every other half is noise, or nothing.
To read them so leaves out every other sample, in a stereo file a whole side, which may be the rough one."""

UNSIGNED_HEIGHT = 0.6
"""Mean |x| past which samples may be unsigned ones taken for signed: music then leaps from one full scale to
the other where it crosses zero, seldom enough to be smooth between."""

AT_REST, LONGEST_REST = 0.02, 0.05
"""Unsigned samples rest at full scale, never at zero: no more than this share of a window may be this near
zero. Or a click of square bursts is smoother with its silence at full scale."""

FEWEST_HEIGHTS, HEIGHT = 32, 2.0**-13
"""Heights, −78 dBFS apart, that a window takes at least which is read again: bytes in the wrong places take
many, and pulses of few heights, dithered or not, may become smooth by any reading."""

QUIETEST_RMS, LOUDEST_PEAK = 1e-4, 4.0
"""What a reading has to lie between to be audio: −80 dBFS, and float audio 12 dB over full scale."""

TRIES = 40
"""Rough windows that are read in every way; after that every eighth, or a noisy hour would take minutes."""

UNIFORM_SQUARE, UNIFORM_ABS = (0.30, 0.37), (0.47, 0.53)
"""Mean square and mean |x| of evenly spread samples: 1/3 and 1/2, with five standard errors of a window."""

UNIFORM_ROUGH = (1.75, 2.25)

Bytes = npt.NDArray[np.uint8]
Wave = npt.NDArray[np.float64]


class ScrambledMeter:
    """bits: valid bits of a PCM sample, None for lossy codecs, which are never read again. Memory: 0.5 s."""

    def __init__(self, rate_hz: int, channels: int, *, bits: int | None, is_float: bool) -> None:
        check_rate(rate_hz)
        from audit.measure import scrambled_kernel as kernel

        self._kernel = kernel
        self._channels = channels
        self._is_float = is_float
        self._width = 4 if is_float else 0 if bits is None else (bits + 7) // 8
        self._hop = max(WINDOW_FRAMES, round(HOP_S * rate_hz))
        self._cutter = Cutter(self._hop, channels)
        self._index = 0
        self._windows = self._rough = self._even = 0
        self._first_even: int | None = None
        self._read: Counter[Reading] = Counter()
        self._first_read: dict[Reading, int] = {}
        self._roughness: dict[Reading, tuple[float, float]] = {}

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        for piece in self._cutter.cut(block):
            for start in range(0, len(piece), self._hop):
                self._look(piece[start : start + WINDOW_FRAMES], self._index * self._hop)
                self._index += 1

    def _look(self, window: Samples, frame: int) -> None:
        if self._width == 0:
            return
        squares, heights, steps, energies = np.empty((4, self._channels))
        peak = self._kernel.sums_of(window, squares, heights, steps, energies)
        frames = len(window)
        if squares.sum() < SOUND_RMS**2 * window.size:
            return
        self._windows += 1
        if peak <= 1.0 and _is_even(squares / frames, heights / frames, steps / max(1, frames - 1)):
            self._even += 1
            self._first_even = frame if self._first_even is None else self._first_even
        energy = float(energies.sum())
        before = float(steps.sum()) / energy if energy > 0.0 else 0.0
        high = bool(heights.sum() > UNSIGNED_HEIGHT * window.size)
        if before >= ROUGH or high:
            self._look_closer(window, frame, before, high=high)

    def _look_closer(self, window: Samples, frame: int, before: float, *, high: bool) -> None:
        """Whether another reading of it is right. before: its roughness as it is."""
        self._rough += 1
        if self._rough > TRIES and self._rough % 8 and not self._read:
            return
        if self._has_few_heights(window):
            return
        best, least = self._read_otherwise(window, before, unsigned=high and _may_be_unsigned(window))
        if best is not None and least < SMOOTH and SMOOTHER * least < before:
            self._read[best] += 1
            self._first_read.setdefault(best, frame)
            self._roughness.setdefault(best, (before, least))

    def _read_otherwise(
        self, window: Samples, before: float, *, unsigned: bool
    ) -> tuple[Reading | None, float]:
        """The smoothest reading of its bytes, with its roughness; None where none is smoother than `before`.

        unsigned: whether the samples may be. Once a window was read, only that reading is tried.
        """
        likely = self._read.most_common(1)[0][0] if self._read else None
        best, least = None, before
        for reading, wave in readings(window, self._width, is_float=self._is_float):
            if likely in (None, reading) and self._may_be(reading, before, unsigned=unsigned):
                after = self._roughness_of_audio(wave, before)
                if after < least:
                    best, least = reading, after
        return best, least

    def _may_be(self, reading: Reading, before: float, *, unsigned: bool) -> bool:
        """Whether a window of that roughness is worth this reading."""
        if reading is Reading.UNSIGNED:
            return unsigned
        if reading is Reading.INTEGER_32 and self._width == 2 and before < NOISY:
            return False
        return before >= ROUGH

    def _has_few_heights(self, window: Samples) -> bool:
        # Floats out of place are mostly far smaller than any height; and nobody dithers right ones.
        if self._width == 1:  # 256 heights in all: what rests at zero is seen off by itself
            return False
        heights = window if self._is_float else np.rint(window * np.float32(1.0 / HEIGHT))
        return len(np.unique(heights)) < FEWEST_HEIGHTS

    def _roughness_of_audio(self, wave: Wave, otherwise: float) -> float:
        """Roughness of what may be audio by its level; otherwise the other value."""
        if len(wave) < 2:
            return otherwise
        peak, energy, steps = self._kernel.survey(wave)
        if peak > LOUDEST_PEAK or energy <= QUIETEST_RMS**2 * wave.size:
            return otherwise
        return float(steps / energy)

    def result(self) -> Scrambled:
        """Of all channels together, as bytes move across them."""
        reading = self._read.most_common(1)[0][0] if self._read else None
        before, after = self._roughness[reading] if reading else (0.0, 0.0)
        return Scrambled(
            windows=self._windows,
            reading=reading,
            readable=self._read[reading] if reading else 0,
            even=self._even,
            first_at_frame=self._first_read[reading] if reading else self._first_even,
            roughness=before,
            roughness_read=after,
        )


def _is_even(square: Wave, height: Wave, step: Wave) -> bool:
    """Whether every value seems to be equally likely, from full scale to full scale, on every channel.

    Means of each channel: x², |x|, (x[n] − x[n−1])².
    """
    rough = step / np.maximum(square, 1e-12)
    return all(
        low < value < high
        for values, (low, high) in (
            (square, UNIFORM_SQUARE), (height, UNIFORM_ABS), (rough, UNIFORM_ROUGH),
        )
        for value in values.tolist()
    )  # fmt: skip


def _may_be_unsigned(window: Samples) -> bool:
    """Whether no part of it rests at zero."""
    return bool(np.count_nonzero(np.abs(window) < AT_REST) <= LONGEST_REST * window.size)


def readings(window: Samples, width: int, *, is_float: bool) -> Iterator[tuple[Reading, Wave]]:
    """The window's bytes read in other ways, full scale 1.0, shape (frames or so, channels).

    width: bytes of a sample. Codes of up to 24 bits come back from float32 as they were; of 32-bit integers
    the upper 24 bits do.
    """
    channels = window.shape[1]
    little = _as_bytes(window, width, is_float=is_float)
    big = np.ascontiguousarray(little[:, ::-1])

    def shaped(wave: Wave) -> Wave:
        return wave[: len(wave) // channels * channels].reshape(-1, channels)

    own: Callable[[Bytes], Wave] = _floats if is_float else lambda stream: _integers(stream, width)
    yield Reading.REVERSED, shaped(own(big.reshape(-1)))
    for shift in range(1, width):
        yield Reading.SHIFTED, shaped(own(little.reshape(-1)[shift:]))
        # The same in a container whose highest byte comes first.
        moved = big.reshape(-1)[shift:]
        turned = moved[: len(moved) // width * width].reshape(-1, width)[:, ::-1]
        yield Reading.SHIFTED, shaped(own(np.ascontiguousarray(turned).reshape(-1)))
        moved = little.reshape(-1)[shift:]
        turned = moved[: len(moved) // width * width].reshape(-1, width)[:, ::-1]
        yield Reading.SHIFTED, shaped(own(np.ascontiguousarray(turned).reshape(-1)))
    if not is_float:
        flipped = little.copy()
        flipped[:, -1] ^= 0x80
        yield Reading.UNSIGNED, shaped(own(flipped.reshape(-1)))
        for shift in range(4):
            yield Reading.FLOAT_32, shaped(_floats(little.reshape(-1)[shift:]))
    for other, reading in ((2, Reading.INTEGER_16), (3, Reading.INTEGER_24), (4, Reading.INTEGER_32)):
        if other != width or is_float:
            for shift in range(min(other, 3)):
                yield reading, shaped(_integers(little.reshape(-1)[shift:], other))


def _as_bytes(window: Samples, width: int, *, is_float: bool) -> Bytes:
    """Shape (samples, width), lowest byte first."""
    if is_float:
        return np.ascontiguousarray(window, dtype="<f4").reshape(-1).view(np.uint8).reshape(-1, 4)
    codes = np.round(window.reshape(-1).astype(np.float64) * 2.0 ** (8 * width - 1))
    whole = np.clip(codes, -(2.0 ** (8 * width - 1)), 2.0 ** (8 * width - 1) - 1).astype("<i8")
    return np.ascontiguousarray(whole.view(np.uint8).reshape(-1, 8)[:, :width])


def _integers(stream: Bytes, width: int) -> Wave:
    """Signed integers, lowest byte first, as a wave."""
    samples = stream[: len(stream) // width * width].reshape(-1, width)
    wide = np.zeros((len(samples), 4), dtype=np.uint8)
    wide[:, 4 - width :] = samples
    return wide.reshape(-1).view("<i4").astype(np.float64) / 2.0**31


def _floats(stream: Bytes) -> Wave:
    samples = np.ascontiguousarray(stream[: len(stream) // 4 * 4]).view("<f4")
    with np.errstate(invalid="ignore", over="ignore"):
        return samples.astype(np.float64)
