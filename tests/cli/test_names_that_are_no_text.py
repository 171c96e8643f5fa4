"""Linux takes any byte but 0 and / into a name: a show with such names goes through every command."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from pathlib import Path

import pytest

from tests.cli.folders import write_song, write_tone
from tests.cli.warm import run

SONG, OTHER = os.fsdecode(b"S\xfcsser"), os.fsdecode(b"S\xf6sser")
STEM = os.fsdecode(b"B\xe4sse.wav")


@pytest.fixture(scope="module")
def show(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("names") / os.fsdecode(b"T\xf6ur")
    try:
        folder.mkdir()
    except OSError:
        pytest.skip("this file system takes no name that is no UTF-8")
    write_song(folder.parent / "one", seed=1).rename(folder / SONG)
    write_song(folder.parent / "two", seed=2).rename(folder / OTHER)
    put(folder / OTHER / STEM, freq_hz=117.0, seed=5)
    return folder


def put(path: Path, *, freq_hz: float, seed: int) -> None:
    """libsndfile's Python binding takes no such name: the stem is written under another one."""
    with tempfile.TemporaryDirectory(dir=path.parent.parent.parent) as place:
        write_tone(Path(place) / "it.wav", freq_hz=freq_hz, seed=seed).replace(path)


def ran(code: int, *words: str | Path, **extra: str) -> str:
    done = run(*words, **extra)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done.stdout


def read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def test_scan_and_its_reports(show: Path, tmp_path: Path):
    cache = {"STEMAUDIT_CACHE_DIR": str(tmp_path / "cache")}
    written = (
        "--json", tmp_path / "r.json", "--html", tmp_path / "r.html", "--csv", tmp_path / "csv",
        "--rebounce", tmp_path / "r.md",
    )  # fmt: skip
    first = ran(0, "scan", show, "-v", **cache)
    assert r"B\xe4sse.wav (holds bytes that are no UTF-8)" in first
    again = run("scan", show, *written, "-v", **cache)
    assert (
        "7 stems taken from the last scan by size and time." in again.stderr or "by content" in again.stderr
    )
    assert again.stdout.startswith(first.rstrip("\n"))
    ran(0, "scan", show, "--no-cache")
    report = json.loads(read(tmp_path / "r.json"))
    assert {song["name"] for song in report["songs"]} == {r"S\xfcsser", r"S\xf6sser"}
    assert r"S\xf6sser,B\xe4sse.wav," in read(tmp_path / "csv" / "stems.csv")
    assert r"S\xfcsser" in read(tmp_path / "r.html")
    assert "T\\" in read(tmp_path / "r.md")


def test_seal_verify_and_compare(show: Path, tmp_path: Path):
    seal, copy, out = tmp_path / "x.seal", tmp_path / "copy", tmp_path / "v.json"
    ran(0, "seal", show, "--out", seal)
    assert "Nothing has changed" in ran(0, "seal", show, "--out", seal)
    assert ran(0, "verify", show, "--seal", seal).startswith("As sealed: 7 stems.")
    ran(0, "seal", show, "--out", seal, "--song", SONG)
    shutil.copytree(show, copy)
    put(copy / OTHER / STEM, freq_hz=131.0, seed=6)
    # A minute later: other audio of the same size and (within the 2 s of FAT) time would be decay.
    sealed = (show / OTHER / STEM).stat()
    os.utime(copy / OTHER / STEM, (sealed.st_atime + 60.0, sealed.st_mtime + 60.0))
    (copy / SONG).rename(copy / os.fsdecode(b"B\xfcsser"))
    assert r"B\xe4sse.wav: not as it was sealed" in ran(1, "verify", copy, "--seal", seal, "--json", out)
    assert r"S\xf6sser/B\xe4sse.wav" in {delta["path"] for delta in json.loads(read(out))["differences"]}
    assert r"S\xfcsser → B\xfcsser" in ran(1, "compare", show, copy, "--json", out)
    assert json.loads(read(out))["songs_renamed"] == [{"was": r"S\xfcsser", "is": r"B\xfcsser"}]
    assert r"S\xfcsser → B\xfcsser" in ran(1, "compare", seal, copy)


def test_the_other_commands(show: Path, tmp_path: Path):
    pages = ("--html", tmp_path / "s.html", "--csv", tmp_path / "s.csv", "--pdf", tmp_path / "s.pdf")
    assert r"S\xfcsser" in ran(0, "sheet", show)
    ran(0, "sheet", show, *pages)
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    ran(0, "settings", show, "--out", tmp_path / "s.toml")
    ran(0, "settings", show, "--out", "-")
    ran(0, "load", show, "--machine", "laptop-dual-disk", "--json", tmp_path / "l.json")
    assert r"S\xfcsser" in {one["song"] for one in json.loads(read(tmp_path / "l.json"))["forecasts"]}
    ran(0, "hear", show / OTHER / STEM, "--at", "0:01", "--out", tmp_path / os.fsdecode(b"cl\xefps"))
    assert list((tmp_path / os.fsdecode(b"cl\xefps")).iterdir())
