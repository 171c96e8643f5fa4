"""What runs in a worker process: songs in, evidence out, progress in between."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection

from audit.evidence import SongEvidence
from audit.facts import PassedOver, Song
from audit.pipeline.open_files import raise_open_files

PROGRESS_EVERY_S = 0.1
"""Often enough for a live line, seldom enough to cost nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One song to hear. `probe`: only to see whether this stem brings the worker down."""

    song: Song
    passed_over: tuple[PassedOver, ...] = ()
    threads: int = 1
    skip: Mapping[str, str] | None = None
    fit_enough: float = 0.6
    show_rate_hz: int | None = None
    probe: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A worker's message: progress of a stem, or the song's evidence."""

    stem: str | None = None
    bytes_done: int = 0
    evidence: SongEvidence | None = None


def work(connection: Connection) -> None:
    """Serve tasks until the other end closes. Ctrl-C is the main process's business: it ends the workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise_open_files()
    from audit.pipeline.listen import listen

    while True:
        try:
            task: Task = connection.recv()
        except (EOFError, OSError):  # closed; reset, where words were left unread; broken off in a message
            return
        try:
            reporter = _Reporter(connection)
            evidence = listen(
                task.song,
                reporter.told,
                passed_over=task.passed_over,
                threads=task.threads,
                skip=task.skip,
                fit_enough=task.fit_enough,
                show_rate_hz=task.show_rate_hz,
            )
            reporter.flush()
            connection.send(Said(evidence=evidence))
        except (BrokenPipeError, ConnectionResetError):
            return


class _Reporter:
    """Gathers progress and sends it now and then. Threads may tell it at the same time."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._one_at_a_time = threading.Lock()
        self._gathered = 0
        self._stem = ""
        self._last = time.monotonic()

    def told(self, stem: str, bytes_done: int) -> None:
        with self._one_at_a_time:
            self._gathered += bytes_done
            self._stem = stem
            if time.monotonic() - self._last >= PROGRESS_EVERY_S:
                self._send()

    def flush(self) -> None:
        with self._one_at_a_time:
            self._send()

    def _send(self) -> None:
        self._connection.send(Said(stem=self._stem, bytes_done=self._gathered))
        self._gathered = 0
        self._last = time.monotonic()
