"""Taking files out of the system's memory before they are timed, as far as a system lets an ordinary user."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Literal

Method = Literal["fadvise", "nocache", "none"]

SUSPECT_S = 20e-6
"""No disk answers faster than this on the average: what does came out of memory. Own measurement: 58 µs on a
fast virtual disk, 5 µs from memory."""

SUSPECT_RATIO = 3.0
"""Cold reads that are not this much slower than warm ones were perhaps not cold. Own estimate."""


def drop(paths: Iterable[Path]) -> Method:
    """Ask the system to forget these files; how it was asked. Never raises for a file.

    Linux: posix_fadvise(POSIX_FADV_DONTNEED), which skips pages that are dirty or mapped (man page). macOS
    has no such call for what is already in memory (F_NOCACHE only keeps new pages out), Windows none without
    special handles: there nothing is dropped, and the caller says so.
    """
    if not hasattr(os, "posix_fadvise"):
        return "nocache" if sys.platform == "darwin" else "none"
    for path in paths:
        try:
            handle = os.open(path, os.O_RDONLY)
        except OSError:
            continue
        with suppress(OSError):
            os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
        os.close(handle)
    return "fadvise"


def keep_out(handle: int) -> None:
    """On macOS: what is read through this handle shall not stay in memory (F_NOCACHE, fcntl's man page)."""
    if sys.platform == "darwin":
        import fcntl

        fcntl.fcntl(handle, fcntl.F_NOCACHE, 1)


def is_suspect(cold_median_s: float, warm_median_s: float) -> bool:
    """Whether reads that should have come from the disk came from memory."""
    return cold_median_s < SUSPECT_S or cold_median_s < SUSPECT_RATIO * warm_median_s
