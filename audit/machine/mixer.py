"""Gain and sum of what is held ready: the work of one callback."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.machine.hindrance import FREE, Hindrance


class Mixer:
    """Sums rows of a buffer to two outputs. numpy lets other threads run meanwhile.

    rows: channels in all; frames: of one callback. The first half of the rows goes left, the rest right.
    """

    def __init__(self, rows: int, frames: int, hindrance: Hindrance = FREE) -> None:
        self._half = (rows + 1) // 2
        self._gains = np.full((rows, 1), 1.0 / max(1, rows), dtype=np.float32)
        self._scratch = np.empty((rows, frames), dtype=np.float32)
        self._times = hindrance.mix_times
        self.out = np.zeros((2, frames), dtype=np.float32)

    def mix(self, block: NDArray[np.float32]) -> NDArray[np.float32]:
        """block: shape (rows, frames). Gives the two outputs, shape (2, frames); they are written over."""
        for _ in range(self._times):
            np.multiply(block, self._gains, out=self._scratch)
            np.add.reduce(self._scratch[: self._half], axis=0, out=self.out[0])
            np.add.reduce(self._scratch[self._half :], axis=0, out=self.out[1])
        return self.out
