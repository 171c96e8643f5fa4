"""`stemaudit load` as a user runs it."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audit.machine.classes import CLASSES
from audit.machine.written import write_profile
from tests.cli import command
from tests.cli.command import modules_after
from tests.cli.folders import write_show, write_song, write_tone
from tests.cli.warm import run


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_show(tmp_path_factory.mktemp("load") / "Harbour Lights", seconds=0.5)
    for number in range(40):
        write_tone(folder / "Crowded Quay" / f"Synth {number:02d}.wav", seconds=0.5)
    return folder


def test_an_old_laptop_cannot_carry_what_a_new_one_can(show: Path):
    done = run("load", show, "-m", "laptop-dual-disk", "-m", "laptop-8core-nvme", "--json", "-")
    assert done.returncode == 1, done.stderr
    made = json.loads(done.stdout)
    verdicts = {(f["machine"], f["song"]): f["verdict"] for f in made["forecasts"]}
    assert verdicts["laptop-dual-disk", "Crowded Quay"] == "over"
    assert verdicts["laptop-8core-nvme", "Crowded Quay"] == "fits"
    assert verdicts["laptop-dual-disk", "Tin Roof"] == "fits"
    crowded = next(f for f in made["forecasts"] if f["song"] == "Crowded Quay")
    assert crowded["confidence"] == "low"
    assert any(cure["text"].startswith("merge ") and cure["enough"] for cure in crowded["cures"])
    assert "Crowded Quay on laptop-dual-disk: over, the heaviest song" in done.stderr
    assert (
        "laptop-dual-disk does not carry 1 of 3 songs; laptop-8core-nvme carries all 3 songs." in done.stderr
    )


def test_all_classes_are_asked_where_no_machine_is_named(show: Path):
    done = run("load", show / "Tin Roof")
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("Tin Roof on laptop-") == 5


def test_machines_and_instruments_come_from_the_settings(show: Path, tmp_path: Path):
    settings = tmp_path / "show.toml"
    settings.write_text(
        'schema = 1\n[[machines]]\nname = "Spare"\nclass = "laptop-quad-sata-ssd"\n'
        "engine = { frames = 512 }\n"
        '[[instruments]]\nname = "Choir"\ncores = 3.0\nmemory_gb = 3.2\nsongs = ["Tin Roof"]\n'
    )
    done = run("load", show, "--settings", settings, "--json", "-")
    made = json.loads(done.stdout)
    tin, ferry = (
        next(f for f in made["forecasts"] if f["song"] == name) for name in ("Tin Roof", "Night Ferry")
    )
    assert (tin["verdict"], tin["limiting"], tin["machine"], tin["frames"]) == (
        "over",
        "callback",
        "Spare",
        512,
    )
    assert ferry["verdict"] == "fits"
    assert tin["resources"]["memory"]["value"] - ferry["resources"]["memory"]["value"] == pytest.approx(3.2e9)


OLD = ("-m", "laptop-dual-disk")  # too slow for Crowded Quay


def test_a_set_list_asks_for_its_songs_alone(show: Path, tmp_path: Path):
    (tmp_path / "tonight.txt").write_text("Tin Roof\n\nNight Ferry (Eb)\nTin Roof\n")
    done = run("load", show, *OLD, "--set", tmp_path / "tonight.txt", "--json", "-")
    assert done.returncode == 0, done.stderr
    assert "Set list tonight: laptop-dual-disk carries all 2 songs." in done.stderr
    assert "Crowded Quay" not in done.stderr
    made = json.loads(done.stdout)
    assert [f["song"] for f in made["forecasts"]] == ["Tin Roof", "Night Ferry"]
    assert made["set_list"] == {"name": "tonight", "missing": []}
    (tmp_path / "late.txt").write_text("Night Ferry\nCrowded Quay\n")
    done = run("load", show, *OLD, "--set", tmp_path / "late.txt")
    assert done.returncode == 1
    assert "Set list late: laptop-dual-disk does not carry 1 of 2 songs." in done.stdout
    assert "Crowded Quay on laptop-dual-disk: over, the heaviest song" in done.stdout


def test_a_set_list_of_the_settings_by_its_name(show: Path, tmp_path: Path):
    settings = tmp_path / "show.toml"
    settings.write_text(
        'schema = 1\n[[sets]]\nname = "Late"\nsongs = ["Roof"]\n'
        '[[songs]]\nname = "Tin Roof"\naliases = ["Roof"]\n'
    )
    words = ("load", show, *OLD, "--settings", settings)
    assert "Set list Late: laptop-dual-disk carries 1 song." in run(*words, "--set", "late").stdout
    assert "does not carry 1 of 3 songs" in run(*words).stdout  # without --set the whole show, as ever


def test_a_song_of_the_set_list_that_is_not_there_leaves_it_incomplete(show: Path, tmp_path: Path):
    (tmp_path / "a.txt").write_text("Tin Roof\nLast Train\nTin Rof\n")
    done = run("load", show, *OLD, "--set", tmp_path / "a.txt")
    assert done.returncode == 3, done.stderr
    said = "Not counted, as no song here is called so: Last Train and Tin Rof (did it mean Tin Roof?)."
    assert said in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--set", "gone.txt"), "gone.txt: cannot be read"),
        (("--set", "Tomorrow"), "no set list has this name"),
        (("--set", ""), "no set list is named"),
        (("--set", "a.txt", "--song", "Tin Roof"), "give one of the two"),
        (("--set", "b.txt"), "none of its songs is in this folder"),
    ],
)
def test_mistakes_with_set_lists_are_one_line(show: Path, tmp_path: Path, words: tuple[str, ...], says: str):
    (tmp_path / "b.txt").write_text("Last Train\n")
    done = run("load", show, *OLD, *words, cwd=tmp_path)
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1)
    assert says in done.stderr


def test_a_song_by_itself_has_no_set_list(show: Path, tmp_path: Path):
    (tmp_path / "a.txt").write_text("Tin Roof\n")
    done = run("load", show / "Tin Roof", *OLD, "--set", tmp_path / "a.txt")
    assert done.returncode == 2
    assert "one song's folder" in done.stderr


def test_the_rate_is_the_shows_not_the_sets(tmp_path: Path):
    """One song at 44.1 kHz in a show at 48 kHz is converted while it plays."""
    for name in "AB":
        write_song(tmp_path / "show" / name, seconds=0.5)
    (tmp_path / "show" / "C").mkdir()
    sf.write(tmp_path / "show" / "C" / "Bass.wav", np.full((22050, 2), 0.1), 44100)
    (tmp_path / "c.txt").write_text("C\n")
    done = run("load", tmp_path / "show", *OLD, "--set", tmp_path / "c.txt", "--json", "-")
    assert [f["rate_hz"] for f in json.loads(done.stdout)["forecasts"]] == [48000]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("-m", "laptop-quad-sata-sd"), "did you mean laptop-quad-sata-ssd?"),
        (("-m", ""), "neither a profile's file nor a class"),
        (("--buffer", "8"), "--buffer 8: it takes 16 to 8192 frames"),
        (("--rate", "fast"), "--rate fast: it takes 8000"),
        (("--refill", "0"), "--refill 0: it takes 0.05"),
    ],
)
def test_mistakes_are_one_line(show: Path, words: tuple[str, ...], says: str):
    done = run("load", show, *words)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_a_profile_is_found_without_its_ending(show: Path, tmp_path: Path):
    write_profile(tmp_path / "old.toml", CLASSES["laptop-8core-nvme"])
    (tmp_path / "notes.toml").write_text("title = 'no profile'\n")
    done = run("load", show / "Tin Roof", "--machine", "old", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert run("load", show / "Tin Roof", "--machine", tmp_path / "old").returncode == 0
    done = run("load", show / "Tin Roof", "--machine", "odl", cwd=tmp_path)
    assert done.returncode == 2
    assert (
        "did you mean old.toml? profiles there are old.toml; the classes are laptop-dual-disk" in done.stderr
    )
    assert len(done.stderr.splitlines()) == 1


def test_a_stem_that_cannot_be_read_is_named_and_leaves_it_incomplete(tmp_path: Path):
    song = write_song(tmp_path / "Night Ferry", seconds=0.5)
    (song / "Pad.wav").write_bytes(b"no audio at all, but long enough to look at")
    done = run("load", song, "-m", "laptop-8core-nvme")
    assert done.returncode == 3
    assert "Not counted, as it cannot be read: Night Ferry, Pad.wav." in done.stdout


def test_hostile_names_stay_on_their_line(tmp_path: Path):
    write_song(tmp_path / "x" / "[red]Bad\x1b[31m\nName", seconds=0.5)
    done = run("load", tmp_path / "x", "-m", "laptop-8core-nvme")
    assert done.returncode == 0, done.stderr
    assert "[red]Bad\\x1b[31m\\nName" in done.stdout
    assert "\x1b" not in done.stdout


def test_nothing_heavy_is_loaded(show: Path):
    modules = modules_after("load", str(show / "Tin Roof"), "-m", "laptop-8core-nvme")
    assert not modules & {"scipy", "numba", "librosa", "pyloudnorm"}


def test_headers_of_two_hundred_stems_take_no_longer_than_help_and_reading(tmp_path: Path):
    """The ratio to the same command on three stems: opening files is all that grows."""
    first = write_tone(tmp_path / "many" / "Song" / "Stem 000.wav", seconds=0.1).read_bytes()
    for number in range(1, 200):
        (tmp_path / "many" / "Song" / f"Stem {number:03d}.wav").write_bytes(first)
    write_song(tmp_path / "few" / "Song", seconds=0.1)
    took = []
    for folder in ("few", "many"):
        best = 1e9
        for _ in range(3):
            start = time.perf_counter()
            done = command.run("load", tmp_path / folder, "-m", "laptop-8core-nvme")
            assert done.returncode in (0, 1)
            best = min(best, time.perf_counter() - start)
        took.append(best)
    assert took[1] < 3 * took[0]


def test_help_and_readme_say_how_doubtful_ends():
    assert re.search(r"0\s+every song fits, or is tight or doubtful", run("load", "--help").stdout)
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    assert "`load` exits with 0 all the same, as for *tight*" in readme
