"""What `stemaudit probe` says of other programs at work: once, and when it is first known."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from audit.cli.probe import CLOSE, probe
from audit.machine import busy
from audit.machine import probe as measuring
from audit.machine.classes import CLASSES


@pytest.mark.parametrize(
    ("before", "meanwhile", "told", "where"),
    [
        (0.43, 0.30, "Other programs took 43 % of the processor just now", "err"),
        (0.43, 0.0, "Other programs took 43 % of the processor just now", "err"),
        (0.0, 0.30, "Meanwhile other programs took 30 % of the processor", "out"),
        (0.0, 0.0, None, ""),
    ],
)
def test_a_busy_machine_is_told_once(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    before: float,
    meanwhile: float,
    told: str | None,
    where: str,
):
    words = busy.busy_words(meanwhile)
    made = replace(CLASSES["laptop-8core-nvme"], host={} if words is None else {busy.KEY: words})
    monkeypatch.setattr(busy, "share_over", lambda seconds: before)
    monkeypatch.setattr(measuring, "probe", lambda *args, **more: made)
    probe(
        disk=str(tmp_path),
        out=str(tmp_path / "foh.toml"),
        buffer=None,
        refill=None,
        full=True,
        on_battery=True,
    )
    captured = capsys.readouterr()
    said = " ".join(f"{captured.out} {captured.err}".split())
    if told is None:
        assert "other programs" not in said.casefold()
        return
    assert told in " ".join(getattr(captured, where).split())
    assert said.casefold().count("other programs took") == said.count(CLOSE) == 1
    assert "`load` calls" in said
