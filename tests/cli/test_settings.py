"""`stemaudit settings` and the settings of a scan, as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from audit.cli.settings import _write
from audit.errors import OutputError
from tests.cli import folders
from tests.cli.warm import run
from tests.settings.test_mistakes import TWENTY, WANTED


@pytest.fixture
def show(tmp_path: Path) -> Path:
    return folders.write_show(tmp_path / "Harbour Lights Tour")


def test_settings_are_written_once_and_change_no_verdict(show: Path, tmp_path: Path):
    kept = {"STEMAUDIT_CACHE_DIR": str(tmp_path / "cache")}
    before = run("scan", "--jobs", "1", "--json", "-", show, **kept)
    done = run("settings", "--jobs", "1", show, **kept)
    assert (done.returncode, done.stdout.splitlines()[0]) == (0, f"Written: {show / 'show.toml'}")
    text = (show / "show.toml").read_text(encoding="utf-8")
    after = run("scan", "--jobs", "1", "--json", "-", show, **kept)
    assert after.returncode == before.returncode == 0
    old, new = json.loads(before.stdout), json.loads(after.stdout)
    assert new["show"]["settings"] == "show.toml"
    assert [song["findings"] for song in new["songs"]] == [song["findings"] for song in old["songs"]]
    assert new["show_findings"] == old["show_findings"]
    assert not any(entry["stray"] for entry in new["passed_over"])

    again = run("settings", "--jobs", "1", show, **kept)
    assert again.returncode == 2
    assert "is there already and is not touched" in again.stderr
    assert (show / "show.toml").read_text(encoding="utf-8") == text


def test_settings_go_elsewhere_where_they_are_asked_to(show: Path, tmp_path: Path):
    there = tmp_path / "mine.toml"
    assert run("settings", "--jobs", "1", show, "--out", there).returncode == 0
    assert there.is_file()
    assert not (show / "show.toml").exists()
    screen = run("settings", "--jobs", "1", show, "--out", "-")
    assert screen.stdout == there.read_text(encoding="utf-8")
    assert run("settings", show, "--out", "").returncode == 2
    # In the quotes that every shell has, as in every other line to be copied.
    assert run("settings", show, "--out", tmp_path / "a b.toml").stdout.splitlines()[-1] == (
        f'Then: stemaudit scan "{show}" --settings "{tmp_path / "a b.toml"}"'
    )


def test_a_folder_that_takes_no_file_names_another_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def refuse(path):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("audit.writing.replacing", refuse)
    with pytest.raises(OutputError, match=r"Permission denied: name a place that can, .*--out show\.toml"):
        _write("x", tmp_path / "show.toml", "A Show")
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_written_over_what_came_meanwhile(tmp_path: Path):
    target = tmp_path / "show.toml"
    target.write_text("mine")
    with pytest.raises(OutputError, match="not touched"):
        _write("x", target, "A Show")
    assert target.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [target]


def test_mistakes_in_settings_stop_a_scan_before_it_listens(show: Path):
    (show / "show.toml").write_text('[show]\nbit = 24\n[[songs]]\nname = "x"\nbpm = "fast"\n')
    done = run("scan", show)
    assert done.returncode == 2
    assert done.stdout == ""
    first, second = done.stderr.splitlines()
    assert first.startswith('stemaudit: show.toml:2: show.bit: is no key of [show]; did you mean "bits"?')
    assert second.startswith("stemaudit: show.toml:5: songs.bpm: ")


def test_every_line_of_what_is_wrong_says_whose_words_it_is(show: Path):
    """Twenty mistakes in one file, and more: as many lines, all of them alike."""
    (show / "show.toml").write_text(TWENTY.replace("cut-tail", "cut-head"))
    done = run("scan", show)
    lines = done.stderr.splitlines()
    assert (done.returncode, done.stdout) == (2, "")
    assert len(lines) == len(WANTED) > 20
    assert all(line.startswith("stemaudit: show.toml:") for line in lines)


def test_another_settings_file_and_a_set_list(show: Path, tmp_path: Path):
    other = tmp_path / "other.toml"
    other.write_text("[show]\nsample_rate_hz = 44100\n")
    done = run("scan", "--jobs", "1", show, "--settings", other)
    assert done.returncode == 1
    assert "the show's is 44.1 kHz" in " ".join(done.stdout.split())
    night = tmp_path / "night.txt"
    night.write_text("Tin Roof\nPaper Moon\n")
    done = run("scan", "--jobs", "1", show, "--set", night)
    assert done.returncode == 1
    assert "“Paper Moon” stands in the set list “night” (night.txt, line 2)" in " ".join(done.stdout.split())
    assert run("scan", show, "--set", "Tomorrow").returncode == 2
    assert run("scan", show, "--set", " ").returncode == 2
    assert run("scan", show, "--settings", "").returncode == 2
    assert "cannot be read" in run("scan", show, "--settings", tmp_path / "gone.toml").stderr


def test_settings_in_the_place_of_a_set_list_are_told(show: Path, tmp_path: Path):
    (tmp_path / "other.toml").write_text('[[sets]]\nname = "Tonight"\nsongs = ["Tin Roof"]\n')
    done = run("scan", show, "--set", tmp_path / "other.toml")
    assert (done.returncode, done.stdout) == (2, "")
    assert "is a file of settings, no list of songs" in done.stderr
    assert "cannot be read" in run("scan", show, "--set", tmp_path / "gone.toml").stderr


def test_a_song_is_asked_for_by_its_alias(show: Path):
    (show / "show.toml").write_text('[[songs]]\nname = "Tin Roof"\naliases = ["The loud one"]\n')
    done = run("scan", "--jobs", "1", "--json", "-", "--song", "the_loud-one", show)
    assert [song["name"] for song in json.loads(done.stdout)["songs"]] == ["Tin Roof"]


def test_a_song_that_two_entries_describe_stops_a_scan(show: Path):
    (show / "show.toml").write_text('[[songs]]\nname = "Tin Roof"\naliases = ["Night Ferry"]\n')
    for command in ("scan", "load"):
        done = run(command, show)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith('stemaudit: show.toml:1: songs.aliases: "Night Ferry" is another song')


def test_a_waiver_that_has_run_out_is_a_warning_where_its_fault_is_there(show: Path):
    folders.clip(show / "Tin Roof" / "Keys.wav")
    old = '[[waivers]]\nrule = "sample-clipping"\nreason = "fuzz"\nuntil = 2026-01-31\n'
    (show / "show.toml").write_text(old + old.replace("sample-clipping", "dropout"))
    done = run("scan", "--jobs", "1", "--json", "-", show)
    told = [f for f in json.loads(done.stdout)["show_findings"] if f["rule"] == "idle-waiver"]
    assert [(f["severity"], f["measured"]["rule"]) for f in told] == [
        ("warning", "sample-clipping"), ("note", "dropout"),
    ]  # fmt: skip


def test_a_song_scanned_alone_goes_by_its_shows_settings(show: Path):
    (show / "show.toml").write_text("[show]\nsample_rate_hz = 44100\n")
    assert run("scan", "--jobs", "1", show / "Tin Roof").returncode == 1


def test_a_song_scanned_alone_is_not_asked_for_the_others(show: Path):
    """Set lists, entries and waivers of its show's settings are mostly about songs that lie elsewhere."""
    (show / "show.toml").write_text(
        '[show]\nset = "Tonight"\n[[songs]]\nname = "Night Ferry"\n[[sets]]\nname = "Tonight"\n'
        'songs = ["Tin Roof", "Night Ferry"]\n[[waivers]]\nrule = "dropout"\nreason = "there"\n'
    )
    done = run("scan", "--jobs", "1", "--json", "-", show / "Tin Roof")
    told = json.loads(done.stdout)
    assert (done.returncode, told["show_findings"]) == (0, [])
    assert told["show"]["set_list"] is None
    assert run("scan", "--jobs", "1", show).returncode == 0


