"""Where clips are written: never in the show, under names that any system takes, whole or not at all."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.errors import OutputError
from audit.hear.caps import MUSIC
from audit.hear.clip import Clip
from audit.hear.shelf import check_folder, clip_name, song_folder, write_clip

CLIP = Clip(
    samples=np.full((4800, 2), 0.1, dtype=np.float32), rate_hz=48_000, place_frame=4_005_888, place_s=4.0,
    caps=MUSIC, down_db=0.0, channels=2, taken="",
)  # fmt: skip


def touched(*paths: Path) -> Path:
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")
    return paths[0]


@pytest.fixture
def stem(tmp_path) -> Path:
    tour = tmp_path / "Tour"
    return touched(tour / "Night Ferry" / "Bass.wav", tour / "Tin Roof" / "Bass.wav")


@pytest.mark.parametrize("inside", ["Tour", "Tour/stemaudit-out", "Tour/Night Ferry", "Tour/Night Ferry/a/b"])
def test_the_shows_folder_is_refused(tmp_path, stem, inside):
    with pytest.raises(OutputError, match="--out"):
        check_folder(tmp_path / inside, stem)


@pytest.mark.parametrize("outside", ["", "stemaudit-out", "Tour clips"])
def test_folders_beside_the_show_are_taken(tmp_path, stem, outside):
    check_folder(tmp_path / outside, stem)


def test_a_lone_songs_neighbours_are_taken(tmp_path):
    stem = touched(tmp_path / "Night Ferry" / "Bass.wav")
    touched(tmp_path / "stemaudit-out" / "a clip of before.wav", tmp_path / "Notes" / "list.txt")
    check_folder(tmp_path / "stemaudit-out", stem)
    with pytest.raises(OutputError):
        check_folder(tmp_path / "Night Ferry" / "clips", stem)


def test_shows_side_by_side_are_not_one_show(tmp_path, stem):
    touched(tmp_path / "Winter Run" / "Song" / "Bass.wav")
    check_folder(tmp_path / "stemaudit-out", stem)


def test_folders_that_only_hold_files_belong_to_the_song(tmp_path):
    stem = touched(tmp_path / "Tour" / "Night Ferry" / "Stems" / "v2" / "Bass.wav")
    touched(tmp_path / "Tour" / "Tin Roof" / "Stems" / "Bass.wav")
    assert song_folder(stem) == tmp_path / "Tour" / "Night Ferry"
    for inside in ("Tour/Night Ferry/x", "Tour/stemaudit-out"):
        with pytest.raises(OutputError):
            check_folder(tmp_path / inside, stem)


def test_a_link_into_the_show_is_the_show(tmp_path, stem):
    (tmp_path / "link").symlink_to(stem.parent, target_is_directory=True)
    with pytest.raises(OutputError):
        check_folder(tmp_path / "link", stem)


def test_a_file_is_no_folder(tmp_path, stem):
    with pytest.raises(OutputError, match="is a file"):
        check_folder(touched(tmp_path / "here"), stem)


def test_the_name_says_the_place(tmp_path, stem):
    assert clip_name(stem, 83.456, CLIP) == "Night Ferry - Bass - 1m23.456s - place at 4s.wav"


@pytest.mark.parametrize(
    "name",
    ["a/../b", "nul", "x" * 250, "\x1b[2J", "rm -rf $HOME;`x`", "\udcff", "..", "é̂ Ü 海", "\"quote'", "-x"],
)
def test_hostile_names_make_plain_ones(tmp_path, name):
    folder = tmp_path / "Song"
    folder.mkdir()
    made = clip_name(folder / f"{name.replace('/', ':')}.wav", 1.0, CLIP)
    assert re.fullmatch(r"[\w()+& .-]+", made)
    assert len(made) < 140
    assert made.endswith("- 0m01.000s - place at 4s.wav")
    assert write_clip(CLIP, tmp_path / "out", made).is_file()


def test_the_file_is_whole_or_not_there(tmp_path, monkeypatch):
    out = tmp_path / "out"
    path = write_clip(CLIP, out, "clip.wav")
    samples, rate = soundfile.read(path, always_2d=True)
    assert (rate, soundfile.info(path).subtype) == (48_000, "PCM_24")
    assert np.abs(samples - CLIP.samples).max() < 2e-7
    before = path.read_bytes()

    def full(*args: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(soundfile, "write", full)
    with pytest.raises(OutputError, match="No space left"):
        write_clip(CLIP, out, "clip.wav")
    assert path.read_bytes() == before
    assert [entry.name for entry in out.iterdir()] == ["clip.wav"]


def test_a_folder_in_the_way_is_told(tmp_path):
    (tmp_path / "clip.wav").mkdir()
    with pytest.raises(OutputError, match="is a folder"):
        write_clip(CLIP, tmp_path, "clip.wav")
