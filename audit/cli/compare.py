"""`stemaudit compare`: two copies of a show, each a folder or a seal."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.json_file import check_json_target, write_json
from audit.cli.output_file import STDOUT, check_outside_songs, say_written
from audit.cli.screen import interruptible, open_console, reader_may_leave
from audit.cli.unquoted import check_taken_apart
from audit.cli.values import read_folder, read_jobs
from audit.errors import EXIT_CLEAN, EXIT_FINDINGS, EXIT_INCOMPLETE

if TYPE_CHECKING:
    from audit.pipeline.sealed.show_copies import Copy


def compare(
    first: Annotated[
        str, typer.Argument(metavar="A", path_type=str, help="A show's folder, or a seal: how it should be.")
    ],
    second: Annotated[
        str, typer.Argument(metavar="B", path_type=str, help="Another one: the spare, the drive in the bag.")
    ],
    quick: Annotated[
        bool, typer.Option("--quick", help="Read only files whose size or time differs.")
    ] = False,
    json: Annotated[
        str | None,
        typer.Option("--json", metavar="FILE", help="Also write everything as JSON; - for standard output."),
    ] = None,
    jobs: Annotated[
        str | None,
        typer.Option("--jobs", "-j", metavar="N", help="Files read at a time (default: one a core)."),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Nothing if both are the same.")] = False,
) -> None:
    """Compare two copies of a show, stem by stem: is the spare machine the same to the bit?

    Each is a folder or a seal. What differs is told as what was done to B: louder, later, longer, edited.
    Names count as the same whatever their Unicode form and letter case; metadata alone are no difference.

    \b
    Examples:
      stemaudit compare "Harbour Lights Tour" "/Volumes/SPARE/Harbour Lights Tour"
      stemaudit compare monday.seal tuesday.seal

    \b
    Exit codes:
      0    the same, but for metadata
      1    stems are missing, new, renamed or different
      2    wrong arguments, or a damaged seal
      3    some stems could not be read, and no other difference
      130  interrupted
    """
    import os

    place = "no folder is named; give a show's folder or a seal"
    one, other = read_folder(first, f"A: {place}"), read_folder(second, f"B: {place}")
    check_taken_apart(first, second)
    workers = read_jobs(jobs) or os.cpu_count() or 1
    if json is not None:
        check_json_target(json)
        for folder in (one, other):
            if json != STDOUT and folder.is_dir():
                check_outside_songs(json, folder)
    with interruptible("nothing was written."):
        from audit.cli.progress import watching
        from audit.pipeline.sealed.levels import check_level
        from audit.pipeline.sealed.verifying import differences

        olds, news = _copies(one), _copies(other)
        check_level(olds, news, (one, other), ("A", "B"))
        with watching(quiet=quiet) as watcher:
            on_disk = [copy for copy in (*olds, *news) if copy.sealed is None]
            watcher.begin(1, sum(copy.size_bytes for copy in on_disk))
            found = differences(olds, news, quick=quick, jobs=workers, told=watcher.stem_progress)
            watcher.end()
    from audit.report.compare_report import compare_json, is_different, print_comparison

    unread = bool(found.could_not_read)
    code = EXIT_FINDINGS if is_different(found) else EXIT_INCOMPLETE if unread else EXIT_CLEAN
    if json is not None:
        write_json(compare_json(found, first, second, quick=quick), json)
    stream = sys.stderr if json == STDOUT else sys.stdout
    with reader_may_leave(stream):
        if not quiet or (code != EXIT_CLEAN and json != STDOUT):
            print_comparison(found, first, second, open_console(stream), quick=quick)
    if not quiet:
        say_written(json)
    raise typer.Exit(code)


def _copies(place: Path) -> list[Copy]:
    """The stems of a folder, or of a seal. Raises UsageError where it is neither."""
    from audit.cli.show_settings import settings_for
    from audit.folder.walk import walk
    from audit.pipeline.sealed.show_copies import copies_of_folder, copies_of_seal
    from audit.seal.file import read_seal

    if place.is_file():
        return list(copies_of_seal(read_seal(place)))
    return list(copies_of_folder(walk(place, settings=settings_for(place, None))))
