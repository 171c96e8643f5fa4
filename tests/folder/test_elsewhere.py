"""Files whose bytes the system keeps elsewhere are known by its own flags, without opening them."""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace

import pytest

from audit.folder.elsewhere import is_elsewhere
from audit.folder.walk import walk
from tests.folder.trees import plant, stem


@pytest.mark.parametrize(
    ("state", "told"),
    [
        ({"st_flags": 0x4000_0000}, True),  # macOS: dataless
        ({"st_flags": 0x4000_0020}, True),  # dataless and compressed
        ({"st_flags": 0x20}, False),  # compressed
        ({"st_file_attributes": 0x20 | 0x1000}, True),  # Windows: offline
        ({"st_file_attributes": 0x20 | 0x4_0000}, True),  # recalled on opening
        ({"st_file_attributes": 0x20 | 0x40_0000}, True),  # recalled on reading
        ({"st_file_attributes": 0x20 | 0x200}, False),  # an ordinary sparse file
        ({"st_file_attributes": 0x20 | 0x8_0000}, False),  # pinned: always kept here
        ({}, False),  # Linux
    ],
)
def test_the_flags_of_each_system(state: dict[str, int], told: bool):
    assert is_elsewhere(SimpleNamespace(**state)) is told


def test_an_ordinary_file_is_here(tmp_path: Path):
    (tmp_path / "Bass.wav").write_bytes(b"x")
    assert not is_elsewhere(os.stat(tmp_path / "Bass.wav"))


def test_the_stem_carries_it(tmp_path: Path):
    root = plant(tmp_path / "Rain", "Bass.wav", "Click.wav")
    (root / ".Keys.wav.icloud").write_bytes(b"x" * 180)
    show = walk(root)
    assert stem(show, ".Keys.wav.icloud").elsewhere
    assert not stem(show, "Bass.wav").elsewhere
