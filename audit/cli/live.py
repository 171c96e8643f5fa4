"""One line on standard error that tells what is going on, and is gone at the end. Nothing in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from audit.cli.screen import open_console
from audit.report.words import encodable, visible


@contextmanager
def live_line() -> Iterator[Callable[[str], None]]:
    """Something to tell words to while the block runs."""
    if not sys.stderr.isatty():
        yield lambda words: None
        return
    console = open_console(sys.stderr)
    if console.is_dumb_terminal:
        yield lambda words: None
        return
    with console.status("starting") as status:
        yield lambda words: status.update(encodable(visible(words), console.encoding))
