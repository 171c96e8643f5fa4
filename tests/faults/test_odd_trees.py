"""Folders no desk would make: very many, very deep, with loops, pipes, devices, paths of 4,096 characters."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest

from tests.cli.folders import write_song, write_tone
from tests.faults.running import scan

pytestmark = pytest.mark.skipif(os.name != "posix", reason="links, pipes and long paths as POSIX has them")


def test_a_hundred_folders_deep(tmp_path: Path):
    deep = tmp_path / "Tour"
    for number in range(100):
        deep = deep / f"d{number}"
    write_song(deep / "Night Ferry")
    told = scan(tmp_path / "Tour")
    assert told.report is not None
    assert told.code in (0, 3)
    if not told.report["songs"]:  # accounted for, if not heard
        assert any("d1" in one["path"] for one in told.report["passed_over"])
    else:
        assert len(told.stems()) == 3


def test_a_path_longer_than_the_system_takes_at_once(tmp_path: Path):
    """Made step by step: no call could name it whole (4,096 bytes are Linux's limit)."""
    write_song(tmp_path / "Tour" / "Night Ferry")
    here = os.open(tmp_path / "Tour", os.O_RDONLY)
    try:
        for number in range(22):
            name = f"{number:03d}-".ljust(200, "x")
            os.mkdir(name, dir_fd=here)
            inner = os.open(name, os.O_RDONLY, dir_fd=here)
            os.close(here)
            here = inner
        file = os.open("Bass.wav", os.O_CREAT | os.O_WRONLY, dir_fd=here)
        os.write(file, b"RIFF")
        os.close(file)
    finally:
        os.close(here)
    told = scan(tmp_path / "Tour")
    assert told.report is not None
    assert {"Night Ferry/Bass.wav", "Night Ferry/Keys.wav", "Night Ferry/Guitar.wav"} <= told.stems()
    assert told.code in (0, 1, 3)
    assert any("000-" in one["path"] for one in told.report["passed_over"]) or len(told.stems()) > 3


def test_loops_of_links_end(tmp_path: Path):
    song = write_song(tmp_path / "Tour" / "Night Ferry")
    (song / "again").symlink_to(tmp_path / "Tour")
    (song / "me").symlink_to(song / "me")
    (tmp_path / "Tour" / "up").symlink_to("..")
    (song / "Pad.wav").symlink_to(song / "nothing.wav")
    told = scan(tmp_path / "Tour")
    assert {name.split("/")[1] for name in told.stems()} >= {"Bass.wav", "Keys.wav", "Guitar.wav"}
    assert told.report is not None
    named = " ".join(one["path"] for one in told.report["passed_over"])
    assert "again" in named or "up" in named


def test_pipes_sockets_and_devices_are_not_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    song = write_song(tmp_path / "Tour" / "Night Ferry")
    os.mkfifo(song / "Drums.wav")
    (song / "Organ.wav").symlink_to("/dev/zero")
    (song / "Brass.wav").symlink_to("/dev/tty")
    monkeypatch.chdir(song)  # a socket's path has room for 108 bytes
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("Pad.wav")
        told = scan(tmp_path / "Tour")
    assert told.report is not None
    named = {one["path"].split("/")[-1] for one in told.report["passed_over"]}
    named |= {name.split("/")[1] for name in told.stems()} | told.unmeasured()
    assert named >= {"Drums.wav", "Organ.wav", "Brass.wav", "Pad.wav", "Bass.wav", "Keys.wav", "Guitar.wav"}
    healthy = {"Bass.wav", "Keys.wav", "Guitar.wav"}
    assert not healthy & set().union(*told.findings().values(), set())


@pytest.mark.slow
def test_ten_thousand_songs(tmp_path: Path):
    """Most are empty of audio; the three that are not are heard, and the rest is told in a few lines."""
    show = tmp_path / "Tour"
    for number in range(10_000):
        (show / f"{number:05d} - Song").mkdir(parents=True)
    for number in (3, 5000, 9999):
        write_tone(show / f"{number:05d} - Song" / "Bass.wav", freq_hz=60 + number / 100, seed=number)
    told = scan(show)
    assert len(told.stems()) == 3
    assert told.code in (0, 1, 3)
