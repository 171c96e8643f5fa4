"""Files that are being written, and the moment when they no longer are."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from audit.errors import UnreadableAudioError
from audit.results import FaultKind

SETTLED_S = 2.0
"""A file whose size and time have been the same for so long has landed: programs that bounce write several
times a second, copies over a network at least once. Own judgement."""

UNFINISHED_S = 30.0
"""So long is waited for the rest of a file whose header promises more than has come: a copy over a bad
network pauses, and a file that is cut short for good can wait for its report. Own judgement."""

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
    unfinished_s: float = UNFINISHED_S,
    unfinished: Callable[[str], bool] = lambda path: False,
    stamp: Callable[[str], Stamp] = look,
    now_s: Callable[[], float] = time.monotonic,
) -> Iterator[frozenset[str]]:
    """Paths that changed and have come to rest, all of one spell together, once.

    rounds: the paths that changed since the last round, an empty round several times a second; a file that
    grows without anybody telling of it is seen to grow. While one of them still moves, all wait: a song whose
    stems land one after another is one change. unfinished: whether a file at rest lacks its end, so that more
    is to be expected of it.
    """
    waiting: dict[str, Stamp] = {}
    still_since, asked, more = now_s(), False, False
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
            asked = False
        elif waiting and now_s() - still_since >= settled_s:
            if not asked:  # once a rest: the answer only changes with the file
                asked, more = True, any(map(unfinished, waiting))
            if more and now_s() - still_since < unfinished_s:
                continue
            asked = False
            yield frozenset(waiting)
            waiting.clear()


def lacks_its_end(path: str) -> bool:
    """Whether the file's header promises more than the file holds."""
    from audit.decode.header import read_header

    now = look(path)
    if now is None or not os.path.isfile(path):
        return False
    try:
        faults = read_header(Path(path), size_bytes=now[0]).faults
    except (OSError, UnreadableAudioError):
        return False
    return any(fault.kind is FaultKind.TRUNCATED for fault in faults)


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
