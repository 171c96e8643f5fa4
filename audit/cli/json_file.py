"""The JSON report as a file: complete or not there at all, and never in the place of something else."""

from __future__ import annotations

import sys
from pathlib import Path

from audit.cli.screen import reader_may_leave
from audit.errors import OutputError
from audit.writing import PREFIX, write_whole

STDOUT = "-"


def check_json_target(target: str) -> None:
    """Raises OutputError where a report cannot be written: asked before the scan, not after it."""
    if target == STDOUT:
        return
    if not target.strip():
        raise OutputError("--json: no file is named: give a file name, or - for standard output")
    path = Path(target).resolve()
    if path.is_dir():
        raise OutputError(f"{target}: is a folder: add a file name")
    if not path.parent.is_dir():
        raise OutputError(f"{target}: its folder does not exist: make {path.parent} first")
    if path.is_file():
        _refuse_foreign(path, target)
    if path.exists() and not path.is_file():
        return
    import tempfile  # it brings random and hashes: more than all the rest of a page of help

    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=PREFIX):
            pass
    except OSError as error:
        raise OutputError(f"{target}: cannot be written: {error.strerror}: choose another folder") from None


def check_outside_songs(target: str, scanned: Path) -> None:
    """Raises OutputError where the report would lie among a song's stems; UsageError as `walk` does."""
    if target == STDOUT:
        return
    from audit.folder.walk import walk

    above = Path(target).resolve().parents
    for song in walk(scanned).songs:
        if song.path.resolve() in above:
            raise OutputError(
                f"{target}: lies in the song {song.name}, where the next scan would find a stray file: "
                "write it outside the songs' folders"
            )


def write_json(text: str, target: str) -> None:
    """The report to standard output ("-") or to a file, in UTF-8. Raises OutputError."""
    data = text.encode("utf-8")
    if target == STDOUT:
        with reader_may_leave():
            sys.stdout.buffer.write(data)
            sys.stdout.buffer.flush()
        return
    path = Path(target).resolve()
    try:
        if path.exists() and not path.is_file():  # a device or a named pipe: nothing to replace
            path.write_bytes(data)
        else:
            write_whole(path, data)
    except OSError as error:
        raise OutputError(f"{target}: cannot be written: {error.strerror}: choose another folder") from None


def _refuse_foreign(path: Path, target: str) -> None:
    """A slip of the keyboard must not replace a stem: only a JSON document (or nothing) may be replaced."""
    try:
        with path.open("rb") as file:
            start = file.read(64).lstrip()
    except OSError as error:
        raise OutputError(f"{target}: cannot be read: {error.strerror}: choose another name") from None
    if start and not start.startswith(b"{"):
        raise OutputError(f"{target}: exists and is no JSON report: choose another name")
