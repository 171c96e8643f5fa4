"""Cuts a stream of blocks into windows of fixed length that begin at multiples of it, counted from the file's
first frame. What is computed window by window is then the same in every bit, however the file was cut into
blocks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from audit.measure.samples import Samples


class Cutter:
    """Holds back the frames of an unfinished window. Memory: one window."""

    def __init__(self, window_frames: int, channels: int) -> None:
        self._window = window_frames
        self._held = np.zeros((window_frames, channels), dtype=np.float32, order="F")
        self._count = 0

    def cut(self, block: Samples) -> Iterator[Samples]:
        """Pieces of one or more whole windows, in order.

        A piece is a view, of the block or of the held frames: use it before asking for the next one.
        """
        start = 0
        if self._count:
            start = min(self._window - self._count, len(block))
            self._held[self._count : self._count + start] = block[:start]
            self._count += start
            if self._count < self._window:
                return
            self._count = 0
            yield self._held
        end = start + (len(block) - start) // self._window * self._window
        if end > start:
            yield block[start:end]
        self._count = len(block) - end
        self._held[: self._count] = block[end:]

    @property
    def rest(self) -> Samples:
        """The frames of the unfinished window, shape (frames, channels); a view."""
        return self._held[: self._count]
