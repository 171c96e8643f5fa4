"""What is run in a fork says and does what it does in a Python of its own; so do a scan's quick workers."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import psutil
import pytest

from audit.pipeline.scan import scan_show
from audit.report.json_report import to_json
from tests.cli import command, folders, warm
from tests.workers import quick_workers

FORKS = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere nothing is forked")


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One stem is clipped."""
    show = folders.write_show(tmp_path_factory.mktemp("warm") / "Harbour Lights Tour")
    folders.clip(show / "Tin Roof" / "Keys.wav")
    return show


@pytest.mark.parametrize(
    ("words", "extra", "code"),
    [
        (("scan", "Harbour Lights Tour", "--verbose"), {}, 1),
        (("scan", "Harbour Lights Tour/Night Ferry", "--jobs", "1"), {"COLUMNS": "60"}, 0),
        (("scan", "nowhere"), {}, 2),
        (("explain", "dc-offset"), {"PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"}, 0),
        (("no-command",), {}, 2),
        (("load", "Harbour Lights Tour", "--machine", "laptop-dual-disk"), {}, 0),
        (("rules", "--help"), {}, 0),
    ],
)
def test_a_fork_says_what_a_process_of_its_own_says(show: Path, words, extra, code):
    own, fork = (way.run(*words, cwd=show.parent, **extra) for way in (command, warm))
    assert (fork.returncode, fork.stdout, fork.stderr) == (own.returncode, own.stdout, own.stderr)
    assert fork.returncode == code


@FORKS
def test_nothing_is_left_from_one_command_to_the_next(show: Path, tmp_path: Path):
    kept = tmp_path / "kept"
    first = warm.run("scan", show, cwd=tmp_path, STEMAUDIT_CACHE_DIR=str(kept), COLUMNS="50").stdout
    assert kept.exists()
    later = warm.run("scan", show, cwd=show)
    assert max(map(len, first.splitlines())) <= 50 < max(map(len, later.stdout.splitlines()))
    assert "last scan" not in later.stdout


@FORKS
def test_a_fork_that_is_killed_says_by_what_and_the_next_one_works(show: Path):
    assert warm.run("scan", show).returncode == 1
    host = warm._host()
    before = host.forks()
    done = warm.started("scan", show, "--jobs", "1")
    while not (new := host.forks() - before):
        time.sleep(0.001)
    os.kill(new.pop(), signal.SIGKILL)
    assert done().returncode == -signal.SIGKILL
    assert warm.run("scan", show).returncode == 1


@FORKS
def test_a_command_that_never_ends_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    assert warm.run("rules").returncode == 0
    host = warm._host()
    monkeypatch.setattr(warm, "PATIENCE_S", 0.2)
    before = host.forks()
    done = warm.started("watch", folders.write_show(tmp_path / "Tour"))
    while not (new := host.forks() - before):
        time.sleep(0.001)
    with pytest.raises(subprocess.TimeoutExpired):
        done()
    pid, until = new.pop(), time.monotonic() + 10.0
    with suppress(psutil.NoSuchProcess):
        while psutil.Process(pid).status() != psutil.STATUS_ZOMBIE:
            assert time.monotonic() < until
            time.sleep(0.01)
    monkeypatch.undo()
    assert warm.run("scan", "nowhere").returncode == 2


def test_quick_workers_hear_the_same(show: Path):
    own = to_json(scan_show(show, jobs=2))
    with quick_workers():
        assert to_json(scan_show(show, jobs=2)) == own
