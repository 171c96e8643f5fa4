"""`stemaudit scan` a second time, and `stemaudit cache`: the same report sooner, and one's own disk back."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from audit.cache.store import NAME
from audit.cli.recalled import taken_words
from tests.cli import command, folders
from tests.cli.command import environment, modules_after
from tests.cli.warm import run

HEAVY = {"numpy", "soundfile", "scipy", "numba", "librosa"}


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = folders.write_show(tmp_path_factory.mktemp("cached") / "Harbour Lights Tour")
    for path in made.rglob("*.wav"):
        os.utime(path, ns=(1_700_000_001_234_567_891,) * 2)
    return made


@pytest.fixture(scope="module")
def kept(show: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What one scan left. Not to be changed."""
    place = tmp_path_factory.mktemp("kept")
    done = run("scan", show, "--jobs", "2", STEMAUDIT_CACHE_DIR=str(place))
    assert done.returncode == 0
    assert done.stderr == ""
    return place


def stems(show: Path) -> int:
    return len(list(show.rglob("*.wav")))


def test_both_reports_are_the_same_to_the_byte(show: Path, kept: Path, tmp_path: Path):
    report = tmp_path / "report.json"
    plain = run("scan", show, "--no-cache", "--verbose", "--json", report)
    cold = report.read_bytes()
    again = run("scan", show, "--verbose", "--json", report, STEMAUDIT_CACHE_DIR=str(kept))
    assert again.stdout == plain.stdout
    assert report.read_bytes() == cold
    assert plain.stderr == ""
    assert again.stderr == f"{stems(show)} stems taken from the last scan by size and time.\n"


def test_a_second_scan_loads_nothing_that_measures(show: Path, kept: Path, monkeypatch: pytest.MonkeyPatch):
    loaded = modules_after("scan", str(show), STEMAUDIT_CACHE_DIR=str(kept))
    assert "audit.cache.store" in loaded
    assert not loaded & HEAVY
    assert not {name for name in loaded if name.startswith("audit.measure.")}


def test_quiet_says_nothing_of_it(show: Path, kept: Path):
    done = run("scan", show, "--quiet", STEMAUDIT_CACHE_DIR=str(kept))
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_without_the_cache_nothing_is_kept(show: Path, tmp_path: Path):
    run("scan", show, "--no-cache", STEMAUDIT_CACHE_DIR=str(tmp_path / "kept"))
    assert not (tmp_path / "kept").exists()


def test_rehash_reads_every_file(show: Path, kept: Path):
    done = run("scan", show, "--rehash", STEMAUDIT_CACHE_DIR=str(kept))
    assert done.stderr == f"{stems(show)} stems taken from the last scan by content.\n"


def test_the_cache_tells_its_size_and_goes(show: Path, kept: Path, tmp_path: Path):
    mine = tmp_path / "kept"
    shutil.copytree(kept, mine)
    told = run("cache", STEMAUDIT_CACHE_DIR=str(mine)).stdout
    assert f"{mine}: what was heard of " in told
    assert f"{stems(show)} stems" in told
    cleared = run("cache", "--clear", STEMAUDIT_CACHE_DIR=str(mine))
    assert cleared.returncode == 0
    assert cleared.stdout.startswith("Deleted ")
    assert list(mine.iterdir()) == []
    assert run("cache", STEMAUDIT_CACHE_DIR=str(mine)).stdout == f"Nothing is kept in {mine}.\n"


