"""Entry point of the `stemaudit` command: arguments in, exit code out."""

from __future__ import annotations

import sys

from audit.errors import EXIT_INCOMPLETE, EXIT_INTERRUPTED, AuditError


def main() -> None:
    """Run the command. Errors that are the user's to mend are one line; ours are a traceback, and 3: what was
    asked has no answer, and 1 would say that the show has faults."""
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
        _tell_own_fault(error)
        sys.exit(EXIT_INCOMPLETE)


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