def test_of_some_songs_no_order_is_told(show: Path):
    for words in ((), ("--song", "Tin Roof", "--song", "Night Ferry")):
        told = json.loads(run("scan", "--jobs", "1", "--json", "-", *words, show).stdout)
        assert (told["show"]["neighbours"] is None) == bool(words)


def test_a_waived_fault_is_no_reason_for_an_exit_code(show: Path):
    folders.clip(show / "Tin Roof" / "Keys.wav")
    assert run("scan", "--jobs", "1", show).returncode == 1
    rules = {
        f["rule"]
        for f in json.loads(run("scan", "--jobs", "1", "--json", "-", show).stdout)["songs"][0]["findings"]
    }
    waivers = "".join(
        f'[[waivers]]\nrule = "{rule}"\nsong = "Tin*"\nreason = "fuzz"\n'
        for rule in sorted(rules | {"sample-clipping"})
    )
    (show / "show.toml").write_text(waivers)
    done = run("scan", "--jobs", "1", "--json", "-", show)
    found = [
        f
        for song in json.loads(done.stdout)["songs"]
        for f in song["findings"]
        if f["rule"] == "sample-clipping"
    ]
    assert [f["waived"] for f in found] == [{"reason": "fuzz", "until": None}]
    assert done.returncode == 0
