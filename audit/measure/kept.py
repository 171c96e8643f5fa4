"""Rows of bytes kept until the end of a stem, deflated: what grows with a stem's length must grow slowly.

KeptRows(columns)   .extend(rows)   len()   .pieces()
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]

PIECE_ROWS = 1024
"""Rows deflated at a time: many small pieces of memory between the blocks of audio would keep the space
around them from being given back."""


class KeptRows:
    """A table of uint8 that only grows. Memory: what zlib's fastest level leaves of it, and one piece."""

    def __init__(self, columns: int) -> None:
        self._columns = columns
        self._deflated: list[bytes] = []
        self._rest = np.empty((PIECE_ROWS, columns), dtype=np.uint8)
        self._filled = 0

    def __len__(self) -> int:
        return len(self._deflated) * PIECE_ROWS + self._filled

    def extend(self, rows: Bytes) -> None:
        """More rows, shape (any, columns)."""
        taken = 0
        while taken < len(rows):
            count = min(PIECE_ROWS - self._filled, len(rows) - taken)
            self._rest[self._filled : self._filled + count] = rows[taken : taken + count]
            self._filled += count
            taken += count
            if self._filled == PIECE_ROWS:
                self._deflated.append(zlib.compress(self._rest.tobytes(), 1))
                self._filled = 0

    def pieces(self) -> Iterator[Bytes]:
        """The rows in order, PIECE_ROWS at a time (the last piece holds what is left)."""
        for deflated in self._deflated:
            yield np.frombuffer(zlib.decompress(deflated), dtype=np.uint8).reshape(-1, self._columns)
        if self._filled:
            yield self._rest[: self._filled].copy()
