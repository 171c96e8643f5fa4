"""`stemaudit settings`: write a show.toml from what a scan inferred."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from audit.cli.output_file import say_written
from audit.cli.scan import listen
from audit.cli.screen import reader_may_leave, say
from audit.cli.values import read_folder, read_jobs
from audit.errors import OutputError, UsageError

STDOUT = "-"


def settings(
    path: Annotated[str, typer.Argument(metavar="SHOW", path_type=str, help="A show's folder.")],
    out: Annotated[
        str | None,
        typer.Option(
            "--out", "-o", metavar="FILE", help="Another place than show.toml in the show; - for the screen."
        ),
    ] = None,
    jobs: Annotated[
        str | None,
        typer.Option(
            "--jobs",
            "-j",
            metavar="N",
            help="Processes at work (default: one a core, fewer for little work).",
        ),
    ] = None,
) -> None:
    """Write the show's settings as they can be told from its files, every line explained.

    The show is listened to (what earlier scans heard is used), and show.toml is written into its folder:
    rates, frame rate, each song's tempo, count-in and timecode. What is not sure is a remark. Read it
    through: what is wrong in the files is wrong in it. A file that is there already is never overwritten.

    \b
    Examples:
      stemaudit settings "Harbour Lights Tour"
      stemaudit settings "Harbour Lights Tour" --out my-show.toml

    \b
    Exit codes:
      0    written
      2    wrong arguments, a file that is there, or a folder that takes none
      130  interrupted
    """
    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    processes = read_jobs(jobs)
    target = _target(folder, out)
    if target is not None:
        _refuse_to_overwrite(target)
    audit = listen(folder, jobs=processes, own_settings=False, sealed=False)
    from audit.pipeline.inferred import inferred
    from audit.settings.write import settings_text

    text = settings_text(inferred(audit))
    if target is None:
        with reader_may_leave():
            sys.stdout.buffer.write(text.encode("utf-8"))
            sys.stdout.buffer.flush()
        return
    from audit.report.hear_line import quoted

    _write(text, target, path)
    say_written(str(target))
    say("Read it through: what is wrong in the files is wrong in it.")
    say(f"Then: stemaudit scan {quoted(path)}{f' --settings {quoted(out)}' if out else ''}")


def _target(folder: Path, out: str | None) -> Path | None:
    """None: standard output."""
    from audit.settings.read import FILE

    if out is None:
        return folder / FILE
    if not out.strip():
        raise UsageError("--out: no file is named: give a file name, or leave --out out")
    return None if out == STDOUT else Path(out)


def _refuse_to_overwrite(target: Path) -> None:
    if target.exists() or target.is_symlink():
        raise OutputError(
            f"{target}: is there already and is not touched: name another file with --out, and compare"
        )


def _write(text: str, target: Path, show: str) -> None:
    """Whole or not at all, and never in the place of another. Raises OutputError."""
    from audit.report.hear_line import quoted
    from audit.writing import replacing

    try:
        with replacing(target) as made:
            made.write_bytes(text.encode("utf-8"))
            _refuse_to_overwrite(target)  # somebody may have made it while the show was listened to
    except OSError as error:
        raise OutputError(
            f"{target}: cannot be written: {error.strerror}: name a place that can, such as "
            f"stemaudit settings {quoted(show)} --out show.toml"
        ) from None
