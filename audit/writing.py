"""Writing a file so that it is complete or not there at all: under another name first, then renamed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PREFIX = ".stemaudit-"
"""How the names of files begin that a killed run may leave behind."""


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A new, empty file beside `path` to be written by the body; it takes the place of `path` at its end.

    If the body raises, or is interrupted, `path` is as it was and nothing is left beside it. What was written
    is on the disk before the name changes. Raises OSError where the folder takes no file.
    """
    import tempfile  # it brings random and hashes: more than all the rest of a page of help

    handle, name = tempfile.mkstemp(dir=path.parent, prefix=PREFIX, suffix=".part")
    os.close(handle)
    made = Path(name)
    try:
        yield made
        with made.open("rb+") as file:
            os.fsync(file.fileno())
        # mkstemp makes a private file; an output may be read by whoever may read other new files.
        umask = os.umask(0)
        os.umask(umask)
        made.chmod(0o666 & ~umask)
        made.replace(path)
    except BaseException:
        made.unlink(missing_ok=True)
        raise


def write_whole(path: Path, data: bytes) -> None:
    """`data` as the file `path`, whole or not at all. Raises OSError."""
    with replacing(path) as made:
        made.write_bytes(data)
