"""What a watch tells of a change: each thing once, as what it is, and nothing where nothing has changed."""

from __future__ import annotations

import io
import os
import shutil
from pathlib import Path

import pytest
from rich.console import Console

from audit.findings import ShowAudit
from audit.pipeline.memory.last_scan import LastScan
from audit.pipeline.scan import scan_show
from audit.report.news import print_news
from audit.settings.model import ShowSettings, Waiver
from tests.cli import folders
from tests.report.samples import audit_of, finding, healthy

pytestmark = pytest.mark.usefixtures("quick_workers")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A show with a clipped stem, and what a scan of it left behind. Not to be changed."""
    base = tmp_path_factory.mktemp("news")
    show = folders.write_show(base / "Harbour Lights Tour")
    folders.clip(show / "Tin Roof" / "Keys.wav")
    for path in show.rglob("*.wav"):
        os.utime(path, ns=(1_700_000_001_234_567_891,) * 2)
    scanned(show, base / "kept")
    return show, base / "kept"


@pytest.fixture
def show(kept: tuple[Path, Path], tmp_path: Path) -> Path:
    return shutil.copytree(kept[0], tmp_path / "Show")


def scanned(show: Path, kept: Path, settings: ShowSettings | None = None) -> ShowAudit:
    with LastScan(kept) as last:
        return scan_show(show, jobs=1, last_scan=last, settings=settings or ShowSettings())


def told(before: ShowAudit, after: ShowAudit) -> tuple[str, bool]:
    out = io.StringIO()
    worse = print_news(before, after, Console(file=out, width=100))
    return out.getvalue(), worse


def test_a_touched_stem_is_no_news(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    os.utime(show / "Tin Roof" / "Bass.wav")
    assert told(before, scanned(show, kept[1])) == ("", False)


def test_a_stem_bounced_again_is_named(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    folders.write_tone(show / "Tin Roof" / "Bass.wav", freq_hz=83.0, seed=99)
    said, worse = told(before, scanned(show, kept[1]))
    assert said == "Tin Roof: 1 error (Bass.wav)\n"
    assert not worse


def test_those_that_did_not_come_with_the_rest_are_named(show: Path, kept: tuple[Path, Path]):
    """A chorus was cut, and one stem of the song was forgotten."""
    song = show / "Tin Roof"
    for number in range(1, 5):
        folders.write_tone(song / f"Pad {number}.wav", freq_hz=300.0 + 20 * number, seed=number)
    before = scanned(show, kept[1])
    for number in range(1, 5):
        folders.write_tone(song / f"Pad {number}.wav", freq_hz=500.0 + 20 * number, seed=number)
    assert (
        "4 stems landed" not in told(before, scanned(show, kept[1]))[0]
    )  # 3 others stay: no bounce of it all
    folders.write_tone(song / "Bass.wav", freq_hz=83.0, seed=99)
    said = told(before, scanned(show, kept[1]))[0]
    stayed = sorted(path.name for path in song.iterdir() if path.name[:3] not in ("Pad", "Bas"))
    assert f"(5 stems landed, all but {' and '.join(stayed)})" in said
    for number, name in enumerate(stayed):
        folders.write_tone(song / name, freq_hz=700.0 + 20 * number, seed=50 + number)
    assert "(all 7 stems landed)" in told(before, scanned(show, kept[1]))[0]


def test_a_waived_fault_is_not_mended(show: Path, kept: tuple[Path, Path]):
    waiver = Waiver(rule="sample-clipping", reason="it is meant so")
    before = scanned(show, kept[1])
    said, worse = told(before, scanned(show, kept[1], ShowSettings(source="show.toml", waivers=(waiver,))))
    assert "waived   sample-clipping in Keys.wav" in said
    assert "mended" not in said
    assert not worse
    back, worse = told(scanned(show, kept[1], ShowSettings(source="show.toml", waivers=(waiver,))), before)
    assert "error    sample-clipping in Keys.wav" in back
    assert worse


def test_a_mended_fault_is_told_as_such(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    folders.write_tone(show / "Tin Roof" / "Keys.wav", freq_hz=330.0, seed=21)
    said, _ = told(before, scanned(show, kept[1]))
    assert said.startswith("Tin Roof: clear, was 1 error (Keys.wav)")
    assert "mended   sample-clipping in Keys.wav" in said


def test_a_fault_whose_stem_went_is_gone_with_it(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    (show / "Tin Roof" / "Keys.wav").unlink()
    said, _ = told(before, scanned(show, kept[1]))
    assert said.startswith("Tin Roof: clear, was 1 error (Keys.wav gone)")
    assert "gone     sample-clipping in Keys.wav" in said


def test_a_song_that_went(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    shutil.rmtree(show / "Tin Roof")
    assert told(before, scanned(show, kept[1]))[0] == "Tin Roof: gone\n"


def test_a_song_whose_folder_was_renamed_is_told_once(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    (show / "Tin Roof").rename(show / "Tin Roof v2")
    said, worse = told(before, scanned(show, kept[1]))
    assert said == "Tin Roof v2: 1 error (was called Tin Roof)\n"
    assert not worse


def test_a_new_song_is_told_with_its_faults(show: Path, kept: tuple[Path, Path]):
    before = scanned(show, kept[1])
    shutil.copytree(show / "Tin Roof", show / "Opener")
    said, worse = told(before, scanned(show, kept[1]))
    assert "Opener: 1 error (new, 3 stems)" in said
    assert "sample-clipping in Keys.wav" in said
    assert worse


def test_a_place_is_told_once_and_with_it_how_to_hear_it():
    told_by = finding(
        "dropout", "error", "Keys.wav", ("Rain",), at_s=20.077,
        message="drops out at 0:20.077: 20.0 ms of silence", advice="Bounce it; listen to it at 0:20.077.",
    )  # fmt: skip
    silent = finding("dc-offset", "error", "Keys.wav", ("Rain",), at_s=3.0, message="an offset")
    said, worse = told(audit_of(healthy("Rain")), audit_of(healthy("Rain"), findings=(told_by, silent)))
    assert worse
    lines = [line for line in said.splitlines() if "stemaudit hear" not in line]
    assert "\n".join(lines).count("0:20.077") == 1
    assert "dropout in Keys.wav: drops out at 0:20.077: 20.0 ms of silence" in said
    assert "listen to it there." in said
    assert "dc-offset in Keys.wav at 0:03.000: an offset" in said
    assert "Rain/Keys.wav" in said
    assert said.count("Hear: stemaudit hear") == 2
