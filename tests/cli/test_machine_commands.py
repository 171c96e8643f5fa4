"""`stemaudit probe`, `rehearse` and `calibrate` as a user runs them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from audit.machine.classes import CLASSES
from audit.machine.profile import read_profile
from audit.machine.written import write_profile
from tests.cli.command import environment, run
from tests.cli.examples import words_of
from tests.cli.folders import write_song

EASY = ("--buffer", "4096", "--refill", "0.25")


@pytest.fixture(scope="module")
def song(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_song(tmp_path_factory.mktemp("show") / "Night Ferry", seconds=2.0)


@pytest.fixture
def profile(tmp_path: Path) -> Path:
    write_profile(tmp_path / "foh.toml", CLASSES["laptop-quad-sata-ssd"])
    return tmp_path / "foh.toml"


PROBE = 'stemaudit probe --disk "D:/Harbour Lights Tour" --out foh.toml'
"""The first example of its help."""


@pytest.mark.slow
def test_a_probe_writes_a_profile_that_load_takes(song: Path, tmp_path: Path):
    (tmp_path / "D" / "Harbour Lights Tour").mkdir(parents=True)
    start = time.perf_counter()
    done = run(*words_of(PROBE, tmp_path), "--on-battery", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert time.perf_counter() - start < 60
    assert "Written: foh.toml" in done.stdout
    assert sorted(path.name for path in tmp_path.iterdir()) == ["D", "foh.toml"]
    assert list((tmp_path / "D" / "Harbour Lights Tour").iterdir()) == []
    loaded = run("load", song, "--machine", tmp_path / "foh.toml")
    assert "Night Ferry on foh" in loaded.stdout


def test_a_probe_replaces_nothing_but_a_profile(song: Path, tmp_path: Path):
    stem = song / "Bass.wav"
    before = stem.read_bytes()
    done = run("probe", "--disk", tmp_path, "--out", stem)
    assert done.returncode == 2
    assert "exists and is no machine's profile" in done.stderr
    assert stem.read_bytes() == before
    assert run("probe", "--disk", tmp_path / "absent").returncode == 2


def test_a_rehearsal_stands_beside_the_forecast_and_is_kept(song: Path, profile: Path):
    done = run("rehearse", song, "--minutes", "0.02", "--machine", profile, "--record", *EASY)
    assert done.returncode in (0, 1), done.stderr  # a busy machine may really be late
    assert "late refills " in done.stdout
    assert "Forecast for laptop-quad-sata-ssd: fits" in done.stdout
    (past,) = read_profile(profile)[1]
    assert (past.song, past.clean) == ("Night Ferry", done.returncode == 0)
    loaded = run("load", song, "--machine", profile)
    assert loaded.returncode == done.returncode
    assert past.clean or "Rehearsed on" in loaded.stdout


def test_a_climb_tells_the_room(song: Path):
    done = run("rehearse", song, "--speed", "max", *EASY)
    assert "room: no refill late up to " in done.stdout or "no room: late" in done.stdout, done.stderr
    assert "clean" not in done.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--speed", "2"), "--speed 2: it takes 1 or max"),
        (("--minutes", "0"), "--minutes 0: it takes"),
        (("--record",), "--record: into which profile?"),
        (("--machine", "laptop-8core-nvme", "--record"), "is no profile's file"),
        (("--machine", "abacus"), "neither a profile's file nor a class"),
    ],
)
def test_mistakes_are_one_line(song: Path, words: tuple[str, ...], says: str):
    done = run("rehearse", song, *words)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT to a process of its own")
def test_ctrl_c_tells_what_was_seen_so_far(song: Path):
    process = subprocess.Popen(
        [sys.executable, "-m", "audit", "rehearse", str(song), "--minutes", "5", *EASY],
        env=environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    time.sleep(3.0)
    os.kill(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert process.returncode == 130, err
    assert "stopped early" in out


def test_a_reading_is_folded_in(song: Path, profile: Path):
    before = read_profile(profile)[0].speed.value
    done = run("calibrate", song, "--machine", profile, "--song", "Night Ferry", "--reading", "2.6")
    assert done.returncode == 0, done.stderr
    assert "Night Ferry  2.6 %" in done.stdout
    assert read_profile(profile)[0].speed.value != before


def test_a_reading_of_the_players_own_load_is_folded_in(song: Path, profile: Path):
    before = read_profile(profile)[0]
    done = run("calibrate", song, "--machine", profile, "--song", "Night Ferry", "--reading", "35")
    assert done.returncode == 0, done.stderr
    assert "1.00 times what was forecast, and 3" in done.stdout
    assert "% of a core whatever plays, the player's own" in " ".join(done.stdout.split())
    made = read_profile(profile)[0]
    assert made.speed.value == pytest.approx(before.speed.value)
    assert made.callback_base.value > before.callback_base.value


def test_readings_may_be_taken_at_several_buffers(song: Path, profile: Path):
    for frames, reading in (("256", "35"), ("512", "18"), ("128", "69")):
        words = ("--song", "Night Ferry", "--reading", reading, "--buffer", frames)
        done = run("calibrate", song, "--machine", profile, *words)
        assert done.returncode == 0, done.stderr
    told = " ".join(done.stdout.split())
    assert "corrected by 3 readings" in told
    assert "whatever plays at 128 frames, 48 kHz, the player's own" in told
    assert [each.frames for each in read_profile(profile)[0].observed] == [256, 512, 128]


def test_a_meter_of_the_whole_machine_counts_for_all_cores(song: Path, tmp_path: Path):
    speeds = []
    for cores, reading in (("one", "4.0"), ("all", "1.0")):
        path = tmp_path / f"{cores}.toml"
        write_profile(path, CLASSES["laptop-quad-sata-ssd"])
        words = ("--song", "Night Ferry", "--reading", reading, "--cores", cores)
        assert run("calibrate", song, "--machine", path, *words).returncode == 0
        speeds.append(read_profile(path)[0].speed.value)
    assert speeds[0] == pytest.approx(speeds[1])


@pytest.mark.parametrize("reading", ["900", "-1", "loud"])
def test_nonsense_readings_change_nothing(song: Path, profile: Path, reading: str):
    before = profile.read_bytes()
    done = run("calibrate", song, "--machine", profile, "--song", "Night Ferry", "--reading", reading)
    assert done.returncode == 2
    assert profile.read_bytes() == before


@pytest.mark.parametrize(("share", "told"), [(0.43, True), (0.02, False)])
def test_a_rehearsal_beside_other_programs_says_so_and_how_to_undo_its_record(
    song: Path, profile: Path, monkeypatch: pytest.MonkeyPatch, share: float, told: bool
):
    from typer.testing import CliRunner

    from audit.cli.app import app

    monkeypatch.setattr("audit.machine.busy.Others.share", lambda self: share)
    words = ("rehearse", song, "--minutes", "0.02", "--machine", profile, "--record", *EASY)
    said = CliRunner().invoke(app, [str(word) for word in words]).output
    assert ("Meanwhile other programs took 43 % of the processor: what came late may be" in said) is told
    assert f"Kept in {profile}: load and scan heed it." in said
    assert "delete its [[rehearsed]] lines in that file." in said
    assert "[[rehearsed]]" in profile.read_text(encoding="utf-8")


@pytest.fixture
def show(tmp_path: Path) -> Path:
    for name in ("01 - Low Tide", "02 - Night Ferry", "03 - Tin Roof"):
        write_song(tmp_path / "Summer Run" / name, seconds=1.0)
    return tmp_path / "Summer Run"


def heads(said: str) -> list[str]:
    """The songs that were rehearsed, in their order."""
    return [
        line.partition(": ")[0] for line in said.splitlines() if " at speed " in line or "buffer 4096" in line
    ]


def test_tonights_songs_are_rehearsed_one_after_another(show: Path, profile: Path):
    (show.parent / "tonight.txt").write_text("1. Tin Roof\n2. Break\n3. Low Tide\n", encoding="utf-8")
    words = (
        "--set",
        show.parent / "tonight.txt",
        "--minutes",
        "0.01",
        "--machine",
        profile,
        "--record",
        *EASY,
    )
    done = run("rehearse", show, *words)
    assert done.returncode in (0, 1), done.stderr  # a busy machine may really be late
    assert heads(done.stdout) == ["03 - Tin Roof", "01 - Low Tide"]
    assert done.stdout.count("Forecast for laptop-quad-sata-ssd: fits") == 2
    kept = read_profile(profile)[1]
    assert [past.song for past in kept] == ["03 - Tin Roof", "01 - Low Tide"]
    assert (done.returncode == 0) is all(past.clean for past in kept)
    good = sum(past.clean for past in kept)
    assert done.stdout.splitlines()[-1] == f"Set list tonight: {good} of 2 songs went well."


def test_a_set_list_of_the_settings_is_rehearsed_too_and_what_is_not_there_is_told(show: Path):
    (show / "show.toml").write_text(
        'schema = 1\n[[sets]]\nname = "Late"\nsongs = ["Tin Roof", "Nobody", "Low Tdie"]\n', encoding="utf-8"
    )
    done = run("rehearse", show, "--set", "late", "--minutes", "0.01", *EASY)
    assert heads(done.stdout) == ["03 - Tin Roof"]
    said = "Not streamed, as no song here is called so: Nobody, Low Tdie (did it mean 01 - Low Tide?)."
    assert done.stdout.splitlines()[-1].endswith(said)
    assert done.returncode == (3 if " 1 of 1 song went well" in done.stdout else 1)


def test_a_song_that_cannot_be_streamed_does_not_end_the_night(show: Path):
    for stem in (show / "03 - Tin Roof").iterdir():
        stem.write_bytes(b"this is no audio" * 100)
    (show.parent / "a.txt").write_text("Tin Roof\nLow Tide\n", encoding="utf-8")
    done = run("rehearse", show, "--set", show.parent / "a.txt", "--minutes", "0.01", *EASY)
    assert heads(done.stdout)[-1:] == ["01 - Low Tide"], done.stderr
    assert done.returncode == (1 if "drops out" in done.stdout else 3)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "holds 3 songs: name one with --song, or tonight's with --set"),
        (("--set", "gone.txt"), "gone.txt: cannot be read"),
        (("--set", ""), "no set list is named"),
        (("--set", "Late"), "no set list has this name"),
        (("--set", "a.txt", "--song", "Tin Roof"), "give one of the two"),
    ],
)
def test_mistakes_with_set_lists_are_one_line(show: Path, words: tuple[str, ...], says: str):
    done = run("rehearse", show, *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1
