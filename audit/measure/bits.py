"""How many bits of the container the samples really use: 16-bit audio in a 24-bit file leaves eight at zero.

BitsMeter(channels, bits, is_float)   .add(block), .result(channels) -> int | None
"""

from __future__ import annotations

import numpy as np

from audit.measure.samples import Samples, check_block
from audit.measure.steps import part_channels


class BitsMeter:
    """ORs the integer codes of all samples; the zeros at the lower end are the bits not in use.

    bits: valid bits of a sample, None for a lossy codec. Codes of up to 24 bits come back from float32 as
    they were. Of a 32-bit sample float32 keeps the upper 24 significant bits: its low bits show only in
    samples below −48 dBFS, which every recording that uses them has; a loud synthetic signal may read 24.
    A gain of 1/2, 1/4 … moves 16-bit audio down by as many bits, and they then count as in use.
    """

    def __init__(self, channels: int, bits: int | None, is_float: bool) -> None:
        self._channels = channels
        self._bits = None if is_float else bits
        self._used = [0] * channels

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, self._channels)
        if self._bits is None or len(block) == 0:
            return
        for channel in range(self._channels):
            if self._used[channel] & 1:
                continue  # the lowest bit is in use: nothing more to learn
            if self._bits <= 24:
                codes = (block[:, channel] * np.float32(2.0 ** (self._bits - 1))).astype(np.int32)
                self._used[channel] |= int(np.bitwise_or.reduce(codes))
            else:
                wide = (block[:, channel] * 2.0 ** (self._bits - 1)).astype(np.int64)
                self._used[channel] |= int(np.bitwise_or.reduce(wide))

    def result(self, channels: tuple[int, ...] | None = None) -> int | None:
        """Container bits less the trailing zeros common to all samples; None for float, lossy or silent."""
        used = 0
        for channel in part_channels(channels, self._channels):
            used |= self._used[channel]
        if self._bits is None or used == 0:
            return None
        return self._bits - ((used & -used).bit_length() - 1)
