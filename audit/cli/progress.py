"""What someone who waits sees: song, file, share of the bytes, time left. On a terminal only, on stderr."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from rich.cells import cell_len
from rich.console import Console
from rich.progress import BarColumn, Progress, ProgressColumn, Task, TaskID
from rich.text import Text

from audit.cli.screen import open_console
from audit.pipeline.progress import Unwatched, Watcher
from audit.report.words import encodable, shorten, visible
from audit.units import clock, count


@contextmanager
def watching(*, quiet: bool = False) -> Iterator[Watcher]:
    """A watcher that shows the scan's course on standard error while the block runs.

    Silent in a pipe, and where `quiet` was asked for.
    """
    if quiet or not sys.stderr.isatty():
        yield Unwatched()
        return
    console = open_console(sys.stderr)
    if console.is_dumb_terminal:
        yield SongLines(console)
        return
    bar = Progress(_Where(console), BarColumn(bar_width=20), _Share(), console=console, transient=True)
    with bar:
        yield ProgressBar(bar)


class ProgressBar:
    """One line that is redrawn in place and gone when the scan is over."""

    def __init__(self, bar: Progress) -> None:
        self._bar = bar
        self._task: TaskID = bar.add_task("Looking for songs", total=None)

    def begin(self, songs: int, total_bytes: int) -> None:
        self._bar.update(self._task, total=total_bytes, description="Starting")

    def song_started(self, song: str) -> None:
        self._bar.update(self._task, description=song)

    def stem_progress(self, song: str, stem: str, bytes_done: int) -> None:
        self._bar.update(self._task, advance=bytes_done, description=f"{song}: {stem}" if stem else song)

    def song_done(self, song: str) -> None:
        pass

    def end(self) -> None:
        self._bar.update(self._task, description="Comparing the songs")


class SongLines(Unwatched):
    """A line a song, for terminals that cannot move their cursor."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._songs = 0
        self._done = 0

    def begin(self, songs: int, total_bytes: int) -> None:
        self._songs = songs
        if songs:
            self._say(f"Listening to {count(songs, 'song')}")

    def song_done(self, song: str) -> None:
        self._done += 1
        self._say(f"{self._done} of {self._songs}: {song}")

    def _say(self, words: str) -> None:
        self._console.print(encodable(visible(words), self._console.encoding), soft_wrap=True)


class _Where(ProgressColumn):
    """Song and file, always of the same width, so that the bar stands still."""

    def __init__(self, console: Console) -> None:
        super().__init__()
        self._console = console

    def render(self, task: Task) -> Text:
        room = max(12, self._console.width - 20 - 22)
        encoding = self._console.encoding
        words = encodable(visible(task.description), encoding)
        words = shorten(words, room, cell_len, encodable("…", encoding))
        return Text(words + " " * (room - cell_len(words)))


class _Share(ProgressColumn):
    """`43 %  1:07 left`."""

    def render(self, task: Task) -> Text:
        if not task.total:
            return Text("")
        left = task.time_remaining
        words = f"{min(100.0, task.percentage):3.0f} %"
        return Text(words if left is None else f"{words}  {clock(left, millis=False)} left")
