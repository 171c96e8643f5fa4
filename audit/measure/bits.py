"""How many bits of the container the samples really use: 16-bit audio in a 24-bit file leaves eight at zero.

BitsMeter(channels, bits, is_float)   .add(block), .result(channels) -> int | None, .distinct -> int
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.measure.samples import Samples, check_block
from audit.measure.steps import part_channels

FLOAT_BITS = 24
"""A float file whose samples are all whole codes of 24 bits holds such audio."""

FIRST_FRAMES = 4096
"""Of a block, looked at before the rest: in most files one of so many samples uses the lowest bit."""

ENOUGH_VALUES = 4096
"""Distinct values past which they are not counted: more than a waveform drawn by a program has."""


class BitsMeter:
    """ORs the integer codes of all samples; the zeros at the lower end are the bits not in use.

    bits: valid bits of a sample, None for a lossy codec. Codes of up to 24 bits come back from float32 as
    they were. Of a 32-bit sample float32 keeps the upper 24 significant bits: its low bits show only in
    samples below −48 dBFS, which every recording that uses them has; a loud synthetic signal may read 24.
    A gain of 1/2, 1/4 … moves 16-bit audio down by as many bits, and they then count as in use; a gain of 2
    moves it up. How many values there are tells such audio from a waveform that needs few bits.
    """

    def __init__(self, channels: int, bits: int | None, is_float: bool) -> None:
        self._channels = channels
        self._is_float = is_float
        self._bits = FLOAT_BITS if is_float else bits
        self._used = [0] * channels
        self._between = [False] * channels  # float samples that are no whole codes
        self._met: npt.NDArray[np.bool_] | None = None
        self._distinct = 0

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        if self._bits is None or len(block) == 0:
            return
        for channel in range(self._channels):
            wave = block[:, channel]
            # Most samples show the lowest bit at once; of floats any may be no whole code.
            first = len(wave) if self._is_float else FIRST_FRAMES
            for piece in (wave[:first], wave[first:]):
                if len(piece) == 0 or self._used[channel] & 1 or self._between[channel]:
                    break  # the lowest bit is in use: nothing more to learn
                self._look(channel, piece, self._bits)

    def _look(self, channel: int, wave: Samples, bits: int) -> None:
        if bits > 24:
            codes: npt.NDArray[np.integer] = (wave * 2.0 ** (bits - 1)).astype(np.int64)
        else:
            scaled = wave * np.float32(2.0 ** (bits - 1))
            codes = scaled.astype(np.int32)
            if self._is_float and (np.abs(scaled).max() > 2.0**23 or np.any(codes != scaled)):
                self._between[channel] = True
                return
        self._used[channel] |= int(np.bitwise_or.reduce(codes))
        if not self._used[channel] & 1:  # else nobody asks how many there are
            self._count(codes, bits)

    def _count(self, codes: npt.NDArray[np.integer], bits: int) -> None:
        if self._distinct >= ENOUGH_VALUES:
            return
        if self._met is None:
            self._met = np.zeros(1 << 16, dtype=np.bool_)
        upper = (codes >> (bits - 16)) if bits > 16 else codes
        self._met[np.asarray(upper, np.int64) & 0xFFFF] = True
        self._distinct = int(np.count_nonzero(self._met))

    @property
    def distinct(self) -> int:
        """Distinct values of the upper 16 bits, all channels, counted to ENOUGH_VALUES; 0 where one uses
        its lowest bit, as it is not looked at any longer from there on."""
        if any(used & 1 for used in self._used) or any(self._between):
            return 0
        return min(self._distinct, ENOUGH_VALUES)

    def result(self, channels: tuple[int, ...] | None = None) -> int | None:
        """Container bits less the trailing zeros common to all samples; None for lossy or silent files, and
        for float samples that are no whole codes of 24 bits."""
        part = part_channels(channels, self._channels)
        used = 0
        for channel in part:
            used |= self._used[channel]
        if self._bits is None or used == 0 or any(self._between[channel] for channel in part):
            return None
        return self._bits - ((used & -used).bit_length() - 1)
