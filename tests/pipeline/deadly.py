"""Paths that bring a worker down when it opens them, as a decoder's crash or hang would."""

from __future__ import annotations

import os
import time
from pathlib import Path, PosixPath


class DeadlyPath(PosixPath):
    """Opening it ends the process on the spot, as a segmentation fault does."""

    def __fspath__(self) -> str:
        os._exit(139)

    def __reduce__(self):
        return (DeadlyPath, (str(self),))


class HangingPath(PosixPath):
    """Opening it never comes back."""

    def __fspath__(self) -> str:
        time.sleep(600)
        return str(self)

    def __reduce__(self):
        return (HangingPath, (str(self),))


class FailingPath(PosixPath):
    """Opening it meets a fault of our own: an exception that nobody expects."""

    def __fspath__(self) -> str:
        raise ZeroDivisionError("planted by a test; this traceback is expected")

    def __reduce__(self):
        return (FailingPath, (str(self),))


def never_listen(connection: object) -> None:
    """A worker that hangs before it asks for its first task."""
    time.sleep(600)


def as_kind(kind: str, path: Path) -> Path:
    return {"crash": DeadlyPath, "hang": HangingPath, "fail": FailingPath}[kind](str(path))
