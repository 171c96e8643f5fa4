"""The second scan: the same answer as a first one, with no more listening than the changes need."""

from __future__ import annotations

import os
import shutil
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.cache.store import NAME
from audit.decode.blocks import BLOCK_FRAMES
from audit.evidence import SongEvidence
from audit.folder.walk import walk
from audit.pipeline.memory.last_scan import LastScan
from audit.pipeline.memory.song_memory import SongMemory
from audit.pipeline.scan import scan_show, tasks_of
from audit.pipeline.songs import belonging, same_recording
from audit.pipeline.workers.task import Task
from audit.report.json_report import to_json
from tests import signals
from tests.measure.test_fingerprint import tune
from tests.pipeline.files import write_wav

pytestmark = pytest.mark.usefixtures("quick_workers")

RATE_HZ = 48_000
OLD_S = 1_700_000_000.123_456_7
"""A time long past and no whole number of seconds: files of this time are believed."""


def age(path: Path, seconds: float = 0.0) -> None:
    """The file is as old as files of a show usually are."""
    os.utime(path, ns=(int((OLD_S + seconds) * 1e9),) * 2)


def bounce(path: Path, *, freq_hz: float, seconds: float = 1.5, seed: int = 0, later_s: float = 0.0) -> Path:
    rng = np.random.default_rng(seed)
    tone = signals.sine(freq_hz=freq_hz, peak=0.2, seconds=seconds)[0]
    write_wav(path, tone + 0.001 * rng.standard_normal(tone.shape))
    age(path, later_s)
    return path


