"""A stem that brings a decoder down costs that stem only; nothing is left behind."""

from __future__ import annotations

import multiprocessing
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from audit.facts import Song
from audit.folder.walk import walk
from audit.pipeline import pool
from audit.pipeline.pool import listen_to_all
from audit.pipeline.watch import Unwatched
from audit.pipeline.worker import Task
from audit.results import Cause
from tests import signals
from tests.pipeline.deadly import as_kind
from tests.pipeline.files import write_wav

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the deadly paths are POSIX paths")


@pytest.fixture
def song(tmp_path: Path) -> Song:
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
