"""How a scan shares its work out among the cores."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.folder.walk import walk
from audit.pipeline import scan
from audit.pipeline.workers import pool
from audit.pipeline.workers.task import Task
from tests.pipeline.files import write_wav


@pytest.mark.parametrize(
    ("songs", "jobs", "threads"), [(1, 4, 4), (2, 4, 2), (3, 4, 1), (8, 4, 1), (1, 1, 1)]
)
def test_cores_without_a_song_help_inside_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, songs: int, jobs: int, threads: int
):
    for number in range(songs):
        write_wav(tmp_path / f"Song {number}" / "Bass.wav", np.zeros((480, 1)))
    given: list[Task] = []

    class SharedError(Exception):
        """Nothing needs to be heard for this."""

    def listen_to_all(tasks: list[Task], workers: int, watcher: object):
        given.extend(tasks)
        assert workers == jobs
        raise SharedError

    monkeypatch.setattr(pool, "listen_to_all", listen_to_all)
    with pytest.raises(SharedError):
        scan.scan_show(tmp_path, jobs=jobs)
    assert [task.threads for task in given] == [threads] * songs


def seat(task: Task | None = None, bytes_done: int = 0) -> pool._Seat:
    return pool._Seat(process=None, connection=None, task=task, bytes_done=bytes_done)  # type: ignore[arg-type]


def test_the_last_song_gets_the_hands_that_have_nothing_left_to_do(tmp_path: Path):
    for name in ("One", "Two"):
        write_wav(tmp_path / name / "Bass.wav", np.zeros((100_000, 1)))
    one, two = (Task(song=song) for song in walk(tmp_path).songs)
    size = sum(stem.size_bytes for stem in one.song.stems)
    assert size > 100_000

    def threads(task: Task, *others: pool._Seat, waiting: tuple[Task, ...] = ()) -> int:
        return pool._with_spare_hands(task, [seat(), *others], waiting).threads

    assert threads(two) == 1  # the only worker
    assert threads(two, seat()) == 2
    assert threads(two, seat(), seat(one, size)) == 3
    assert threads(two, seat(one, size - size // 3)) == 2
    assert threads(two, seat(one, size // 3)) == 1  # the other worker is far from done
    assert threads(two, seat(), waiting=(one,)) == 1  # or has more to do
    assert threads(replace(two, threads=4), seat()) == 4
    assert threads(replace(two, probe="Bass.wav"), seat()) == 1
