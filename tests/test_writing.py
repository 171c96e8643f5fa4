"""A file is written whole or not at all."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from audit.writing import replacing, write_whole


def test_a_new_file_holds_the_bytes_and_nothing_lies_beside_it(tmp_path: Path):
    write_whole(tmp_path / "report.json", b"{}")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"report.json": b"{}"}


def test_an_existing_file_is_replaced(tmp_path: Path):
    path = tmp_path / "report.json"
    path.write_bytes(b"old, and longer than the new one")
    write_whole(path, b"new")
    assert path.read_bytes() == b"new"


def test_a_body_that_fails_leaves_the_old_file_and_nothing_else(tmp_path: Path):
    path = tmp_path / "report.json"
    path.write_bytes(b"old")

    def fail_half_way() -> None:
        with replacing(path) as made:
            made.write_bytes(b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fail_half_way()
    assert {entry.name: entry.read_bytes() for entry in tmp_path.iterdir()} == {"report.json": b"old"}


def test_a_missing_folder_is_an_os_error(tmp_path: Path):
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "no" / "report.json", b"{}")


@pytest.mark.skipif(os.name != "posix", reason="file modes")
def test_others_may_read_it_as_they_may_read_any_new_file(tmp_path: Path):
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    write_whole(tmp_path / "report", b"")
    assert stat.S_IMODE((tmp_path / "report").stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


@pytest.mark.skipif(os.name != "posix", reason="kills itself by a signal")
def test_a_killed_writer_leaves_the_old_file_whole(tmp_path: Path):
    path = tmp_path / "report.json"
    path.write_bytes(b"old")
    kill = (
        "import os, signal, sys\nfrom pathlib import Path\nfrom audit.writing import replacing\n"
        "with replacing(Path(sys.argv[1])) as made:\n"
        "    made.write_bytes(b'half')\n    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.run([sys.executable, "-c", kill, str(path)], check=False)
    assert done.returncode == -9
    assert path.read_bytes() == b"old"
    left = [entry.name for entry in tmp_path.iterdir() if entry != path]
    assert len(left) == 1
    assert left[0].startswith(".stemaudit-")
