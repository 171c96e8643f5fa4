"""Runs the command on a pseudo-terminal, as a user's shell does."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.cli.command import environment


@contextmanager
def started(
    *words: str | Path, columns: int = 80, **extra: str
) -> Iterator[tuple[subprocess.Popen[bytes], int]]:
    """`stemaudit WORDS` at work on a terminal of 24 lines, in a process group of its own, and its screen."""
    screen, keyboard = pty.openpty()
    fcntl.ioctl(keyboard, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-m", "audit", *map(str, words)],
        env=environment(**extra), stdin=keyboard, stdout=keyboard, stderr=keyboard, start_new_session=True,
    )  # fmt: skip
    os.close(keyboard)
    try:
        yield process, screen
    finally:
        process.kill()
        process.wait()
        os.close(screen)


def read_until(screen: int, words: str | None) -> str:
    """What appears on the screen until these words do; None: until the program has ended."""
    seen = b""
    while words is None or words.encode() not in seen:
        try:
            chunk = os.read(screen, 65536)
        except OSError:  # Linux says so when the last writer is gone
            chunk = b""
        if not chunk:
            assert words is None, f"ended without {words!r}: {seen!r}"
            break
        seen += chunk
    return seen.decode("utf-8", "replace")


def run_on_terminal(*words: str | Path, columns: int = 80, **extra: str) -> tuple[str, float, int]:
    """`stemaudit WORDS` to its end: all it wrote, seconds until it first did, exit code."""
    began = time.monotonic()
    with started(*words, columns=columns, **extra) as (process, screen):
        first = os.read(screen, 1).decode()
        first_s = time.monotonic() - began
        rest = read_until(screen, None)
        return first + rest, first_s, process.wait(60)