def test_copies_within_a_scan_come_from_no_last_scan(tmp_path: Path):
    """One process: the second song's turn comes when the first is known."""
    show = folders.write_show(tmp_path / "Tour")
    shutil.copy(show / "Night Ferry" / "Bass.wav", show / "Tin Roof" / "Bass 2.wav")
    shutil.copytree(show / "Night Ferry", show / "Old Ferry")
    cache = {"STEMAUDIT_CACHE_DIR": str(tmp_path / "cache")}
    first = run("scan", show, "--jobs", "1", **cache)
    assert first.stderr == "4 stems are copies of others in this scan: heard once.\n"
    later = run("scan", show, "--jobs", "1", "--rehash", **cache)
    assert later.stderr == "10 stems taken from the last scan by content.\n"


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ((0, 0, 0), ""),
        ((1, 0, 0), "1 stem taken from the last scan by size and time."),
        ((5, 2, 1), "5 stems taken from the last scan by size and time, 2 by content; "
                    "1 stem is a copy of another in this scan: heard once."),
        ((0, 0, 121), "121 stems are copies of others in this scan: heard once."),
    ],
)  # fmt: skip
def test_what_was_taken_in_words(numbers: tuple[int, int, int], words: str):
    assert taken_words(*numbers) == words


def test_a_broken_cache_is_a_word_on_the_way(show: Path, tmp_path: Path):
    (tmp_path / NAME).write_bytes(b"no database at all" * 500)
    done = run("scan", show, STEMAUDIT_CACHE_DIR=str(tmp_path))
    assert done.returncode == 0
    assert done.stderr == f"stemaudit: what earlier scans left in {tmp_path} was damaged and is begun anew\n"
    again = run("scan", show, STEMAUDIT_CACHE_DIR=str(tmp_path))
    assert again.stderr == f"{stems(show)} stems taken from the last scan by size and time.\n"


def test_a_cache_that_cannot_be_written_is_a_word_on_the_way(show: Path, tmp_path: Path):
    (tmp_path / "file").write_text("no folder")
    done = run("scan", show, STEMAUDIT_CACHE_DIR=str(tmp_path / "file"))
    assert done.returncode == 0
    assert "the scan is as good" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_two_scans_at_once_say_the_same(show: Path, tmp_path: Path):
    words = [sys.executable, "-m", "audit", "scan", str(show), "--jobs", "1"]
    both = [
        subprocess.Popen(
            words, env=environment(STEMAUDIT_CACHE_DIR=str(tmp_path)), stdout=subprocess.PIPE,
            stderr=subprocess.PIPE, text=True, encoding="utf-8",
        )
        for _ in range(2)
    ]  # fmt: skip
    (one, one_said), (other, other_said) = (process.communicate(timeout=120) for process in both)
    assert one == other == run("scan", show, "--no-cache").stdout
    assert "begun anew" not in one_said + other_said
    assert "cannot be kept" not in one_said + other_said
    again = run("scan", show, STEMAUDIT_CACHE_DIR=str(tmp_path))
    assert again.stderr == f"{stems(show)} stems taken from the last scan by size and time.\n"


KILLS = int(os.environ.get("STEMAUDIT_KILLS", "5"))
"""How often a scan is killed; for the long run see DEVELOPERS.md."""


@pytest.mark.skipif(sys.platform == "win32", reason="no such signal there")
def test_a_killed_scan_harms_nothing(show: Path, tmp_path: Path):
    cold = run("scan", show, "--no-cache").stdout
    began = time.monotonic()
    command.run("scan", show, "--jobs", "2", STEMAUDIT_CACHE_DIR=str(tmp_path / "whole"))
    whole_s = time.monotonic() - began
    moments = random.Random(20)
    killed = 0
    for number in range(4 * KILLS):
        if killed >= KILLS:
            break
        place = str(tmp_path / str(number // 5))  # several scans in a row die on the same memory
        process = subprocess.Popen(
            [sys.executable, "-m", "audit", "scan", str(show), "--jobs", "2"],
            env=environment(STEMAUDIT_CACHE_DIR=place), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            start_new_session=True,
        )  # fmt: skip
        time.sleep(moments.uniform(0.05, 1.0) * whole_s)
        if process.poll() is None:
            killed += 1
            os.killpg(process.pid, signal.SIGKILL)
        else:
            whole_s *= 0.8  # the machine is less busy than it was
        process.communicate()
        done = run("scan", show, STEMAUDIT_CACHE_DIR=place) if number % 5 in (1, 4) else None
        if done is not None:
            assert done.stdout == cold
            assert "begun anew" not in done.stderr
            shutil.rmtree(place)
    assert killed == KILLS
