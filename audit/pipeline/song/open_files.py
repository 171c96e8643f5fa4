"""How many files a process may hold open, and how much of a song fits into a block of each."""

from __future__ import annotations

import sys

ENOUGH = 1024
"""Songs of more stems than this are not made."""

RESERVE = 64
"""For everything else that a worker holds open: libraries, pipes, a stem that is looked at again."""

WITHOUT_A_LIMIT = 400
"""Windows does not tell; its C runtime opens 512 files (Microsoft, `_setmaxstdio`). [memory]"""

BLOCK_VALUES = 1 << 24
"""Samples of a stem's block, whatever its channels: 64 MiB of float32."""

LONG_FRAMES, LONG_VALUES = 1 << 16, 1 << 22
"""Blocks of more frames than this save a fifth of the time; songs have them whose widest stem has no more
samples in one: 16 MiB."""


def raise_open_files() -> None:
    """Ask the system for as many open files as a large song needs (macOS begins with 256)."""
    if sys.platform == "win32":
        return
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = ENOUGH if hard == resource.RLIM_INFINITY else min(ENOUGH, hard)
    if soft == resource.RLIM_INFINITY or soft >= wanted:
        return
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    except (ValueError, OSError):
        return  # what there is has to do


def most_open_files() -> int:
    """Stems that may be open at once."""
    if sys.platform == "win32":
        return WITHOUT_A_LIMIT
    import resource

    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    allowed = ENOUGH if soft == resource.RLIM_INFINITY else min(soft, ENOUGH)
    return max(1, allowed - RESERVE)


def why_not_together(stems: int) -> str | None:
    """Why so many stems cannot all be open at once, as a sum of them needs; None where they can."""
    most = most_open_files()
    if stems <= most:
        return None
    return f"{stems} stems cannot be summed: this system lets {most} of them be open at once"


def block_frames(channels: int, most: int) -> int:
    """Frames a block of a song whose widest stem has so many channels, within BLOCK_VALUES, and of long ones
    within LONG_VALUES; 1024 … `most`.

    In few steps: what an earlier scan heard is believed of blocks of the same length only.
    """
    if channels * most <= LONG_VALUES:
        return most
    return max(1024, min(most, LONG_FRAMES, BLOCK_VALUES // max(1, channels)))