def write_show(root: Path) -> Path:
    for number, song in enumerate(("Night Ferry", "Tin Roof")):
        for place, stem in enumerate(("Bass", "Keys", "Pad")):
            bounce(root / song / f"{stem}.wav", freq_hz=110.0 * (place + 1) * (1 + number / 4), seed=place)
    click = np.zeros((3 * RATE_HZ // 2, 1))
    for at in range(0, len(click), RATE_HZ // 4):
        click[at : at + 240, 0] = 0.5 * np.sin(np.arange(240) * 0.2) * np.linspace(1, 0, 240)
    age(write_wav(root / "Tin Roof" / "Click.wav", click))
    return root


@dataclass(slots=True)
class Log:
    """What a scan did: `heard` stems were opened to be worked through."""

    songs: list[str] = field(default_factory=list)
    bytes: int = 0

    def begin(self, songs: int, total_bytes: int) -> None:
        self.bytes = total_bytes

    def song_started(self, song: str) -> None:
        self.songs.append(song)

    def stem_progress(self, song: str, stem: str, bytes_done: int) -> None: ...

    def song_done(self, song: str) -> None: ...

    def end(self) -> None: ...


def told(show: Path, kept: Path | None, *, rehash: bool = False) -> tuple[str, LastScan | None, Log]:
    log, words = Log(), []
    if kept is None:
        return to_json(scan_show(show, jobs=1, watcher=log)), None, log
    with LastScan(kept, words.append, rehash=rehash) as last:
        report = to_json(scan_show(show, jobs=1, watcher=log, last_scan=last))
    assert words == []
    return report, last, log


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A show, and what one scan of it left behind. Neither may be changed."""
    base = tmp_path_factory.mktemp("scanned")
    show = write_show(base / "Show")
    _, last, log = told(show, base / "kept")
    assert (last.by_size_and_time, last.by_content) == (0, 0)
    assert sorted(log.songs) == ["Night Ferry", "Tin Roof"]
    return show, base / "kept"


@pytest.fixture
def second(scanned, tmp_path: Path) -> tuple[Path, Path]:
    """The same show and memory to change. The folder keeps its place: path and file ids are as they were."""
    show, kept = scanned
    backup = tmp_path / "backup"
    shutil.copytree(show, backup)
    shutil.copytree(kept, tmp_path / "kept")
    ids = {path: path.stat().st_ino for path in show.rglob("*.wav")}
    yield show, tmp_path / "kept"
    for path in show.rglob("*"):
        if path.is_file() and path not in ids:
            path.unlink()
    for path in backup.rglob("*.wav"):
        target = show / path.relative_to(backup)
        target.parent.mkdir(exist_ok=True)
        if target.is_file() and target.stat().st_ino == ids.get(target):
            target.write_bytes(path.read_bytes())  # in place: its number stays
        else:
            target.unlink(missing_ok=True)
            shutil.copy2(path, target)
        os.utime(target, ns=(path.stat().st_mtime_ns,) * 2)


def test_an_unchanged_show_is_not_opened(second):
    show, kept = second
    for path in show.rglob("*.wav"):
        path.chmod(0)
    try:
        again, last, log = told(show, kept)
    finally:
        for path in show.rglob("*.wav"):
            path.chmod(0o644)
    assert (last.by_size_and_time, last.by_content) == (7, 0)
    assert (log.songs, log.bytes) == ([], 0)
    assert again == told(show, None)[0]


def one_recording_in(root: Path, gains: list[float]) -> Path:
    """Songs that all hold one recording, at another gain each, and a stem of their own."""
    music = tune(11, seconds=7.0)
    for number, gain in enumerate(gains):
        age(write_wav(root / f"Song {number}" / "Keys.wav", gain * music))
        bounce(root / f"Song {number}" / "Bass.wav", freq_hz=70.0 * (number + 1), seed=number)
    return root


def test_only_pairs_with_a_changed_song_are_compared_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    counted = {"alike": 0, "laid": 0, "tried": 0}

    def counting(name: str, what: object, asked: str) -> None:
        original = getattr(what, name)

        def wrapped(*given: object) -> object:
            counted[asked] += 1
            return original(*given)

        monkeypatch.setattr(what, name, wrapped)

    counting("_alike", same_recording, "alike")
    counting("_laid_over", same_recording, "laid")
    counting("_tried_on", belonging, "tried")
    monkeypatch.setattr(belonging, "_is_poor", lambda stem: True)  # else no song is tried on another
    show, kept = one_recording_in(tmp_path / "Show", [1.0, 0.8, 0.6, 0.5]), tmp_path / "kept"
    first = told(show, kept)[0]
    assert '"duplicate-audio"' in first
    pairs = {"alike": 4 + 6, "laid": counted["laid"], "tried": 12}  # each with itself, and with the others
    assert counted == pairs
    assert counted["laid"] >= 6
    counted.update(alike=0, laid=0, tried=0)
    bounce(show / "Song 2" / "Bass.wav", freq_hz=333.0, later_s=5)
    again = told(show, kept)[0]
    assert (counted["alike"], counted["tried"]) == (4, 6)
    assert 3 <= counted["laid"] <= 4
    counted.update(alike=0, laid=0, tried=0)
    (show / "Song 1").rename(show / "Song 4")  # content as it was, another name, and another order
    renamed = told(show, kept)[0]
    assert counted["laid"] <= 3
    counted.update(alike=0, laid=0, tried=0)
    assert told(show, kept)[0] == renamed
    assert counted == {"alike": 0, "laid": 0, "tried": 0}
    assert renamed == told(show, None)[0]
    (show / "Song 4").rename(show / "Song 1")
    assert told(show, kept)[0] == again


def heard_stems(show: Path, kept: Path, song: str) -> tuple[SongMemory, SongEvidence | None]:
    """A worker's memory of one song, asked for the song as a whole."""
    (task,) = [task for task in tasks_of(walk(show), 1) if task.song.name == song]
    with LastScan(kept) as last:
        memory = SongMemory(last.task(task), lambda stem, done: None)
    return memory, memory.song()


def test_of_a_changed_song_only_the_changed_stem_is_measured(second):
    show, kept = second
    bounce(show / "Tin Roof" / "Keys.wav", freq_hz=333.0, later_s=5)
    memory, known = heard_stems(show, kept, "Tin Roof")
    assert known is None
    stems = {stem.file: stem for stem in walk(show).songs[1].stems}
    recalled = {name: memory.recall(stem, BLOCK_FRAMES) is not None for name, stem in stems.items()}
    assert recalled == {"Bass.wav": True, "Click.wav": True, "Keys.wav": False, "Pad.wav": True}
    again, last, log = told(show, kept)
    assert log.songs == ["Tin Roof"]
    assert (last.by_size_and_time, last.by_content) == (6, 0)
    assert again == told(show, None)[0]
    assert told(show, kept)[2].songs == []  # and that is kept in its turn


def test_a_touched_file_costs_a_look_at_its_bytes(second):
    show, kept = second
    age(show / "Night Ferry" / "Pad.wav", 100)
    again, last, _ = told(show, kept)
    assert (last.by_size_and_time, last.by_content) == (6, 1)
    assert again == told(show, None)[0]


def test_a_copy_elsewhere_is_known_by_its_bytes(second, tmp_path: Path):
    show, kept = second
    shutil.copytree(show, tmp_path / "Spare" / "Show")
    again, last, _ = told(tmp_path / "Spare" / "Show", kept)
    assert (last.by_size_and_time, last.by_content) == (0, 7)
    assert again == told(tmp_path / "Spare" / "Show", None)[0]


def rot(path: Path) -> None:
    """Other content, the same size, time and number."""
    before = path.stat()
    with path.open("r+b") as file:
        file.seek(before.st_size // 2)
        byte = file.read(1)
        file.seek(-1, os.SEEK_CUR)
        file.write(bytes([byte[0] ^ 0x40]))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_ino == before.st_ino


def test_rot_is_found_by_reading_everything(second):
    show, kept = second
    before = told(show, kept)[0]
    rot(show / "Night Ferry" / "Bass.wav")
    assert told(show, kept)[0] == before  # size and time say nothing else: that is what --rehash is for
    again, last, _ = told(show, kept, rehash=True)
    assert again == told(show, None)[0]
    assert again != before
    assert (last.by_size_and_time, last.by_content) == (0, 6)
    assert told(show, kept)[0] == again


@pytest.mark.parametrize("seconds", [0.0, 2.0])
def test_coarse_and_young_times_are_no_proof(second, seconds: float):
    show, kept = second
    path = show / "Night Ferry" / "Bass.wav"
    when_ns = time.time_ns() if seconds == 0.0 else int(OLD_S // 2 * 2 * 1e9)
    os.utime(path, ns=(when_ns, when_ns))
    told(show, kept)
    rot(path)
    assert told(show, kept)[0] == told(show, None)[0]


def test_a_failure_that_is_not_the_files_is_never_kept(second):
    show, kept = second
    path = show / "Night Ferry" / "Bass.wav"
    age(path, 50)
    if os.geteuid() != 0:
        path.chmod(0)
        assert '"unreadable-file"' in told(show, kept)[0]
        path.chmod(0o644)
    assert told(show, kept)[0] == told(show, None)[0]


def test_garbage_and_placeholders_are_known_too(second):
    show, kept = second
    song = show / "Night Ferry"
    (song / "Noise.wav").write_bytes(b"this is no audio" * 500)
    (song / "Empty.wav").write_bytes(b"")
    with (song / "Cloud.wav").open("wb") as file:
        file.truncate(1 << 20)  # no block of it is on the disk
    for name in ("Noise", "Empty", "Cloud"):
        age(song / f"{name}.wav")
    first = told(show, kept)[0]
    again, _, log = told(show, kept)
    assert first == again == told(show, None)[0]
    assert '"not-on-disk"' in again
    assert log.songs == []


def test_a_damaged_memory_changes_no_answer(second):
    show, kept = second
    data = bytearray((kept / NAME).read_bytes())
    rng = np.random.default_rng(3)
    for at in rng.integers(0, len(data), 200):
        data[at] ^= 0x5A
    (kept / NAME).write_bytes(data)
    words: list[str] = []
    with LastScan(kept, words.append) as last:
        report = to_json(scan_show(show, jobs=1, last_scan=last))
    assert report == told(show, None)[0]
    assert told(show, kept)[0] == report


def test_every_question_of_a_task_is_part_of_the_key(scanned):
    from audit.pipeline.memory.recall import key_of

    show, _ = scanned
    task = tasks_of(walk(show), 1)[0]
    contents = {stem.file: "c0ffee" for stem in task.song.stems}
    other = Task(song=task.song, fit_enough=0.9)
    assert (
        len({key_of(task, contents), key_of(other, contents), key_of(task, {**contents, "Pad.wav": "x"})})
        == 3
    )
    assert key_of(task, {"Bass.wav": "c0ffee"}) is None
    threaded = Task(song=task.song, passed_over=task.passed_over, threads=7, fit_enough=task.fit_enough)
    assert key_of(threaded, contents) == key_of(task, contents)


EDITS = st.lists(
    st.tuples(
        st.sampled_from(
            ["rebounce", "touch", "move", "remove", "copy", "tag", "replace", "rename song", "copy song"]
        ),
        st.integers(0, 6),
        st.integers(0, 3),
    ),
    min_size=1,
    max_size=4,
)


def edit(show: Path, what: str, which: int, size: int) -> None:
    """One thing that happens to a show between two scans: a path, a size, a time or a file id changes."""
    stems = sorted(show.rglob("*.wav"))
    if not stems:
        return
    path = stems[which % len(stems)]
    if what == "rebounce":  # in place: same path and number, other time and perhaps size
        bounce(path, freq_hz=200.0 + 50 * which, seconds=1.0 + 0.25 * size, later_s=10.0 + which)
    elif what == "touch":
        age(path, 20.0 + size)
    elif what == "move":
        path.rename(path.with_name(f"Strings {which}{size}.wav"))
    elif what == "remove":
        path.unlink()
    elif what == "copy":
        shutil.copy2(path, path.with_name(f"Organ {which}{size}.wav"))
    elif what == "tag":  # a chunk behind the audio: other size, same sound
        with path.open("ab") as file:
            file.write(b"junk" + (4).to_bytes(4, "little") + b"note")
        age(path, 30.0)
    elif what == "replace":  # same path, size and time, another file
        other = path.with_suffix(".new")
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 0x11
        other.write_bytes(data)
        shutil.copystat(path, other)
        other.replace(path)
    elif what == "rename song":
        path.parent.rename(show / f"Renamed {which}{size}")
    elif what == "copy song":
        target = show / f"Another {which}{size}"
        if not target.exists():
            shutil.copytree(path.parent, target)


EXAMPLES = int(os.environ.get("STEMAUDIT_EXAMPLES", "5"))
"""How many series of edits are tried; for the long run see DEVELOPERS.md."""


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(edits=EDITS)
def test_any_edits_give_the_same_report_with_and_without(scanned, edits, tmp_path_factory):
    _, kept = scanned
    base = tmp_path_factory.mktemp("edited")
    shutil.copytree(kept, base / "kept")
    show = write_show(base / "Show")
    told(show, base / "kept")
    for one in edits:
        edit(show, *one)
        if not list(show.rglob("*.wav")):
            return
        if one[2] % 2:  # a scan between two edits
            told(show, base / "kept")
    assert told(show, base / "kept")[0] == told(show, None)[0]
