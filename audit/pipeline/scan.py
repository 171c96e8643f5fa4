"""From a folder to a judged show: the one way through the house."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import audit
from audit.facts import Show
from audit.findings import ShowAudit
from audit.folder.walk import walk
from audit.pipeline.hearing import hear_show
from audit.pipeline.limits import limit_in_force
from audit.pipeline.load import with_forecasts
from audit.pipeline.machines import machines_in
from audit.pipeline.memory.last_scan import LastScan
from audit.pipeline.progress import Watcher
from audit.pipeline.settled import judge_with_settings, song_patch, with_settings
from audit.pipeline.show_rate import usual_rate_hz
from audit.pipeline.workers.task import Task
from audit.rules.catalogue import RULES
from audit.rules.roster import mix_beside_parts
from audit.rules.rule import Rule
from audit.seal.model import Seal
from audit.settings.model import NO_SETTINGS, SetList, ShowSettings


def scan_show(
    path: Path,
    *,
    jobs: int | None = None,
    songs: tuple[str, ...] = (),
    rules: Sequence[Rule] | None = None,
    watcher: Watcher | None = None,
    last_scan: LastScan | None = None,
    settings: ShowSettings = NO_SETTINGS,
    set_list: SetList | None = None,
    today: date | None = None,
    seal: Seal | None = None,
) -> ShowAudit:
    """Audit a show's folder (or one song's).

    jobs: worker processes, None for one a core where there is work for so many;
    songs: only these, by name; rules: None for all;
    last_scan: what earlier scans kept; None: every stem is heard, and nothing is kept;
    settings: the show's (audit.settings.read); set_list: the one that the scan is for;
    today: tells which waivers have run out; None: none has;
    seal: the state that it is compared with, as far as that costs nothing.
    Raises UsageError where the path or a song is not there. KeyboardInterrupt passes through once the
    workers are gone. No file of the show is ever opened for writing.
    """
    show = walk(path, songs=songs, settings=settings)
    machines = machines_in(settings, today)  # mistakes in a profile are told before anything is heard
    processes = max(1, jobs or os.cpu_count() or 1)
    tasks = tasks_of(show, processes, settings)
    heard = hear_show(show, tasks, processes, watcher, last_scan, sparing=jobs is None)
    # Of a show's settings, much is about its other songs.
    whole = not songs and not _is_one_song(show)
    evidence = with_settings(heard, settings, set_list, whole=whole)
    evidence = with_forecasts(evidence, machines, settings)
    if seal is not None:
        from audit.pipeline.sealed.against_seal import check_heard

        evidence = replace(evidence, seal=check_heard(evidence, seal, whole=not songs))
    asked = RULES if rules is None else rules
    return judge_with_settings(evidence, asked, version=audit.__version__, today=today, whole=whole)


def _is_one_song(show: Show) -> bool:
    """Whether the folder is a song's own: what else the show has lies beside it."""
    return [song.folder for song in show.songs] == ["."]


def tasks_of(show: Show, jobs: int, settings: ShowSettings = NO_SETTINGS) -> list[Task]:
    """What there is to hear, song by song."""
    fit_enough = limit_in_force(mix_beside_parts, settings).value
    show_rate_hz = settings.sample_rate_hz or usual_rate_hz(show)
    return [
        Task(
            song=song,
            passed_over=tuple(entry for entry in show.passed_over if entry.song == song.name),
            # Fewer songs than workers: the spare cores help inside a song.
            threads=max(1, jobs // max(1, len(show.songs))),
            fit_enough=fit_enough,
            show_rate_hz=show_rate_hz,
            patch=song_patch(song, settings),
        )
        for song in show.songs
    ]
