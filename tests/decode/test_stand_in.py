"""A file that only stands for one in the cloud is not on this disk, and is not opened."""

from __future__ import annotations

from pathlib import Path

from audit.decode.header import read_header
from audit.results import FaultKind


def test_a_stand_in_is_not_on_disk_and_stays_closed(tmp_path: Path):
    missing = tmp_path / ".Bass.wav.icloud"  # opening it would fail: nothing is there
    header = read_header(missing, size_bytes=160, allocated_bytes=4096)
    assert [fault.kind for fault in header.faults] == [FaultKind.NOT_ON_DISK]
    assert header.format is None


def test_a_stem_of_the_same_size_is_opened(tmp_path: Path):
    header = read_header(tmp_path / "Bass.wav", size_bytes=160, allocated_bytes=4096)
    assert [fault.kind for fault in header.faults] == [FaultKind.UNREADABLE]
