"""Entry point of the `stemaudit` command: arguments in, exit code out."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import NoReturn

from audit.errors import EXIT_INCOMPLETE, EXIT_INTERRUPTED, AuditError, OutputError


def main() -> None:
    """Run the command. Errors that are the user's to mend are one line; ours are a traceback, and 3: what was
    asked has no answer, and 1 would say that the show has faults."""
    _open_closed_streams()
    try:
        # Imported in here, so that Ctrl-C while the program loads is no traceback either.
        from audit.cli.app import app

        app(prog_name="stemaudit")  # also for `python -m audit`
    except AuditError as error:
        from audit.cli.screen import complain

        complain(error)
        sys.exit(error.exit_code)
    except KeyboardInterrupt:
        sys.exit(EXIT_INTERRUPTED)
    except Exception as error:
        if isinstance(error, OSError) and _was_printing(error):
            _end_without_output(error)
        _tell_own_fault(error)
        sys.exit(EXIT_INCOMPLETE)


def _open_closed_streams() -> None:
    """A closed stream (`>&-`) is none at all in Python, and the next file opened would take its place."""
    if sys.stdout is None or sys.stderr is None:
        nowhere = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  # until the program ends
        sys.stdout, sys.stderr = sys.stdout or nowhere, sys.stderr or nowhere


def _was_printing(error: OSError) -> bool:
    """Whether typer was printing its help, or what is wrong with the words given."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    return trace is not None and trace.tb_frame.f_code.co_name == "echo"


def _end_without_output(error: OSError) -> NoReturn:
    from audit.cli.screen import complain, lost_output, reader_may_leave

    lost = lost_output(error)
    with suppress(OutputError), reader_may_leave():
        raise error
    complain(lost)
    sys.exit(lost.exit_code)


def _tell_own_fault(error: Exception) -> None:
    """The traceback, for whoever mends it, and below it, where it is read, one line for the user."""
    import traceback

    from audit.cli.screen import complain, say

    say("".join(traceback.format_exception(error)).rstrip("\n"), error=True)
    what = " ".join(f"{type(error).__name__}: {error}".split())
    complain(
        f"a fault of stemaudit itself, not of the show ({what}): what was asked has no answer, and no "
        "stem was altered; please report it with the lines above"
    )
