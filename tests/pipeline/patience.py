"""A test of what must not hang ends by itself where it does."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Raises TimeoutError in the main thread once the time is over. POSIX only."""

    def give_up(number: int, frame: object) -> None:
        raise TimeoutError(f"not done within {seconds} s")

    usual = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, usual)
