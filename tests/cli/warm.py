"""Runs the command in a fork of a Python that has everything loaded.

A process of its own, whose output and exit code are the command's: only the start is saved, a second or two,
most of it for kernels. What concerns the start itself, signals, a terminal or the workers' own processes is
tested with `tests.cli.command`.
"""

from __future__ import annotations

import atexit
import json
import os
import select
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path

from tests.cli import command
from tests.cli.command import ROOT, environment

Done = subprocess.CompletedProcess[str]
PATIENCE_S = 120.0
NEEDS_A_START = ("PYTHON", "LC_", "LANG", "LD_")
"""Beginnings of variables that Python or the system's loader reads when it starts."""


class Host:
    """The loaded Python, and the files that its forks write to."""

    def __init__(self) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="stemaudit-tests-", ignore_cleanup_errors=True)
        read, self._orders = os.pipe()
        self._answers, write = os.pipe()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.cli.warm_host", str(read), str(write)],
            cwd=ROOT, env=environment(), stdin=subprocess.DEVNULL, pass_fds=(read, write),
            start_new_session=True,
        )  # fmt: skip
        os.close(read)
        os.close(write)
        atexit.register(self.end)

    def order(self, **order: object) -> None:
        os.write(self._orders, json.dumps(order).encode() + b"\n")

    def answer(self) -> int:
        """The exit code of the command that was ordered. Raises TimeoutExpired, and the host is gone."""
        ready, _, _ = select.select([self._answers], [], [], PATIENCE_S)
        answer = os.read(self._answers, 100) if ready else b""
        if not answer:
            self.end()
            raise subprocess.TimeoutExpired("a fork", PATIENCE_S)
        return int(answer)

    def forks(self) -> set[int]:
        """Process ids. The tracker that multiprocessing starts is one of them."""
        pid = self._process.pid
        return {int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()}

    def end(self) -> None:
        if self._process.poll() is None:
            for group in (
                *self.forks(),
                self._process.pid,
            ):  # a command and its workers are a group of their own
                with suppress(ProcessLookupError):
                    os.killpg(group, signal.SIGKILL)
        self._process.wait()
        _host.cache_clear()


@cache
def _host() -> Host:
    return Host()


def started(*words: str | Path, cwd: Path | None = None, **extra: str) -> Callable[[], Done]:
    """`stemaudit WORDS` under way; calling what comes back waits for its end. One at a time."""
    if not sys.platform.startswith("linux") or any(name.startswith(NEEDS_A_START) for name in extra):
        return lambda: command.run(*words, cwd=cwd, **extra)
    host = _host()
    said = [Path(host.folder.name) / name for name in ("output", "complaints")]
    for path in said:
        path.write_bytes(b"")
    given = [str(word) for word in words]
    host.order(
        words=given, folder=str(cwd or Path.cwd()), environment=environment(**extra), output=str(said[0]),
        complaints=str(said[1]),
    )  # fmt: skip

    def done() -> Done:
        code = host.answer()
        output, complaints = (path.read_text(encoding="utf-8") for path in said)
        return subprocess.CompletedProcess(given, code, output, complaints)

    return done


def run(*words: str | Path, cwd: Path | None = None, **extra: str) -> Done:
    """`stemaudit WORDS` to its end, as `command.run` has it."""
    return started(*words, cwd=cwd, **extra)()
