"""One thread a process for numpy's and scipy's linear algebra.

OpenBLAS, which their wheels carry, starts a thread for every other core as it is loaded, twice in a worker,
and these wait for work by looking for it again and again: 3 % of a scan for products of a millisecond. The
cores are the workers' own; and a sum made by one thread does not depend on how many there are.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

THREADS = "OPENBLAS_NUM_THREADS"
"""OpenBLAS's own setting (its user manual, "Runtime variables"), read as it is loaded; worker processes
inherit it."""


@contextmanager
def one_thread_each() -> Iterator[None]:
    """While it is open, linear algebra that is loaded here or in a worker that starts has one thread, unless
    the user set another number."""
    if THREADS in os.environ:
        yield
        return
    os.environ[THREADS] = "1"
    try:
        yield
    finally:
        os.environ.pop(THREADS, None)
