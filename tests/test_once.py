"""Costly things are made once a run, and a failure to make them is told to everybody who waits."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import once
from tests.once import made_once


def test_the_first_makes_it_and_the_second_gets_the_same(tmp_path: Path):
    calls = []

    def make() -> dict[str, int]:
        calls.append(1)
        return {"songs": 14}

    assert made_once(tmp_path, "show", make) == made_once(tmp_path, "show", make) == {"songs": 14}
    assert len(calls) == 1


def test_a_failure_reaches_those_who_wait(tmp_path: Path):
    def fail() -> None:
        raise ValueError("no disk")

    with pytest.raises(ValueError, match="no disk"):
        made_once(tmp_path, "show", fail)
    with pytest.raises(RuntimeError, match="ValueError: no disk"):
        made_once(tmp_path, "show", fail)


def test_waiting_has_an_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(once, "PATIENCE_S", 0.1)
    (tmp_path / "show.lock").touch()
    with pytest.raises(TimeoutError, match="did not finish"):
        made_once(tmp_path, "show", lambda: None)
