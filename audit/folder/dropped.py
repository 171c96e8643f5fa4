"""Stems of the version before that the current one has nothing for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from audit.folder.roles import NameReading


def dropped(before: Mapping[str, NameReading], now: Sequence[NameReading]) -> tuple[str, ...]:
    """Which of the files of the version before (by their names) are not in the current one.

    A stem whose name has changed may be there: one without a counterpart now, of the same role, stands for
    it. Where fewer than half of the names come again, the versions are named in different ways, and nothing
    is told.
    """
    keys = {reading.version_key for reading in now}
    gone = {name: reading for name, reading in before.items() if reading.version_key not in keys}
    if 2 * len(gone) > len(before):
        return ()
    known = {reading.version_key for reading in before.values()}
    fresh = Counter(reading.role for reading in now if reading.version_key not in known)
    left = []
    for name, reading in gone.items():
        if fresh[reading.role]:
            fresh[reading.role] -= 1
        else:
            left.append(name)
    return tuple(left)
