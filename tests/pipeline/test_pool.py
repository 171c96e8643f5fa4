"""A stem that brings a decoder down costs that stem only; nothing is left behind."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from dataclasses import replace
from multiprocessing.context import SpawnProcess
from pathlib import Path

import pytest

from audit.facts import Song
from audit.folder.walk import walk
from audit.pipeline.progress import Unwatched
from audit.pipeline.workers import pool
from audit.pipeline.workers.pool import listen_to_all
from audit.pipeline.workers.task import Task
from audit.pipeline.workers.worker import work
from audit.results import Cause
from tests import signals
from tests.evidence import passed_over
from tests.pipeline.deadly import as_kind, never_listen
from tests.pipeline.files import write_wav
from tests.pipeline.patience import at_most

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the deadly paths are POSIX paths")


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> None:
    """One song heard: kernels of a fresh clone compile for longer than the waits below are patient."""
    folder = tmp_path_factory.mktemp("compiled") / "Song"
    write_wav(folder / "Bass.wav", signals.sine(freq_hz=110, peak=0.3, seconds=1)[0])
    (evidence,) = listen_to_all([Task(song=walk(folder).songs[0])], 1, Unwatched())
    assert evidence.stems[0].audio is not None


@pytest.fixture
def song(tmp_path: Path, compiled: None) -> Song:
    for name, freq_hz in (("Bass", 110), ("Keys", 440), ("Pad", 330)):
        write_wav(tmp_path / "Song" / f"{name}.wav", signals.sine(freq_hz=freq_hz, peak=0.3, seconds=1)[0])
    return walk(tmp_path / "Song").songs[0]


def with_trouble(song: Song, kind: str) -> Song:
    keys = next(stem for stem in song.stems if stem.file == "Keys.wav")
    deadly = replace(keys, path=as_kind(kind, keys.path))
    return replace(song, stems=tuple(deadly if stem is keys else stem for stem in song.stems))


@pytest.mark.parametrize(
    ("kind", "reason"), [("crash", pool.CRASHED), ("hang", pool.HUNG), ("fail", pool.OWN_FAULT)]
)
def test_only_the_stem_that_breaks_the_worker_is_lost(
    song: Song, kind: str, reason: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(pool, "SILENT_TOO_LONG_S", 20.0 if kind != "hang" else 6.0)
    with at_most(90):
        (evidence,) = listen_to_all([Task(song=with_trouble(song, kind))], 2, Unwatched())
    by_name = {stem.name: stem for stem in evidence.stems}
    assert by_name["Keys.wav"].failure == reason
    assert by_name["Keys.wav"].failure_cause is Cause.OURS
    assert by_name["Keys.wav"].audio is None
    assert by_name["Bass.wav"].audio is not None
    assert by_name["Pad.wav"].audio is not None
    assert evidence.mix is not None
    assert evidence.mix.from_stems == ("Bass.wav", "Pad.wav")


def test_a_song_of_one_deadly_stem_is_lost_and_the_next_is_heard(song: Song):
    alone = replace(with_trouble(song, "crash"), name="Alone")
    alone = replace(alone, stems=tuple(stem for stem in alone.stems if stem.file == "Keys.wav"))
    heard = {e.name: e for e in listen_to_all([Task(song=alone), Task(song=song)], 1, Unwatched())}
    assert heard["Alone"].stems[0].failure == pool.CRASHED
    assert all(stem.audio for stem in heard[song.name].stems)


def test_a_song_that_breaks_down_again_without_its_culprits_is_lost(song: Song):
    """Stem by stem nothing happens, together it crashes: it is not tried a third time."""
    waiting: deque[Task] = deque()
    lost = pool._after_crash(Task(song=song, skip={}), pool.CRASHED, {}, waiting)
    assert lost is not None
    assert [stem.failure for stem in lost.stems] == [pool.CRASHED] * 3
    assert not waiting


def test_a_worker_that_hangs_before_it_listens_holds_nothing_up(song: Song, monkeypatch: pytest.MonkeyPatch):
    """A task larger than a pipe (64 KiB on Linux) cannot even be handed over."""
    monkeypatch.setattr(pool, "work", never_listen)
    monkeypatch.setattr(pool, "SILENT_TOO_LONG_S", 2.0)
    litter = tuple(passed_over(f"Song/{number:04}{1000 * chr(46)}jpg") for number in range(2_000))
    alone = replace(song, stems=song.stems[:1])
    with at_most(30):
        (evidence,) = listen_to_all([Task(song=alone, passed_over=litter)], 1, Unwatched())
    assert evidence.stems[0].failure == pool.HUNG
    assert multiprocessing.active_children() == []


def test_ctrl_c_while_a_worker_starts_leaves_none_behind(song: Song, monkeypatch: pytest.MonkeyPatch):
    """It comes to any thread of the process, and is raised once the worker is known."""
    start = SpawnProcess.start
    in_one_piece = []

    def interrupted(process: SpawnProcess) -> None:
        start(process)
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.2)
        in_one_piece.append(process)

    monkeypatch.setattr(SpawnProcess, "start", interrupted)
    done = threading.Event()
    display = threading.Thread(target=done.wait)
    display.start()
    try:
        with pytest.raises(KeyboardInterrupt):
            list(listen_to_all([Task(song=song)], 1, Unwatched()))
    finally:
        done.set()
        display.join()
    assert len(in_one_piece) == 1
    assert not in_one_piece[0].is_alive()
    assert multiprocessing.active_children() == []


def test_a_worker_whose_words_are_left_unread_is_quiet(song: Song, capfd: pytest.CaptureFixture[str]):
    """A socket that is closed with words in it is reset at the other end."""
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    process = multiprocessing.get_context("spawn").Process(target=work, args=(theirs,), daemon=True)
    process.start()
    theirs.close()
    ours.send(Task(song=replace(song, stems=song.stems[:1])))
    while ours.poll(60) and ours.recv().evidence is None:
        pass
    ours.send(Task(song=replace(song, stems=song.stems[:1])))
    assert ours.poll(60)
    time.sleep(1.0)
    ours.close()
    process.join(30)
    assert process.exitcode == 0
    assert capfd.readouterr().err == ""


def test_no_worker_outlives_a_caller_that_stops_early(song: Song):
    tasks = [Task(song=replace(song, name=str(number))) for number in range(6)]
    stream = listen_to_all(tasks, 2, Unwatched())
    next(stream)
    stream.close()
    assert multiprocessing.active_children() == []


class Counting(Unwatched):
    """Keeps what it is told."""

    def __init__(self) -> None:
        self.bytes = 0
        self.started: list[str] = []
        self.finished: list[str] = []

    def song_started(self, song: str) -> None:
        self.started.append(song)

    def stem_progress(self, song: str, stem: str, bytes_done: int) -> None:
        self.bytes += bytes_done

    def song_done(self, song: str) -> None:
        self.finished.append(song)


def test_progress_adds_up_to_every_byte(song: Song):
    counting = Counting()
    list(listen_to_all([Task(song=song)], 1, counting))
    assert counting.bytes == sum(stem.size_bytes for stem in song.stems)
    assert counting.started == counting.finished == [song.name]


def test_the_longest_song_is_heard_first(song: Song):
    short = replace(song, name="short", stems=song.stems[:1])
    counting = Counting()
    list(listen_to_all([Task(song=short), Task(song=song)], 1, counting))
    assert counting.started == [song.name, "short"]
