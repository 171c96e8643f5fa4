"""Whether two copies of a show lie level: a song against a show is no comparison, but a wrong folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from audit.errors import UsageError
from audit.pipeline.sealed.show_copies import Copy
from audit.seal.levels import levels_apart
from audit.seal.names import shown


def check_level(
    old: Iterable[Copy], new: Iterable[Copy], places: tuple[Path, Path], words: tuple[str, str]
) -> None:
    """Raises UsageError, with the folder to take instead, where one of the two lies in what the other is a
    copy of.

    places: where the two lie, folder or seal; words: what they are called in the command, as `A` and `B`.
    """
    sizes = [{copy.path: copy.size_bytes for copy in side} for side in (old, new)]
    level = levels_apart(sizes[0], sizes[1], (places[0].name, places[1].name))
    if level is None:
        return
    place = places[0 if level.of_old else 1]
    higher, lower = words if level.of_old else (words[1], words[0])
    given = shown(level.folder)
    cure = "take the folder above it"
    if place.is_dir():
        cure = f"take {shown(str(place / level.folder))} instead of {shown(str(place))}"
    raise UsageError(f"{lower} is a copy of the folder {given} in {higher}, not of all of {higher}: {cure}")
