"""What earlier scans found out about two songs laid against each other, song by song.

Of a show in which one song has changed only the pairs with that song are compared anew. A pair is known by
the keys of both songs, in the show's order; their names are put in again by whoever asks.
"""

from __future__ import annotations

from collections.abc import Mapping

from audit.cache.records import PairRecord

WITHIN = "within"
"""Stands for the second song where a song is compared with itself."""

SPARE = 200
"""So many pairs beyond twice a show's songs are kept of each song: those of nights with another set."""


class PairMemory:
    """keys: the songs' keys by name; a song without one is compared anew. rows: of each key, what is known
    of it and those that come after it, by their keys."""

    def __init__(
        self,
        keys: Mapping[str, str] | None = None,
        rows: Mapping[str, Mapping[str, PairRecord]] | None = None,
    ) -> None:
        self._keys = dict(keys or {})
        self._rows = {key: dict(row) for key, row in (rows or {}).items()}
        self._fresh: dict[tuple[str, str], PairRecord] = {}  # of songs that are not known by a key
        self._touched: set[str] = set()

    def of(self, first: str, second: str) -> PairRecord:
        """The record of two songs, by their names, in the show's order; empty where nothing is known."""
        one, other = self._keys.get(first), self._keys.get(second)
        if one is None or other is None:
            return self._fresh.setdefault((first, second), PairRecord())
        return self._rows.setdefault(one, {}).setdefault(WITHIN if first == second else other, PairRecord())

    def touch(self, first: str) -> None:
        """Something was found out about the first song of a pair: its row is to be kept."""
        if first in self._keys:
            self._touched.add(self._keys[first])

    def touched(self) -> dict[str, dict[str, PairRecord]]:
        """The rows to be kept, by key; of long ones only what this show asks for."""
        here = {*self._keys.values(), WITHIN}
        most = 2 * len(self._keys) + SPARE
        return {
            key: row if len(row := self._rows[key]) <= most else {k: v for k, v in row.items() if k in here}
            for key in sorted(self._touched)
        }
