"""Which stem of now is which of then: by name, else by what it holds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence, Set
from dataclasses import dataclass
from typing import Generic, TypeVar

from audit.seal.names import folded, loose

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


def moved_folders(
    moved: Sequence[tuple[str, str]], kept: Set[str], known: Set[str] = frozenset()
) -> dict[str, str]:
    """Folders that were renamed as a whole: was -> is. Their stems may have got other names with it.

    moved: the paths of moved stems, was and is; kept: folders of which a stem still lies where it lay; known:
    the old copy's folders. More than half of what has moved lies in one folder now; a known one is a song of
    its own, in which strangers may have been dropped.
    """
    targets: dict[str, list[tuple[str, bool]]] = {}
    for was, now in moved:
        folder, _, file = was.rpartition("/")
        other, _, other_file = now.rpartition("/")
        targets.setdefault(folder, []).append((other, folded(file) == folded(other_file)))
    old = {folded(folder) for folder in known}
    found = {}
    for folder, places in targets.items():
        place, number = Counter(other for other, _ in places).most_common(1)[0]
        as_it_was = all(one == (place, True) for one in places)
        if folder not in kept and 2 * number > len(places) and (as_it_was or folded(place) not in old):
            found[folder] = place
    return found


def find_renamed(missing: Sequence[str], added: Sequence[str]) -> list[tuple[str, str]]:
    """Paths that are one stem's by their names though its content is another: was, is.

    In one folder the same name with another ending (`Bass.wav`, `Bass.mp3`); in a folder that is gone and
    one that is new, with at least half of the names in common, the same name. Each path at most once; where
    two could be meant, none is.
    """
    homes = {folder: folder for folder in _by_folder(missing)} | _successors(missing, added)
    here = _by_folder(added)
    found = []
    for folder, paths in _by_folder(missing).items():
        olds, news = _bare_names(paths), _bare_names(here.get(homes[folder], []))
        found += [
            (olds[name][0], news[name][0])
            for name in olds
            if len(olds[name]) == 1 and len(news.get(name, ())) == 1
        ]
    return found


def _successors(missing: Sequence[str], added: Sequence[str]) -> dict[str, str]:
    """Folders of missing stems that have one folder of new stems with half of their names in it, and more
    than any other has."""
    gone, come = _by_folder(missing), _by_folder(added)
    found: dict[str, str] = {}
    for folder in gone.keys() - come.keys():
        names = _bare_names(gone[folder]).keys()
        common = sorted(
            ((len(names & _bare_names(come[other]).keys()), other) for other in come), reverse=True
        )
        best = common[0] if common else (0, "")
        tied = len(common) > 1 and common[1][0] == best[0]
        if 2 * best[0] >= len(names) and best[0] and not tied:
            found[folder] = best[1]
    return found


def _by_folder(paths: Sequence[str]) -> dict[str, list[str]]:
    """By folder as all systems spell it."""
    found: dict[str, list[str]] = {}
    for path in paths:
        found.setdefault(loose(path).rpartition("/")[0], []).append(path)
    return found


def _bare_names(paths: Sequence[str]) -> dict[str, list[str]]:
    """By file name without its ending."""
    found: dict[str, list[str]] = {}
    for path in paths:
        name = loose(path).rpartition("/")[2]
        found.setdefault(name.rpartition(".")[0] or name, []).append(path)
    return found
