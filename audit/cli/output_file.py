"""An output file named by the user: asked about before the scan, written whole, never over something else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from audit.cli.screen import say
from audit.errors import OutputError, UsageError
from audit.folder.shown import shown
from audit.writing import PREFIX, write_whole

STDOUT = "-"

Ours = Callable[[bytes], bool]
"""Whether a file that begins so was written by the same option: only that, or an empty one, is replaced."""

START_BYTES = 64

PAGE_ENDINGS = (".html", ".htm")


def begins_with(*starts: str) -> Ours:
    """Ours is what begins with one of these, a byte order mark or blanks before it."""
    wanted = tuple(start.encode("utf-8") for start in starts)
    return lambda data: data.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(wanted)


def check_target(target: str, option: str, ours: Ours, kind: str) -> None:
    """Raises OutputError where `target` cannot be written, or is a file that is no `kind`."""
    if not target.strip():
        raise OutputError(f"{option}: no file is named: give a file name")
    path = Path(target).resolve()
    if path.is_dir():
        raise OutputError(f"{shown(target)}: is a folder: add a file name")
    if not path.parent.is_dir():
        raise OutputError(f"{shown(target)}: its folder does not exist: make {shown(str(path.parent))} first")
    if path.is_file():
        _refuse_foreign(path, target, ours, kind)
    if path.exists() and not path.is_file():
        return
    import tempfile  # it brings random and hashes: more than all the rest of a page of help

    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=PREFIX):
            pass
    except OSError as error:
        raise _unwritable(target, error) from None


def check_page(target: str, ours: Ours, kind: str) -> None:
    """`check_target` for `--html`. Raises UsageError where the name is no page's: a device has no ending."""
    path = Path(target)
    is_device = path.exists() and not path.is_file() and not path.is_dir()
    if target.strip() and path.suffix.lower() not in PAGE_ENDINGS and not is_device:
        raise UsageError(
            f"--html {shown(target)}: a page's name ends in .html or .htm, or nothing will open it"
        )
    check_target(target, "--html", ours, kind)


def check_outside_songs(target: str, scanned: Path) -> None:
    """Raises OutputError where a file would lie among a song's stems; UsageError as `walk` does."""
    from audit.folder.walk import walk

    above = Path(target).resolve().parents
    for song in walk(scanned).songs:
        if song.path.resolve() in above:
            raise OutputError(
                f"{shown(target)}: lies in the song {shown(song.name)}, where the next scan would find a "
                "stray file: write it outside the songs' folders"
            )


def write_output(data: bytes, target: str) -> None:
    """`data` as the file `target`. Raises OutputError."""
    path = Path(target).resolve()
    try:
        if path.exists() and not path.is_file():  # a device or a named pipe: nothing to replace
            path.write_bytes(data)
        else:
            write_whole(path, data)
    except OSError as error:
        raise _unwritable(target, error) from None


def say_written(*targets: str | None, data_on_stdout: bool = False) -> None:
    """A line for each file that was written, on standard error where standard output is data."""
    for target in targets:
        if target is not None and target != STDOUT:
            say(f"Written: {shown(target)}", error=data_on_stdout)


def _unwritable(target: str, error: OSError) -> OutputError:
    return OutputError(f"{shown(target)}: cannot be written: {error.strerror}: choose another folder")


def _refuse_foreign(path: Path, target: str, ours: Ours, kind: str) -> None:
    """A slip of the keyboard must not replace a stem."""
    try:
        with path.open("rb") as file:
            start = file.read(START_BYTES)
    except OSError as error:
        raise OutputError(f"{shown(target)}: cannot be read: {error.strerror}: choose another name") from None
    if start.strip() and not ours(start):
        raise OutputError(f"{shown(target)}: exists and is no {kind}: choose another name")
