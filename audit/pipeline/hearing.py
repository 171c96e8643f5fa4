"""All songs heard, and laid against one another: from what earlier scans kept where that still holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Show
from audit.pipeline.memory.last_scan import LastScan
from audit.pipeline.memory.pair_memory import PairMemory
from audit.pipeline.progress import Unwatched, Watcher
from audit.pipeline.workers.own_memory import collected_seldom
from audit.pipeline.workers.own_threads import one_thread_each
from audit.pipeline.workers.task import Task

BYTES_A_PROCESS = 32_000_000
"""Another process pays from here on: it takes over a second of processor time to begin, in which about 20 MB
are heard (own measurement)."""


def hear_show(
    show: Show,
    tasks: Sequence[Task],
    jobs: int,
    watcher: Watcher | None = None,
    last_scan: LastScan | None = None,
    *,
    sparing: bool = False,
) -> ShowEvidence:
    """The show's evidence. tasks: one a song; jobs: worker processes, fewer where they would be `sparing`: no
    process is begun that would take longer to begin than to do its part; last_scan: None: hear every stem.

    Songs that are known cost no more than a look at their files' times; where all are, nothing is loaded that
    measures are made with.
    """
    watcher = watcher or Unwatched()
    # Folders without a stem can be thousands in an archive, and nothing in them has to be heard.
    heard = {task.song.name: _without_stems(task) for task in tasks if not task.song.stems}
    tasks = [task for task in tasks if task.song.stems]
    if last_scan:
        heard |= last_scan.recall(tasks)
    waiting = [task for task in tasks if task.song.name not in heard]
    watcher.begin(len(waiting), sum(stem.size_bytes for task in waiting for stem in task.song.stems))
    try:
        with collected_seldom(), one_thread_each():
            if waiting:
                heard |= _hear(waiting, min(jobs, _worth(waiting)) if sparing else jobs, watcher, last_scan)
            evidence = ShowEvidence(show=show, songs=tuple(heard[song.name] for song in show.songs))
            return last_scan.compared(evidence, _compare) if last_scan else _compare(evidence, PairMemory())
    finally:
        watcher.end()


def _hear(
    tasks: Sequence[Task], jobs: int, watcher: Watcher, last_scan: LastScan | None
) -> dict[str, SongEvidence]:
    from audit.pipeline.workers.kernel_cache import kernel_cache
    from audit.pipeline.workers.pool import listen_to_all

    with kernel_cache():
        if last_scan is None:
            return {song.name: song for song in listen_to_all(tasks, jobs, watcher)}
        asked = [last_scan.task(task) for task in tasks]
        return {song.name: song for song in listen_to_all(asked, jobs, watcher, last_scan.learn)}


def _worth(tasks: Sequence[Task]) -> int:
    """How many processes the files give enough to do."""
    return 1 + sum(stem.size_bytes for task in tasks for stem in task.song.stems) // BYTES_A_PROCESS


def _without_stems(task: Task) -> SongEvidence:
    return SongEvidence(
        song=task.song, stems=(), passed_over=task.passed_over, outputs=None if task.patch is None else ()
    )


def _compare(show: ShowEvidence, memory: PairMemory) -> ShowEvidence:
    from audit.pipeline.songs.belonging import with_elsewhere
    from audit.pipeline.songs.same_recording import with_copies

    return with_copies(replace(show, songs=with_elsewhere(show.songs, memory)), memory)
