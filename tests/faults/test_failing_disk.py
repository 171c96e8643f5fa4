"""A disk that fails under a running scan: read errors, a drive that goes away, a disk that runs full."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.cli.command import run
from tests.cli.folders import write_show
from tests.faults.running import scan
from tests.faults.shim import Shim, build_shim

SONGS = ("Night Ferry", "Tin Roof")
STEMS = {f"{song}/{stem}.wav" for song in SONGS for stem in ("Bass", "Keys", "Guitar")}


@pytest.fixture(scope="module")
def shim(tmp_path_factory: pytest.TempPathFactory) -> Shim:
    return build_shim(tmp_path_factory.mktemp("shim"))


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_show(tmp_path_factory.mktemp("show") / "Tour")


def test_without_a_fault_the_shim_changes_nothing(shim: Shim, show: Path):
    told = scan(show, env=shim.reading("no such name", 0))
    assert (told.code, told.stems(), told.findings()) == (0, STEMS, {})


@pytest.mark.parametrize("after_bytes", [0, 30, 200_000], ids=["at once", "in the header", "in the audio"])
def test_a_read_error_costs_its_stem_and_no_other(shim: Shim, show: Path, after_bytes: int):
    told = scan(show, env=shim.reading("Tin Roof/Keys.wav", after_bytes))
    assert told.stems() == STEMS
    assert told.code == 1
    assert told.findings() == {"unreadable-file": {"Keys.wav"}}
    (finding,) = [f for song in told.report["songs"] for f in song["findings"]]  # type: ignore[index]
    assert "nput/output error" in finding["message"]
    assert finding["songs"] == ["Tin Roof"]


@pytest.mark.parametrize("after_bytes", [0, 100_000, 1_500_000])
def test_a_drive_that_goes_away_names_what_was_not_read(shim: Shim, show: Path, after_bytes: int):
    told = scan(show, "--jobs", "1", env=shim.unplugged("Tour/", after_bytes))
    assert told.stems() == STEMS
    assert told.code in (1, 3)
    assert told.report is not None
    told_of = told.findings().get("unreadable-file", set()) | told.unmeasured()
    assert len(told_of) >= 2
    assert told.report["summary"]["stems"] == 6


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A show with a fault, so that every kind of output has something to say."""
    source = write_show(tmp_path_factory.mktemp("faulty") / "Tour", seconds=1.0)
    (source / "Tin Roof" / "Keys.wav").write_bytes(b"no audio at all" * 40)
    return source


@pytest.mark.parametrize(
    ("option", "output", "old"),
    [
        ("--json", "report.json", None),
        ("--json", "report.json", b"{}"),
        ("--html", "report.html", None),
        ("--rebounce", "again.md", None),
    ],
)
@pytest.mark.parametrize("after_bytes", [0, 100])
def test_a_full_disk_leaves_the_old_output_or_none(
    shim: Shim, faulty: Path, tmp_path: Path, option, output, old, after_bytes
):
    target = tmp_path / "out" / output
    target.parent.mkdir()
    if old is not None:
        target.write_bytes(old)
    env = {key: value for key, value in shim.full("/out/", after_bytes).items() if key not in os.environ}
    done = run("scan", faulty, option, target, "--quiet", **env)
    assert done.returncode == 2
    assert "o space left" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    left = {path.name: path.read_bytes() for path in target.parent.iterdir()}
    assert left == ({} if old is None else {output: old})
