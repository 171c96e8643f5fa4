"""A worker that waits its turn is not one that hangs."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import psutil
import pytest

from audit.facts import Song
from audit.folder.walk import walk
from audit.pipeline.progress import Unwatched
from audit.pipeline.workers import pool
from audit.pipeline.workers.patience import is_starved
from audit.pipeline.workers.task import Task
from tests import signals
from tests.pipeline.deadly import as_kind
from tests.pipeline.files import write_wav
from tests.pipeline.patience import at_most

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="POSIX paths, nice values")

LOOP = "import os, sys; os.nice(int(sys.argv[1])); print(flush=True)\nwhile True: pass"


@pytest.fixture
def loops() -> Iterator[list[subprocess.Popen[str]]]:
    """Twice as many busy processes as processors; the last one gives way to all of them."""
    courtesy = [0] * 2 * (psutil.cpu_count() or 1) + [19]
    began = [
        subprocess.Popen([sys.executable, "-c", LOOP, str(nice)], stdout=subprocess.PIPE, text=True)
        for nice in courtesy
    ]
    for loop in began:
        assert loop.stdout is not None
        loop.stdout.readline()  # it loops
    yield began
    for loop in began:
        loop.kill()
        loop.communicate()


def test_a_process_that_others_keep_from_working_is_starved(loops):
    assert is_starved(loops[-1].pid)


def test_one_that_sleeps_or_is_gone_is_not(loops):
    asleep = subprocess.Popen([sys.executable, "-c", "import time; print(flush=True); time.sleep(600)"])
    try:
        time.sleep(0.5)
        assert not is_starved(asleep.pid)
    finally:
        asleep.kill()
        asleep.wait()
    assert not is_starved(asleep.pid)


@pytest.fixture
def song(tmp_path: Path) -> Song:
    """Of one stem that never comes back."""
    write_wav(tmp_path / "Song" / "Keys.wav", signals.sine(freq_hz=440, peak=0.3, seconds=1)[0])
    song = walk(tmp_path / "Song").songs[0]
    return replace(song, stems=tuple(replace(stem, path=as_kind("hang", stem.path)) for stem in song.stems))


@pytest.mark.parametrize(("starved", "periods"), [(False, 1), (True, 1 + pool.STARVED_TIMES)])
def test_a_starved_worker_gets_more_time_but_not_for_ever(
    song: Song, monkeypatch: pytest.MonkeyPatch, starved: bool, periods: int
):
    monkeypatch.setattr(pool, "SILENT_TOO_LONG_S", 2.0)
    looks: list[int] = []
    monkeypatch.setattr(pool, "is_starved", lambda pid: looks.append(pid) or starved)
    with at_most(90):
        began = time.monotonic()
        (evidence,) = pool.listen_to_all([Task(song=song)], 1, Unwatched())
    assert evidence.stems[0].failure == pool.HUNG
    assert time.monotonic() - began >= 2.0 * periods
    assert len(set(looks)) == 1
    assert len(looks) == (pool.STARVED_TIMES if starved else 1)
