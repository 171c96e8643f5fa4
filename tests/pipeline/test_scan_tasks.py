"""How a scan shares its work out among the cores."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

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
