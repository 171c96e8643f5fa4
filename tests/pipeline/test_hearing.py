"""How many processes a show is worth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from audit.folder.walk import walk
from audit.pipeline.hearing import hear_show
from audit.pipeline.scan import tasks_of
from tests.cli.folders import write_show


@pytest.mark.parametrize(
    ("megabytes", "sparing", "processes"),
    [(0.1, True, 1), (31, True, 1), (33, True, 2), (65, True, 3), (900, True, 4), (0.1, False, 4)],
)
def test_no_process_is_begun_for_next_to_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, megabytes: float, sparing: bool, processes: int
):
    show = walk(write_show(tmp_path / "Tour", seconds=0.1))
    first = show.songs[0]
    stems = [replace(stem, size_bytes=0) for stem in first.stems]
    stems[0] = replace(stems[0], size_bytes=round(megabytes * 1e6))
    show = replace(show, songs=(replace(first, stems=tuple(stems)),))
    asked: list[int] = []

    def heard(tasks, jobs, watcher):
        asked.append(jobs)
        raise KeyboardInterrupt

    monkeypatch.setattr("audit.pipeline.workers.pool.listen_to_all", heard)
    with pytest.raises(KeyboardInterrupt):
        hear_show(show, tasks_of(show, 4), 4, sparing=sparing)
    assert asked == [processes]
