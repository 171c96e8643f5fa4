"""Two folders that are no copies of each other, as one is inside what the other is a copy of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from audit.seal.names import exact, loose

DEEPEST = 3
"""Folders that are looked into."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """One of two copies holds the other, in a folder of its own."""

    of_old: bool  # the old copy is the higher one; False: the new one
    folder: str  # the one in it that the other is a copy of, "/" between parts


def levels_apart(old: Mapping[str, int], new: Mapping[str, int], names: tuple[str, str]) -> Level | None:
    """None where the two lie level, or have nothing in common.

    old, new: sizes by path from their folders; names: what these folders are called.
    """
    if {loose(path) for path in old} & {loose(path) for path in new}:
        return None
    for of_old, higher, lower, name in ((True, old, new, names[1]), (False, new, old, names[0])):
        wanted = {loose(path): size for path, size in lower.items()}
        ranked = sorted(
            ((_alike(inside, wanted), loose(folder.rpartition("/")[2]) == loose(name), folder)
             for folder, inside in _folders(higher).items()),
            key=lambda one: (one[0], one[1], -len(one[2])), reverse=True,
        )  # fmt: skip
        if ranked and 2 * ranked[0][0][0] >= min(len(wanted), len(_folders(higher)[ranked[0][2]])) > 0:
            return Level(of_old=of_old, folder=ranked[0][2])
    return None


def _folders(sizes: Mapping[str, int]) -> dict[str, dict[str, int]]:
    """What lies in each folder, by the path from there."""
    found: dict[str, dict[str, int]] = {}
    for path, size in sizes.items():
        parts = exact(path).split("/")
        for depth in range(1, min(DEEPEST, len(parts) - 1) + 1):
            inner = loose("/".join(parts[depth:]))
            found.setdefault("/".join(parts[:depth]), {})[inner] = size
    return found


def _alike(inside: Mapping[str, int], wanted: Mapping[str, int]) -> tuple[int, int]:
    """How many names are the same, and how many of these have one size."""
    common = inside.keys() & wanted.keys()
    return len(common), sum(inside[path] == wanted[path] for path in common)
