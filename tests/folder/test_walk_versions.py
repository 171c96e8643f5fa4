"""Versions of a song: which folder is current, which are passed over, which stems belong together."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.facts import Song
from audit.folder.walk import walk
from tests.folder.trees import passed, plant, songs


def only_song(path: Path) -> Song:
    (song,) = walk(path).songs
    return song


@pytest.mark.parametrize(
    ("folders", "current"),
    [
        (["v1", "v2"], "v2"),
        (["v2", "v10"], "v10"),
        (["2026-04-30", "2026-05-01"], "2026-05-01"),
        (["Mix 3", "Mix 4"], "Mix 4"),
        (["v1", "v2", "FINAL"], "FINAL"),
        (["old", "v1"], "v1"),
        (["old", "Stems"], "Stems"),
        (["Stems v1", "Stems v2"], "Stems v2"),
        (["Rain v1", "Rain v2"], "Rain v2"),
        (["old"], "old"),
    ],
)
def test_newest_version_is_current(tmp_path: Path, folders: list[str], current: str):
    """By name, whatever the dates of the files say: here the newest name has the oldest files."""
    for age_days, folder in enumerate(folders):
        plant(tmp_path / "Rain", f"{folder}/Bass.wav", f"{folder}/Click.wav", age_days=age_days)
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": [f"{current}/Bass.wav", f"{current}/Click.wav"]}
    assert {entry.path for entry in show.passed_over} == set(folders) - {current}
    assert all(entry.song == "Rain" and not entry.stray for entry in show.passed_over)


def test_version_is_told(tmp_path: Path):
    song = only_song(plant(tmp_path / "Rain", "v1/Bass.wav", "v2/Bass.wav", "v3/Bass.wav"))
    assert (song.version, song.older_versions) == ("v3", ("v1", "v2"))
    assert only_song(plant(tmp_path / "B", "Stems/v1/Bass.wav", "Stems/v2/Bass.wav")).version == "Stems/v2"
    plain = only_song(plant(tmp_path / "C", "Bass.wav"))
    assert (plain.version, plain.older_versions) == (None, ())


def test_versions_whose_names_do_not_compare_go_by_date(tmp_path: Path):
    plant(tmp_path / "Rain", "v2/Bass.wav", age_days=3)
    plant(tmp_path / "Rain", "2026-05-01/Bass.wav", age_days=9)
    show = walk(tmp_path / "Rain")
    assert show.songs[0].version == "v2"
    assert "dates" in passed(show)["2026-05-01"].reason


def test_files_beside_an_archive_are_current(tmp_path: Path):
    for name in ("old", "Archive", "Backup", "_old", "Reference", "do not use", "Old Mixes", "unused stems"):
        root = plant(tmp_path / name / "Rain", "Bass.wav", "Click.wav", age_days=9)
        plant(root, f"{name}/Bass.wav", age_days=0)
        show = walk(root)
        assert songs(show) == {"Rain": ["Bass.wav", "Click.wav"]}, name
        assert "put aside" in passed(show)[name].reason
        assert (show.songs[0].version, show.songs[0].older_versions) == (None, ())


def test_files_beside_an_older_version_are_current(tmp_path: Path):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", age_days=1)
    plant(tmp_path / "Rain", "v1/Bass.wav", age_days=5)
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": ["Bass.wav", "Click.wav"]}
    assert show.songs[0].older_versions == ("v1",)
    assert "v1" in passed(show)


@pytest.mark.parametrize("age_days", [0, 5, 9])
@pytest.mark.parametrize("version", ["v2", "FINAL", "Rain v3", "2026-05-01", "Mix 2", "rev B", "NEW", "v1.1"])
def test_version_whose_name_comes_after_wins_over_loose_files_whatever_the_dates(
    tmp_path: Path, version: str, age_days: int
):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", age_days=5)
    plant(tmp_path / "Rain", f"{version}/Bass.wav", f"{version}/Click.wav", age_days=age_days)
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": [f"{version}/Bass.wav", f"{version}/Click.wav"]}
    assert show.songs[0].version == version
    assert {path for path, entry in passed(show).items() if entry.stem} == {"Bass.wav", "Click.wav"}
    assert "by its name" in passed(show)["Bass.wav"].reason


@pytest.mark.parametrize("version", ["v1", "old v2", "rev A", "draft 3", "Mix 1"])
@pytest.mark.parametrize("age_days", [5, 9])
def test_version_whose_name_does_not_come_after_loses_against_loose_files(
    tmp_path: Path, version: str, age_days: int
):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", age_days=5)
    plant(tmp_path / "Rain", f"{version}/Bass.wav", f"{version}/Click.wav", age_days=age_days)
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": ["Bass.wav", "Click.wav"]}
    assert passed(show)[version].holds_audio


def test_loose_files_of_a_later_mark_win(tmp_path: Path):
    plant(tmp_path / "Rain", "Bass v3.wav", "Click v3.wav", "v2/Bass.wav", "v2/Click.wav")
    assert songs(walk(tmp_path / "Rain")) == {"Rain": ["Bass v3.wav", "Click v3.wav"]}


def test_a_version_of_one_stem_does_not_stand_for_the_song(tmp_path: Path):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", "Keys.wav", "v2/Bass.wav")
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": ["Bass.wav", "Click.wav", "Keys.wav"]}
    assert passed(show)["v2"].holds_audio


def test_version_without_telling_name_that_is_newer_in_every_file_wins_over_loose_files(tmp_path: Path):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", age_days=5)
    plant(tmp_path / "Rain", "v1/Bass.wav", "v1/Click.wav", age_days=4)
    show = walk(tmp_path / "Rain")
    assert songs(show) == {"Rain": ["v1/Bass.wav", "v1/Click.wav"]}
    assert show.songs[0].version == "v1"
    assert all(passed(show)[file].stem for file in ("Bass.wav", "Click.wav"))


@pytest.mark.parametrize("age_days", [5, 6])
def test_such_a_version_that_is_not_newer_in_every_file_does_not(tmp_path: Path, age_days: int):
    plant(tmp_path / "Rain", "Bass.wav", "Click.wav", age_days=5)
    plant(tmp_path / "Rain", "v1/Bass.wav", age_days=1)
    plant(tmp_path / "Rain", "v1/Click.wav", age_days=age_days)
    assert songs(walk(tmp_path / "Rain")) == {"Rain": ["Bass.wav", "Click.wav"]}


@pytest.mark.parametrize(
    ("files", "archive"),
    [
        (["Old/Bass.wav", "Old/Click.wav"], "Old"),
        (["Old/v1/Bass.wav", "Old/v2/Bass.wav"], "Old"),
        (["Old Stems/Bass.wav"], "Old Stems"),
        (["Bass.wav", "Old/Bass.wav"], None),
        (["Stems/Bass.wav", "Old/Bass.wav"], None),
        (["Audio Files/Bass.wav", "Old/Bass.wav"], None),
        (["Bass.wav"], None),
    ],
)
def test_a_song_from_an_archive_alone_is_told(tmp_path: Path, files: list[str], archive: str | None):
    plant(tmp_path / "Show" / "Rain", *files)
    plant(tmp_path / "Show", "Snow/Bass.wav", "Ice/Bass.wav")
    (rain,) = (song for song in walk(tmp_path / "Show").songs if song.name == "Rain")
    assert rain.archive == archive


@pytest.mark.parametrize(
    ("one", "two", "alike"),
    [
        ("Rain", "Rain v2", True),
        ("03 - Rain", "04 - Rain FINAL", True),
        ("Rain 2026-05-01", "Rain 2026-06-01", True),
        ("Rain", "Rain 2", False),
        ("Rain", "Rain Reprise", False),
        ("Rain", "Snow v2", False),
    ],
)
def test_folders_that_differ_by_a_version_mark_are_versions_of_one_song(
    tmp_path: Path, one: str, two: str, alike: bool
):
    first, second = walk(plant(tmp_path / "Show", f"{one}/Bass.wav", f"{two}/Bass.wav")).songs
    assert (first.title_key == second.title_key) is alike
    if alike:
        assert first.title_mark != second.title_mark


def test_songs_of_two_versions_of_a_show_are_versions_too(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "v1/A/Bass.wav", "v1/B/Bass.wav", "v2/A/Bass.wav", "v2/B/Bass.wav"))
    assert [(song.title_key, song.title_mark.scheme, song.title_mark.numbers[0]) for song in show.songs] == [
        ("a", "v", 1), ("b", "v", 1), ("a", "v", 2), ("b", "v", 2),
    ]  # fmt: skip


def test_archive_beside_songs_is_passed_over(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "A/Bass.wav", "B/Bass.wav", "Old/A/Bass.wav", "Old/C/Bass.wav"))
    assert list(songs(show)) == ["A", "B"]
    assert list(passed(show)) == ["Old"]


def test_two_versions_of_a_whole_show_are_both_scanned(tmp_path: Path):
    show = walk(plant(tmp_path / "Show", "v1/A/Bass.wav", "v1/B/Bass.wav", "v2/A/Bass.wav", "v2/B/Bass.wav"))
    assert list(songs(show)) == ["v1/A", "v1/B", "v2/A", "v2/B"]


def versions_of(tmp_path: Path, *files: str) -> list[set[str]]:
    """The stems that share a key with others, as sets of their files."""
    stems = only_song(plant(tmp_path / "Rain", *files)).stems
    by_key: dict[str, set[str]] = {}
    for stem in stems:
        by_key.setdefault(stem.version_key, set()).add(stem.file)
    return [alike for alike in by_key.values() if len(alike) > 1]


@pytest.mark.parametrize(
    "files",
    [
        ["Bass.wav", "Bass v2.wav"],
        ["Bass v1.wav", "Bass v2.wav"],
        ["Bass.wav", "Bass (1).wav"],
        ["Bass.wav", "Bass - Copy.wav"],
        ["Bass.wav", "Bass_FINAL.wav"],
        ["03 Bass.wav", "04 Bass v2.wav"],
        ["Rain - Bass.wav", "Bass v2.wav"],
        ["Bass 2026-05-01.wav", "Bass 2026-05-02.wav"],
        ["lead_vox_v1.wav", "Lead Vox v2.wav"],
    ],
)
def test_versions_of_one_stem_share_a_key(tmp_path: Path, files: list[str]):
    assert versions_of(tmp_path, *files, "Click.wav") == [set(files)]


@pytest.mark.parametrize(
    "files",
    [
        ["Gtr 1.wav", "Gtr 2.wav"],
        ["01 Gtr.wav", "02 Gtr.wav"],
        ["1 Gtr.wav", "2 Gtr.wav", "3 Gtr.wav"],
        ["Gtr (1).wav", "Gtr (2).wav"],
        ["Keys A.wav", "Keys B.wav"],
        ["Bass (DI).wav", "Bass (Amp).wav"],
        ["BGV 1.wav", "BGV 2.wav"],
        ["01 Gtr v2.wav", "02 Gtr v2.wav"],
        ["Click.wav", "Click+LTC.wav"],
    ],
)
def test_different_stems_share_none(tmp_path: Path, files: list[str]):
    assert versions_of(tmp_path, *files) == []


def test_numbered_stems_with_a_later_version(tmp_path: Path):
    assert versions_of(tmp_path, "01 Gtr.wav", "02 Gtr.wav", "02 Gtr v2.wav") == [
        {"02 Gtr.wav", "02 Gtr v2.wav"}
    ]
