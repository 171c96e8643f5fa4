"""What runs in a worker process: songs in, evidence out, progress in between."""

from __future__ import annotations

import signal
import threading
import time
from multiprocessing.connection import Connection

from audit.evidence import SongEvidence
from audit.pipeline.memory.learned import Learned
from audit.pipeline.song.open_files import raise_open_files
from audit.pipeline.workers.own_memory import collected_seldom, give_back, keep_blocks
from audit.pipeline.workers.task import Said, Task

PROGRESS_EVERY_S = 0.1
"""Often enough for a live line, seldom enough to cost nothing."""


def work(connection: Connection) -> None:
    """Serve tasks until the other end closes. Ctrl-C is the main process's business: it ends the workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise_open_files()
    keep_blocks()
    with collected_seldom():
        _serve(connection)


def _serve(connection: Connection) -> None:
    while True:
        try:
            task: Task = connection.recv()
        except (EOFError, OSError):  # closed; reset, where words were left unread; broken off in a message
            return
        try:
            reporter = _Reporter(connection)
            evidence, learned = _heard(task, reporter)
            reporter.flush()
            connection.send(Said(evidence=evidence, learned=learned))
            del evidence, learned
            give_back()
        except (BrokenPipeError, ConnectionResetError):
            return


def _heard(task: Task, reporter: _Reporter) -> tuple[SongEvidence, Learned | None]:
    """The song's evidence, with as little listening as an earlier scan leaves to do."""
    from audit.pipeline.song.listen import listen

    memory = None
    if task.memory is not None and task.skip is None and task.probe is None:
        from audit.pipeline.memory.song_memory import SongMemory

        memory = SongMemory(task, reporter.told)
        if (known := memory.song()) is not None:
            return known, memory.learned()
    evidence = listen(
        task.song,
        reporter.told,
        passed_over=task.passed_over,
        threads=task.threads,
        skip=task.skip,
        fit_enough=task.fit_enough,
        show_rate_hz=task.show_rate_hz,
        patch=task.patch,
        memory=memory,
    )
    return evidence, memory.learned(evidence) if memory is not None else None


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
