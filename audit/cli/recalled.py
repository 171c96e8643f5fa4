"""The memory of earlier scans at a command's service, and its word on how much was taken from it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from audit.cli.screen import say

if TYPE_CHECKING:
    from audit.pipeline.memory.last_scan import LastScan


@contextmanager
def remembering(
    wanted: bool = True, *, rehash: bool = False, quiet: bool = False
) -> Iterator[LastScan | None]:
    """The memory, None where it is not wanted. Afterwards standard error hears what was taken from it.

    quiet: only of trouble.
    """
    if not wanted:
        yield None
        return
    from audit.cache.place import cache_folder
    from audit.pipeline.memory.last_scan import LastScan

    troubles: list[str] = []
    with LastScan(cache_folder(), troubles.append, rehash=rehash) as last_scan:
        try:
            yield last_scan
        finally:
            for trouble in troubles:
                say(f"stemaudit: {trouble}", error=True)
    words = taken_words(last_scan.by_size_and_time, last_scan.by_content, last_scan.copies)
    if words and not quiet:
        say(words, error=True)


def taken_words(by_size_and_time: int, by_content: int, copies: int = 0) -> str:
    """`60 stems taken from the last scan by size and time, 2 by content; 3 stems are copies of others in this
    scan: heard once.`; empty for none."""
    from audit.units import count

    ways = ((by_size_and_time, "size and time"), (by_content, "content"))
    told = [(number, way) for number, way in ways if number]
    words = []
    if told:
        number, way = told[0]
        rest = "".join(f", {n} by {w}" for n, w in told[1:])
        words.append(f"{count(number, 'stem')} taken from the last scan by {way}{rest}")
    if copies:
        are = "stem is a copy of another" if copies == 1 else "stems are copies of others"
        words.append(f"{copies} {are} in this scan: heard once")
    return "; ".join(words) + "." if words else ""
