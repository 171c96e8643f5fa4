"""numpy's and scipy's linear algebra starts no threads of its own in a scan."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from audit.pipeline.workers.own_threads import THREADS, one_thread_each

ROOT = Path(__file__).parent.parent.parent

COUNT_THREADS = """
import psutil
from contextlib import nullcontext
from audit.pipeline.workers.own_threads import one_thread_each
with {how}():
    import numpy, scipy.linalg
    numpy.ones((300, 300)) @ numpy.ones((300, 300))
print(psutil.Process().num_threads())
"""


def threads(how: str) -> int:
    kept = {name: value for name, value in os.environ.items() if name != THREADS}
    done = subprocess.run(
        [sys.executable, "-c", COUNT_THREADS.format(how=how)],
        env=kept, cwd=ROOT, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return int(done.stdout)


def test_a_process_has_one_thread():
    assert threads("one_thread_each") == 1


@pytest.mark.skipif((psutil.cpu_count() or 1) < 2, reason="one core: there are no more threads anyway")
def test_without_it_there_are_more():
    assert threads("nullcontext") > 1, "their wheels carry something else than OpenBLAS: this file may go"


def test_the_setting_is_gone_afterwards(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv(THREADS, raising=False)
    with one_thread_each():
        assert os.environ[THREADS] == "1"
    assert THREADS not in os.environ


def test_the_users_own_number_stays(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv(THREADS, "2")
    with one_thread_each():
        assert os.environ[THREADS] == "2"
    assert os.environ[THREADS] == "2"
