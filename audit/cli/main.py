"""Entry point of the `stemaudit` command: arguments in, exit code out."""

from __future__ import annotations

import sys

from audit.errors import EXIT_INTERRUPTED, AuditError


def main() -> None:
    """Run the command. Errors that are the user's to mend are one line; ours are a traceback."""
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
