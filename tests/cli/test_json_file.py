"""The JSON file: complete or absent, never in the place of something else."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from audit import writing
from audit.cli.json_file import check_json_target, write_json
from audit.errors import OutputError


def test_a_new_file_is_written_in_utf8(tmp_path):
    target = tmp_path / "é.json"
    check_json_target(str(target))
    assert not target.exists()
    write_json('{"é": 1}\n', str(target))
    assert target.read_bytes() == '{"é": 1}\n'.encode()


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path, monkeypatch):
    target = tmp_path / "report.json"
    target.write_text('{"old": 1}')

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", fail)
    with pytest.raises(OutputError, match="No space left"):
        write_json('{"new": 1}', str(target))
    assert target.read_text() == '{"old": 1}'
    assert list(tmp_path.iterdir()) == [target]


def test_a_link_stays_a_link(tmp_path):
    real = tmp_path / "real.json"
    real.write_text("{}")
    link = tmp_path / "link.json"
    link.symlink_to(real)
    write_json('{"new": 1}', str(link))
    assert link.is_symlink()
    assert real.read_text() == '{"new": 1}'


def test_a_device_is_written_to_and_not_replaced():
    check_json_target(os.devnull)
    write_json("{}", os.devnull)
    assert Path(os.devnull).is_char_device()


def test_permissions_follow_the_umask(tmp_path):
    old = os.umask(0o027)
    try:
        write_json("{}", str(tmp_path / "report.json"))
    finally:
        os.umask(old)
    assert (tmp_path / "report.json").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    ("content", "allowed"), [(b"", True), (b"  {}", True), (b"RIFF....WAVE", False), (b"[]", False)]
)
def test_only_a_json_document_may_be_replaced(tmp_path, content, allowed):
    target = tmp_path / "report.json"
    target.write_bytes(content)
    if allowed:
        check_json_target(str(target))
    else:
        with pytest.raises(OutputError, match="no JSON report"):
            check_json_target(str(target))
    assert target.read_bytes() == content


@pytest.mark.parametrize(("target", "why"), [("nowhere/x.json", "does not exist"), (".", "is a folder")])
def test_an_impossible_target_is_refused_at_once(tmp_path, monkeypatch, target, why):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(OutputError, match=why):
        check_json_target(target)
    assert list(tmp_path.iterdir()) == []
