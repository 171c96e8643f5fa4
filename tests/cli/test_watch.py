"""`stemaudit watch`: a bounce lands in pieces, is heard once, and told once."""

from __future__ import annotations

import os
import queue
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from audit.cli.watch import _rounds
from audit.pipeline.landing import stamps_in
from tests.cli import folders
from tests.cli.command import environment, run

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="it is ended by a signal here")


class Watch:
    """The command at work; `until` waits for a line."""

    def __init__(self, show: Path, *words: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "audit", "watch", str(show), "--jobs", "1", *words],
            env=environment(PYTHONUNBUFFERED="1"), stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, encoding="utf-8",
        )  # fmt: skip
        self._lines: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line.rstrip("\n"))

    def until(self, words: str, *, within_s: float = 90.0) -> list[str]:
        """The lines up to the one that holds these words."""
        lines: list[str] = []
        end = time.monotonic() + within_s
        while not lines or words not in lines[-1]:
            try:
                lines.append(self._lines.get(timeout=max(0.1, end - time.monotonic())))
            except queue.Empty:
                raise AssertionError(f"no line with {words!r} after {lines}") from None
        return lines

    def quiet_for(self, seconds: float) -> list[str]:
        time.sleep(seconds)
        lines = []
        while not self._lines.empty():
            lines.append(self._lines.get())
        return lines

    def end(self) -> int:
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=30)

    def clear_away(self) -> None:
        self.process.kill()
        self.process.wait(timeout=30)
        self._reader.join(30)
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.mark.parametrize("words", [(), ("--poll",)], ids=["told by the system", "looked for"])
def test_a_bounce_is_told_once_when_it_has_landed(tmp_path: Path, words: tuple[str, ...]):
    show = folders.write_show(tmp_path / "Harbour Lights Tour")
    target = sorted(show.rglob("Keys.wav"))[0]
    whole = target.read_bytes()
    folders.clip(target)
    clipped = target.read_bytes()
    target.write_bytes(whole)
    watch = Watch(show, *words)
    try:
        watch.until("Watching")
        with target.open("wb") as file:  # it lands in pieces, half a second apart
            for at in range(0, len(clipped), len(clipped) // 5):
                file.write(clipped[at : at + len(clipped) // 5])
                file.flush()
                os.fsync(file.fileno())
                time.sleep(0.5)
        lines = watch.until("Cure: ")
        text = "\n".join(lines)
        assert f"{target.parent.name}: " in text
        assert re.search(r"^\d\d:\d\d Not ready: ", text, re.MULTILINE)
        assert "sample-clipping in Keys.wav" in text
        assert text.count("sample-clipping") == 1
        assert "truncated-file" not in text
        assert not any("sample-clipping" in line for line in watch.quiet_for(3.0))
        target.write_bytes(whole)
        mended = "\n".join(watch.until("mended"))
        assert "sample-clipping in Keys.wav" in mended
        assert watch.end() == 130
    finally:
        watch.clear_away()


@pytest.mark.parametrize(
    ("outer", "song"), [(b"Tour", b"S\xfcsser"), (b"Tour", b"Plain"), (b"T\xf6ur", b"Plain")]
)
def test_names_that_are_no_utf8_are_watched(tmp_path: Path, outer: bytes, song: bytes):
    show = tmp_path / os.fsdecode(outer)
    try:
        show.mkdir()
        home = folders.write_song(tmp_path / "song").rename(show / os.fsdecode(song))
        stem = (home / "Keys.wav").rename(home / os.fsdecode(b"K\xe4ys.wav"))
    except OSError:
        pytest.skip("this file system takes no name that is no UTF-8")
    folders.clip(tmp_path / "clipped.wav")
    watch = Watch(show)
    try:
        watch.until("Watching")
        time.sleep(1.0)  # the system is asked for news just after that line
        stem.write_bytes((tmp_path / "clipped.wav").read_bytes())
        assert r"sample-clipping in K\xe4ys.wav" in "\n".join(watch.until("Cure: "))
        assert watch.end() == 130
    finally:
        watch.clear_away()


def test_wrong_words_are_one_line(tmp_path: Path):
    done = run("watch", tmp_path / "nowhere")
    assert done.returncode == 2
    assert "there is no such folder" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_what_lands_while_the_watch_begins_is_not_lost(tmp_path: Path):
    """Between the first look at the folder and the moment from which the system tells of changes."""
    show = folders.write_show(tmp_path / "Harbour Lights Tour")
    before = stamps_in(str(show))
    folders.clip(show / "Tin Roof" / "Keys.wav")
    (show / "Night Ferry" / "Bass.wav").unlink()
    (show / ".hidden").write_text("litter")
    rounds = _rounds(show, before, poll=False)
    assert sorted(next(rounds)) == [
        str(show / "Night Ferry" / "Bass.wav"), str(show / "Tin Roof" / "Keys.wav"),
    ]  # fmt: skip
    assert next(rounds) == []


def test_settings_with_a_mistake_do_not_end_the_watch(tmp_path: Path):
    show = folders.write_show(tmp_path / "Harbour Lights Tour")
    watch = Watch(show)
    try:
        watch.until("Watching")
        time.sleep(1.0)  # the system is asked for news just after that line
        (show / "show.toml").write_text("schema = 1\nbpm = 3\n", encoding="utf-8")
        watch.until("bpm")
        assert watch.process.poll() is None
        (show / "show.toml").write_text("schema = 1\n", encoding="utf-8")
        folders.clip(show / "Tin Roof" / "Keys.wav")
        watch.until("sample-clipping")
        assert watch.end() == 130
    finally:
        watch.clear_away()
