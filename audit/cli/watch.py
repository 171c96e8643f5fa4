"""`stemaudit watch`: bounces are audited as they land."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.screen import complain, interruptible, open_console, reader_may_leave, say
from audit.cli.values import read_folder, read_jobs
from audit.errors import AuditError

if TYPE_CHECKING:
    from audit.pipeline.landing import Stamp

STEP_MS = 250
"""How often files that are being written are looked at."""

OURS = (".stemaudit-", "show.seal")
"""Begin the names of files that stemaudit itself writes."""


def watch(
    path: Annotated[
        str, typer.Argument(metavar="SHOW", path_type=str, help="A show's folder, or one song's.")
    ],
    jobs: Annotated[
        str | None,
        typer.Option(
            "--jobs",
            "-j",
            metavar="N",
            help="Processes at work (default: one a core, fewer for little work).",
        ),
    ] = None,
    poll: Annotated[
        bool,
        typer.Option("--poll", help="Look again and again: for network drives that do not tell of changes."),
    ] = False,
    bell: Annotated[
        bool, typer.Option("--bell/--no-bell", help="Ring the terminal's bell at a new error.")
    ] = True,
    settings: Annotated[
        str | None, typer.Option("--settings", metavar="FILE", help="Settings instead of the show's own.")
    ] = None,
) -> None:
    """Audit songs again as bounces land in their folders, until Ctrl-C.

    A file is heard once it has stopped growing for two seconds, or for thirty while its header promises more;
    stems that land one after another are one change. Each change is told once: the songs it touched, the
    faults that came, those that are mended. A new error rings the bell.

    \b
    Examples:
      stemaudit watch "Harbour Lights Tour"
      stemaudit watch /Volumes/SESSIONS/tour --poll
    """
    folder = read_folder(path, "SHOW: no folder is named; give a show's folder, or . for the current one")
    processes = read_jobs(jobs)
    from audit.cli.scan import listen
    from audit.pipeline.landing import lacks_its_end, landings, stamps_in

    found = stamps_in(str(folder)) if folder.is_dir() else {}  # the scan says better what is wrong
    before = listen(folder, jobs=processes, settings_file=settings)
    with interruptible("the watch is over."):
        from audit.report.news import print_news
        from audit.report.verdict import show_verdict

        say(show_verdict(before, None, None))
        say(f"Watching {folder} (Ctrl-C ends it).")
        sys.stdout.flush()
        for _ in landings(_rounds(folder, found, poll=poll), unfinished=lacks_its_end):
            try:
                after = listen(folder, jobs=processes, settings_file=settings, quiet=True)
            except AuditError as error:
                # The folder went, or its last stem did, or the settings were saved half done: the next change
                # may bring it back, and the watch compares with what it last understood.
                complain(error)
                continue
            with reader_may_leave():
                console = open_console(sys.stdout)
                with console.capture() as caught:
                    worse = print_news(before, after, console)
                if caught.get():
                    say(f"{datetime.now():%H:%M} {show_verdict(after)}")
                    sys.stdout.write(caught.get())
                if worse and bell and sys.stdout.isatty():
                    sys.stdout.write("\a")
                sys.stdout.flush()
            before = after


def _rounds(folder: Path, before: dict[str, Stamp], *, poll: bool) -> Iterator[list[str]]:
    """What changed since the last round, several times a second.

    before: the files as they were when the first scan began; what landed meanwhile is in the first round.
    """
    from watchfiles._rust_notify import WatchfilesRustInternalError

    try:
        yield from _told(folder, before, poll=poll)
    except (UnicodeEncodeError, WatchfilesRustInternalError):
        # watchfiles stops at a name that is no UTF-8, and what it had to tell is lost.
        yield from _looked_for(folder, before)


def _told(folder: Path, before: dict[str, Stamp], *, poll: bool) -> Iterator[list[str]]:
    import watchfiles

    from audit.pipeline.landing import changed_since

    changes = watchfiles.watch(
        folder, watch_filter=_matters, debounce=STEP_MS, step=STEP_MS, rust_timeout=STEP_MS,
        yield_on_timeout=True, force_polling=poll or None, raise_interrupt=True,
    )  # fmt: skip
    missed = False
    for found in changes:
        news = [path for _, path in found]
        if not missed:  # from here on the system tells
            missed = True
            news += [path for path in changed_since(before, str(folder)) if _matters(None, path)]
        yield news


def _looked_for(folder: Path, before: dict[str, Stamp]) -> Iterator[list[str]]:
    """The same by looking through the folder over and over; a tenth of the time at most goes into that."""
    from audit.pipeline.landing import stamps_in

    while True:
        begun_s = time.monotonic()
        now = stamps_in(str(folder))
        took_s = time.monotonic() - begun_s
        yield [
            path for path in {**before, **now} if before.get(path) != now.get(path) and _matters(None, path)
        ]
        before = now
        time.sleep(max(STEP_MS / 1000, 9 * took_s))


def _matters(change: object, path: str) -> bool:
    """Hidden files are litter or on their way to another name."""
    name = Path(path).name
    return not name.startswith((".", *OURS))
