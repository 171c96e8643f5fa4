"""Where a command's words go: terminals of any width and encoding, pipes, readers that leave early."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

import typer

from audit.errors import EXIT_INTERRUPTED, OutputError
from audit.report.words import encodable, visible

if TYPE_CHECKING:
    from rich.console import Console

PIPE_COLUMNS = 100
"""Width of a report that goes into a file or a pipe, unless COLUMNS says otherwise."""

MOST_COLUMNS = 120
"""Wider lines are hard to read, however wide the terminal."""


def open_console(stream: TextIO) -> Console:
    """A rich console on this stream: no control codes in a pipe or on a dumb terminal.

    With NO_COLOR set no colours: what it asks for (no-color.org). What is redrawn in place still moves the
    cursor; TERM=dumb asks for none of that.
    """
    from rich.console import Console

    class Screen(Console):
        def on_broken_pipe(self) -> None:
            # rich would exit with 1 here, which in this program means "faults found".
            raise BrokenPipeError

    screen = Screen(file=stream, highlight=False, markup=False, emoji=False)
    if os.environ.get("NO_COLOR"):
        screen = Screen(file=stream, highlight=False, markup=False, emoji=False, color_system=None)
    if not stream.isatty() and "COLUMNS" not in os.environ:
        screen.width = PIPE_COLUMNS
    screen.width = min(screen.width, MOST_COLUMNS)
    return screen


def say(words: str, *, error: bool = False) -> None:
    """One text to standard output (or standard error), whatever its encoding; our own lines stay lines."""
    stream = sys.stderr if error else sys.stdout
    with reader_may_leave(stream):
        print(encodable("\n".join(map(visible, words.split("\n"))), stream.encoding), file=stream)


def complain(error: object) -> None:
    """What is the user's to mend, to standard error: every line of it says whose words it is."""
    say("\n".join(f"stemaudit: {line}" for line in str(error).split("\n")), error=True)


@contextmanager
def reader_may_leave(stream: TextIO | None = None) -> Iterator[None]:
    """Around all that is printed to `stream` (standard output). Whoever reads our pipe may stop early
    (`| head`): the rest is dropped, the exit code stays ours.

    Raises OutputError where standard output takes no more, as on a full disk. Where standard error does,
    nobody can be told, and the work goes on.
    """
    stream = stream or sys.stdout
    try:
        yield
        stream.flush()
    except OSError as error:
        # Python flushes once more when it ends: let that go nowhere instead of failing.
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
        if stream is not sys.stderr and not isinstance(error, BrokenPipeError):
            raise lost_output(error) from None


def lost_output(error: OSError) -> OutputError:
    """What was asked for could not be printed."""
    return OutputError(
        f"standard output: cannot be written: {(error.strerror or str(error)).lower()}: send it to a "
        "terminal, or to a disk with room on it"
    )


@contextmanager
def interruptible(consequence: str) -> Iterator[None]:
    """Ctrl-C in here ends the program with 130 and one line that says what became of its work."""
    try:
        yield
    except KeyboardInterrupt:
        say(f"Interrupted: {consequence}", error=True)
        raise typer.Exit(EXIT_INTERRUPTED) from None
