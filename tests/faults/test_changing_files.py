"""Files that change while they are heard: removed, replaced, growing, cut short."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.folders import write_show, write_tone
from tests.faults.running import scan, under_way

SECONDS = 12.0
"""So long that most of a scan is listening."""

STEMS = {f"{song}/{stem}.wav" for song in ("Night Ferry", "Tin Roof") for stem in ("Bass", "Keys", "Guitar")}


def remove(path: Path) -> None:
    path.unlink(missing_ok=True)


def replace(path: Path) -> None:
    made = write_tone(path.parent.parent.parent / "made.wav", freq_hz=500.0, seconds=1.0)
    os.replace(made, path)


def replace_by_a_folder(path: Path) -> None:
    path.unlink(missing_ok=True)
    path.mkdir(exist_ok=True)


def replace_by_a_pipe(path: Path) -> None:
    path.unlink(missing_ok=True)
    os.mkfifo(path)


def grow(path: Path) -> None:
    with path.open("ab") as file:
        file.write(bytes(200_000))


def cut(path: Path) -> None:
    os.truncate(path, 50_000)


def empty(path: Path) -> None:
    os.truncate(path, 0)


CHANGES: tuple[Callable[[Path], None], ...] = (
    remove, replace, replace_by_a_folder, replace_by_a_pipe, grow, cut, empty,
)  # fmt: skip


@pytest.fixture(scope="module")
def usual_s(tmp_path_factory: pytest.TempPathFactory) -> float:
    """How long an undisturbed scan takes here and now; the first one fills the system's caches."""
    show = write_show(tmp_path_factory.mktemp("usual"), seconds=SECONDS)
    for _ in range(2):
        began = time.monotonic()
        scan(show, "--jobs", "1")
    return time.monotonic() - began


@pytest.mark.skipif(os.name != "posix", reason="other systems keep an open file from being changed")
@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
@pytest.mark.parametrize("share", [0.3, 0.75])
def test_a_file_that_changes_under_the_scan_harms_no_other(tmp_path: Path, usual_s: float, change, share):
    show = write_show(tmp_path / "Tour", seconds=SECONDS)
    done = under_way(show, "--jobs", "1")
    time.sleep(share * usual_s)
    for song in ("Night Ferry", "Tin Roof"):
        change(show / song / "Keys.wav")
    told = done()
    # Gone before the folder was walked, it is no stem: it may be missing, or a folder of its own.
    assert told.stems() >= STEMS - {f"{song}/Keys.wav" for song in ("Night Ferry", "Tin Roof")}
    assert told.code in (0, 1, 3)
    accused = set().union(*told.findings().values(), set())
    assert accused <= {"Keys.wav", "None"}
