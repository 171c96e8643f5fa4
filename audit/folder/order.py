"""Natural order of names: "2" before "10", without regard to letter case."""

from __future__ import annotations

import re
from functools import lru_cache

from audit.folder.tokens import compose

_NUMBER = re.compile(r"([0-9]+)")

NaturalKey = tuple[tuple[tuple[int, int, str], ...], ...]


@lru_cache(maxsize=20_000)
def _part_key(part: str) -> tuple[tuple[int, int, str], ...]:
    pieces = _NUMBER.split(compose(part).casefold())
    # Numbers stand before letters; "1" and "01" are the same number.
    return tuple((0, int(piece), "") if piece.isdecimal() else (1, 0, piece) for piece in pieces if piece)


def natural_key(path: str) -> tuple[NaturalKey, str]:
    """Sort key of a relative path with "/" between its parts; names that are alike keep one fixed order."""
    return tuple(_part_key(part) for part in path.split("/")), path
