"""No command alters a stem, and a show that cannot be written to is as good as any other."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from tests.cli.folders import clip, write_show
from tests.cli.warm import run
from tests.faults.running import state_of


@pytest.fixture
def show(tmp_path: Path) -> Path:
    folder = write_show(tmp_path / "Tour")
    clip(folder / "Tin Roof" / "Bass.wav")
    (folder / "Tin Roof" / "Drums.wav").write_bytes(b"RIFF\xff\xff\xff\xffWAVE nothing")
    (folder / "Night Ferry" / "notes.txt").write_text("bring strings")
    return folder


def commands(show: Path, out: Path) -> list[tuple[str | Path, ...]]:
    """Every command that is given a show or a stem, with every kind of output."""
    stem = show / "Tin Roof" / "Bass.wav"
    return [
        ("scan", show, "--json", out / "a.json", "--html", out / "a.html", "--rebounce", out / "a.md",
         "--csv", out / "tables", "--with-audio"),
        ("scan", show / "Tin Roof", "--rehash"),
        ("scan", show, "--no-cache", "--jobs", "1", "--verbose"),
        ("hear", stem, "--at", "0:01", "--out", out / "clips"),
        ("seal", show, "--out", out / "a.seal"),
        ("settings", show, "--out", out / "show.toml"),
        ("compare", show, show, "--json", out / "a.json"),
        ("load", show, "--machine", "laptop-quad-sata-ssd", "--json", out / "a.json"),
        ("rehearse", show / "Night Ferry", "--minutes", "0.02"),
        ("sheet", show, "--html", out / "a.html", "--csv", out / "a.csv"),
    ]  # fmt: skip


COMMANDS = len(commands(Path(), Path()))
TIMED = {"rehearse"}
"""What these print depends on the machine's mood."""


@pytest.mark.parametrize("number", range(COMMANDS))
def test_every_byte_time_and_mode_is_as_before(show: Path, tmp_path: Path, number: int):
    before = state_of(show)
    done = run(*commands(show, tmp_path)[number])
    assert "Traceback" not in done.stderr
    assert done.returncode in (0, 1, 3), done.stderr
    assert state_of(show) == before


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="modes of POSIX")
@pytest.mark.parametrize("number", range(COMMANDS))
def test_a_show_that_may_only_be_read_is_as_good(show: Path, tmp_path: Path, number: int):
    codes = []
    for may_write in (True, False):
        if not may_write:
            for root, folders, files in os.walk(show):
                for name in (*folders, *files):
                    os.chmod(Path(root) / name, stat.S_IREAD | (stat.S_IEXEC if name in folders else 0))
            os.chmod(show, stat.S_IREAD | stat.S_IEXEC)
        out = tmp_path / str(may_write)
        out.mkdir()
        words = commands(show, out)[number]
        done = run(*words)
        said = "" if words[0] in TIMED else done.stdout.replace(str(out), "OUT")
        assert "Traceback" not in done.stderr
        codes.append((done.returncode, said, sorted(os.listdir(out))))
    os.chmod(show, stat.S_IRWXU)
    for root, folders, _ in os.walk(show):
        for name in folders:
            os.chmod(Path(root) / name, stat.S_IRWXU)
    assert codes[0] == codes[1]
