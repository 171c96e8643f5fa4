"""Files that are being written, and the moment when they no longer are."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator

SETTLED_S = 2.0
"""A file whose size and time have been the same for so long has landed: programs that bounce write several
times a second, copies over a network at least once. Own judgement."""

Stamp = tuple[int, int] | None
"""Size and time; None for a file that is not there."""


def look(path: str) -> Stamp:
    """A file's stamp. A folder has none of its own: what lies in it speaks."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def landings(
    rounds: Iterable[Iterable[str]],
    *,
    settled_s: float = SETTLED_S,
    stamp: Callable[[str], Stamp] = look,
    now_s: Callable[[], float] = time.monotonic,
) -> Iterator[frozenset[str]]:
    """Paths that changed and have come to rest, all of one spell together, once.

    rounds: the paths that changed since the last round, an empty round several times a second; a file that
    grows without anybody telling of it is seen to grow. While one of them still moves, all wait: a song whose
    stems land one after another is one change.
    """
    waiting: dict[str, Stamp] = {}
    still_since = now_s()
    for changed in rounds:
        moved = False
        for path in changed:
            waiting.setdefault(path, stamp(path))
            moved = True
        for path, before in list(waiting.items()):
            if (now := stamp(path)) != before:
                waiting[path] = now
                moved = True
        if moved:
            still_since = now_s()
        elif waiting and now_s() - still_since >= settled_s:
            yield frozenset(waiting)
            waiting.clear()


def stamps_in(folder: str) -> dict[str, Stamp]:
    """The stamps of all files in a folder and below it, by path. What cannot be read is passed over."""
    return {
        path: look(path)
        for place, _, files in os.walk(folder)
        for path in (os.path.join(place, file) for file in files)
    }


def changed_since(before: dict[str, Stamp], folder: str) -> list[str]:
    """The files that came, went or were written since `before`."""
    now = stamps_in(folder)
    return [path for path in {**before, **now} if before.get(path) != now.get(path)]
