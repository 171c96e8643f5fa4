"""Keeps NaN and infinity away from every other meter, and counts them.

FiniteGate(channels, whole=…)   .pass_on(block) -> block, .count, .first_frame
"""

from __future__ import annotations

import numpy as np

from audit.measure.samples import Samples, check_block


class FiniteGate:
    """Counts samples that are not finite over all channels; passes them on as zeros."""

    def __init__(self, channels: int, *, whole: bool = False) -> None:
        """whole: the samples were whole numbers in their file, so none of them needs to be asked."""
        self._channels = channels
        self._whole = whole
        self._frames = 0
        self._count = 0
        self._first_frame: int | None = None

    def pass_on(self, block: Samples) -> Samples:
        """The block itself where every sample is finite, else a copy with zeros in place of the others.

        block: float32, shape (frames, channels). The caller's block is never changed.
        """
        check_block(block, self._channels)
        start, self._frames = self._frames, self._frames + len(block)
        # A maximum passes NaN on and raises no warning; two of them cost less than asking every sample.
        if self._whole or block.size == 0 or (np.isfinite(block.max()) and np.isfinite(block.min())):
            return block
        good = np.isfinite(block)
        self._count += int(block.size - np.count_nonzero(good))
        if self._first_frame is None:
            self._first_frame = start + int(np.flatnonzero(~good.all(axis=1))[0])
        return np.where(good, block, np.float32(0.0))

    @property
    def count(self) -> int:
        """Samples that were NaN or infinite, over all channels."""
        return self._count

    @property
    def first_frame(self) -> int | None:
        """Frame of the first of them, counted from the file's beginning; None where there is none."""
        return self._first_frame
