"""Which stem of now is which of then: by name, else by what it holds."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from audit.seal.names import folded

Old = TypeVar("Old")
New = TypeVar("New")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(Generic[Old, New]):
    """The same content under another name."""

    old: Old
    new: New


def find_moved(
    missing: Mapping[str, Old],
    added: Mapping[str, New],
    contents: tuple[Mapping[str, Hashable], Mapping[str, Hashable]],
) -> list[Moved[Old, New]]:
    """Missing stems that lie elsewhere now. All by path; contents: of both, where known (None never counts).

    Of several with the same content the one whose file name is alike goes first, then the order of paths.
    """
    by_content: dict[Hashable, list[str]] = {}
    for path in added:
        if (content := contents[1].get(path)) is not None:
            by_content.setdefault(content, []).append(path)
    found = []
    for path, old in missing.items():
        places = by_content.get(contents[0].get(path), []) if contents[0].get(path) is not None else []
        if places:
            place = next((p for p in places if _file(p) == _file(path)), places[0])
            places.remove(place)
            found.append(Moved(old=old, new=added[place]))
    return found


def _file(path: str) -> str:
    return folded(path).rpartition("/")[2]


def moved_folders(moved: Sequence[tuple[str, str]], kept: set[str]) -> dict[str, str]:
    """Folders that were renamed as a whole: was -> is.

    moved: the paths of moved stems, was and is; kept: folders of which a stem still lies where it lay.
    """
    targets: dict[str, set[str]] = {}
    for was, now in moved:
        folder, _, file = was.rpartition("/")
        other, _, other_file = now.rpartition("/")
        targets.setdefault(folder, set()).add(other if folded(file) == folded(other_file) else "")
    return {
        folder: next(iter(places))
        for folder, places in targets.items()
        if len(places) == 1 and "" not in places and folder not in kept
    }
