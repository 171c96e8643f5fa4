"""Kinds of fault that are not planted into lists of onsets, with a table of their own."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tests.lab.kind import wilson


@dataclass(frozen=True, kw_only=True)
class OwnTable:
    """lines: of a seed, and of the most plantings in a cell (None: all)."""

    name: str
    lines: Callable[[int, int | None], Iterator[str]]


@dataclass(kw_only=True)
class Count:
    """Plantings of one cell."""

    planted: int = 0
    found: int = 0
    blamed_others: int = 0

    def line(self, label: str) -> str:
        low, high = wilson(self.found, self.planted)
        share = 100 * self.found / max(1, self.planted)
        return (
            f"{label:42} {self.found:4}/{self.planted:<4} {share:5.1f} % [{100 * low:3.0f}–{100 * high:3.0f}]"
            f"  others blamed: {self.blamed_others}"
        )
