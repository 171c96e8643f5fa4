"""How a worker deals with memory: kept while a song is heard, handed back before the next one.

    keep_blocks()   once, when a worker begins        give_back()   after every song
    collected_seldom()   while many objects are made that stay

glibc gives a freed block of a megabyte back to the system at once and asks for it again for the next block of
audio, page by page: a twentieth of a scan. What a song leaves behind in small pieces it keeps, and a worker
grew by a tenth with each song (own measurements; mallopt(3), malloc_trim(3)).
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Names of settings, malloc.h."""

KEPT_BYTES = 1 << 28
LARGEST_KEPT = 1 << 25
"""The most that glibc takes for _MMAP_THRESHOLD on 64-bit systems."""


SELDOM = (50_000, 20, 20)
"""Python's own is (700, 10, 10). A tenth of what a worker takes to begin, and a part of the main process's
work that grows with the show, would be spent on looking for garbage among objects that are all in use (own
measurement)."""


@contextmanager
def collected_seldom() -> Iterator[None]:
    """Meanwhile Python looks for garbage in circles seventy times more seldom. Little of ours is in any."""
    usual = gc.get_threshold()
    gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def keep_blocks() -> None:
    """Keep freed memory for the next block of audio."""
    if (mallopt := _from_c("mallopt")) is not None:
        mallopt(_MMAP_THRESHOLD, LARGEST_KEPT)
        mallopt(_TRIM_THRESHOLD, KEPT_BYTES)


def give_back() -> None:
    """Hand freed memory back to the system."""
    if (trim := _from_c("malloc_trim")) is not None:
        trim(0)


def _from_c(name: str) -> Callable[..., Any] | None:
    """A function of glibc; None on other systems, and where the C library is another (musl)."""
    if not sys.platform.startswith("linux"):
        return None
    import ctypes

    return getattr(ctypes.CDLL(None), name, None)
