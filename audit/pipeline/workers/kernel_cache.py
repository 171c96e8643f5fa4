"""A place for compiled kernels. numba refuses to import a cached kernel where it finds none."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PLACE = "NUMBA_CACHE_DIR"
"""numba's own setting (its documentation, "Environment variables"); worker processes inherit it."""

KERNELS = Path(__file__).parent.parent.parent / "measure"


@contextmanager
def kernel_cache() -> Iterator[None]:
    """While it is open, workers that start find a place to keep compiled kernels.

    Usually numba finds one itself: beside the modules, or in the user's cache folder. An installation that
    may only be read, run by a user without a home, has neither: then a temporary folder serves this one scan,
    at the price of compiling everything.
    """
    if os.environ.get(PLACE) or _can_hold(KERNELS / "__pycache__") or _can_hold(_users_place()):
        yield
        return
    with tempfile.TemporaryDirectory(prefix="stemaudit-", ignore_cleanup_errors=True) as folder:
        os.environ[PLACE] = folder
        try:
            yield
        finally:
            del os.environ[PLACE]


def _users_place() -> Path:
    """Where numba keeps a user's kernels: the system's folder for caches."""
    if sys.platform == "win32":
        caches = os.environ.get("LOCALAPPDATA") or os.path.expanduser("~/AppData/Local")
    elif sys.platform == "darwin":
        caches = os.path.expanduser("~/Library/Caches")
    else:
        caches = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    return Path(caches) / "numba"


def _can_hold(folder: Path) -> bool:
    """Whether a file can be made there; asked as numba asks it, by making one."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
