"""A song called "Demo" or "03 - Old" is audited; an archive beside the songs is set aside, and is told."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.folder.walk import walk
from tests.folder.trees import passed, plant, songs

NAMES = ("Demo", "Trash", "Rejected", "Samples", "Session", "Unused")
SONG = ("Click.wav", "Bass.wav")


def show(root: Path, *folders: str, files: tuple[str, ...] = SONG) -> Path:
    return plant(root / "Show", *(f"{folder}/{file}" for folder in folders for file in files))


@pytest.mark.parametrize("name", ["03 - Old", "10 Unused printed", "04. Demo", "7_Trash", "05 Samples"])
def test_a_numbered_folder_beside_songs_is_a_song(tmp_path: Path, name: str):
    found = walk(show(tmp_path, "01 - Rain", "02 - Snow", name, files=("01.wav",)))
    assert set(songs(found)) == {"01 - Rain", "02 - Snow", name}
    assert not found.passed_over


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("files", [SONG, ("Click.wav",), ("LTC.wav",), ("Stems/Bass.wav", "Stems/Keys.wav")])
def test_one_word_with_a_songs_stems_beside_unnumbered_songs_is_a_song(
    tmp_path: Path, name: str, files: tuple[str, ...]
):
    show(tmp_path, "Rain", "Snow")
    found = walk(show(tmp_path, name, files=files))
    assert set(songs(found)) == {"Rain", "Snow", name}
    assert set(songs(found)[name]) == set(files)
    assert not found.passed_over


def test_a_show_of_nothing_but_such_songs(tmp_path: Path):
    assert list(songs(walk(show(tmp_path, "01 Demo", "02 Trash", "03 Samples")))) == [
        "01 Demo", "02 Trash", "03 Samples",
    ]  # fmt: skip


@pytest.mark.parametrize("name", ["Old", "Backup", "Old Stems", "Demo 2", "Samples"])
def test_an_archive_among_numbered_songs_is_set_aside(tmp_path: Path, name: str):
    found = walk(show(tmp_path, "01 Rain", "02 Snow", name))
    assert set(songs(found)) == {"01 Rain", "02 Snow"}
    assert passed(found)[name].holds_audio


@pytest.mark.parametrize(
    ("folder", "files"),
    [
        ("Old", ("Rain/Click.wav", "Snow/Click.wav")),  # old songs
        ("Old", SONG),
        ("Archive", SONG),
        ("Backup", SONG),
        ("00 Archive", ("Rain/Click.wav", "Snow/Click.wav")),
        ("Old Songs", ("Rain/Click.wav",)),
        ("Reference", ("Mix.wav",)),
        ("Trash", ("Audio 1.wav", "Audio 2.wav")),
        ("Old Stems", SONG),
        ("Audio Files", SONG),
    ],
)
def test_an_archive_beside_unnumbered_songs_is_set_aside(tmp_path: Path, folder: str, files: tuple[str, ...]):
    show(tmp_path, "Rain", "Snow")
    found = walk(show(tmp_path, folder, files=files))
    assert set(songs(found)) == {"Rain", "Snow"}
    assert [(entry.path, entry.holds_audio) for entry in found.passed_over] == [(folder, True)]


@pytest.mark.parametrize("aside", ["Old", "01 Old", "Demo", "Samples"])
@pytest.mark.parametrize("current", ["Click.wav", "Stems/Click.wav", "v2/Click.wav"])
def test_inside_a_song_it_stays_an_archive(tmp_path: Path, current: str, aside: str):
    for root in (tmp_path / "Rain", tmp_path / "Show" / "Rain"):
        plant(root, current, f"{aside}/Click.wav")
    plant(tmp_path / "Show", "Snow/Click.wav")
    assert songs(walk(tmp_path / "Rain")) == {"Rain": [current]}
    found = walk(tmp_path / "Show")
    assert songs(found) == {"Rain": [current], "Snow": ["Click.wav"]}
    assert passed(found)[f"Rain/{aside}"].holds_audio
