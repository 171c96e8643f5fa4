"""One file, opened read-only and read in small pieces. Nothing here trusts a length that a file claims."""

from __future__ import annotations

import errno
import io
import os
import stat
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from audit.results import Cause

AtWork = Callable[[], object]

_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
# O_NONBLOCK: a named pipe that takes the file's place after the check below must not hang the scan.


class Source:
    """A regular file's bytes by offset. Context manager; raises OSError as the system does.

    at_work: called at every reading, so that whoever waits can tell a long look from a hang.
    """

    def __init__(self, path: Path, at_work: AtWork = lambda: None) -> None:
        self.at_work = at_work
        name = os.fsencode(path)
        _refuse_special(os.stat(name).st_mode)  # before opening: opening a device can already do something
        self.file = io.FileIO(os.open(name, _FLAGS), "rb")
        try:
            state = os.fstat(self.file.fileno())
            _refuse_special(state.st_mode)
        except OSError:
            self.file.close()
            raise
        self.size = state.st_size

    def at(self, offset: int, length: int) -> bytes:
        """Up to `length` bytes from `offset`; shorter at the end of the file."""
        if offset >= self.size or length <= 0:
            return b""
        self.at_work()
        self.file.seek(offset)
        wanted = min(length, self.size - offset)
        parts = []
        while wanted > 0 and (part := self.file.read(wanted)):
            parts.append(part)
            wanted -= len(part)
        return b"".join(parts)

    def close(self) -> None:
        self.file.close()

    def __enter__(self) -> Source:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _refuse_special(mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError("it is a folder, not a file")
    if not stat.S_ISREG(mode):
        raise OSError("it is not a regular file (a pipe, a socket or a device)")


def cause_of(error: OSError | ValueError) -> Cause:
    """Whether the file, its permissions, or a system that ran out of something is why it was refused."""
    number = error.errno if isinstance(error, OSError) else None
    if number in (errno.EACCES, errno.EPERM):
        return Cause.PERMISSION
    return Cause.OURS if number in (errno.EMFILE, errno.ENFILE, errno.ENOMEM) else Cause.FILE


def reason_of(error: OSError | ValueError) -> str:
    """Why the system refused, in its own words: `permission denied`."""
    text = (
        error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    ) or "unknown error"
    return text[0].lower() + text[1:]
