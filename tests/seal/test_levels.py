"""A show against one of its songs, or against the folder that it lies in."""

from __future__ import annotations

from audit.seal.levels import Level, levels_apart

SHOW = {
    "Night Ferry/Bass.wav": 100, "Night Ferry/Keys.wav": 200,
    "Tin Roof/Bass.wav": 300, "Tin Roof/Keys.wav": 400,
}  # fmt: skip
SONG = {"Bass.wav": 300, "Keys.wav": 400}
NAMES = ("Harbour Lights Tour", "Spare")


def under(folder: str) -> dict[str, int]:
    return {f"{folder}/{path}": size for path, size in SHOW.items()}


def test_a_song_of_the_show_is_known_by_its_sizes():
    assert levels_apart(SHOW, SONG, NAMES) == Level(of_old=True, folder="Tin Roof")
    assert levels_apart(SONG, SHOW, NAMES) == Level(of_old=False, folder="Tin Roof")


def test_of_songs_alike_the_name_tells():
    plain = dict.fromkeys(SHOW, 1)
    song = dict.fromkeys(SONG, 1)
    assert levels_apart(plain, song, ("Show", "night ferry")) == Level(of_old=True, folder="Night Ferry")


def test_the_folder_above_is_told():
    assert levels_apart(SHOW, under("Tour"), NAMES) == Level(of_old=False, folder="Tour")
    assert levels_apart(SHOW, under("2026/Tour"), NAMES) == Level(of_old=False, folder="2026/Tour")
    assert levels_apart(under("Tour"), SHOW, NAMES) == Level(of_old=True, folder="Tour")


def test_half_of_the_names_are_enough_and_less_is_not():
    half = {
        "Tour/Night Ferry/Bass.wav": 1,
        "Tour/Night Ferry/Keys.wav": 1,
        "Tour/A/B.wav": 1,
        "Tour/A/C.wav": 1,
    }
    assert levels_apart(SHOW, half, NAMES) == Level(of_old=False, folder="Tour")
    less = {"Tour/Night Ferry/Bass.wav": 1, "Tour/A/A.wav": 1, "Tour/A/B.wav": 1, "Tour/A/C.wav": 1}
    assert levels_apart(SHOW, less, NAMES) is None


def test_copies_and_strangers_lie_level():
    assert levels_apart(SHOW, SHOW, NAMES) is None
    assert levels_apart(SHOW, {"Night Ferry/Bass.wav": 1, "Tour/Night Ferry/Keys.wav": 1}, NAMES) is None
    assert levels_apart(SHOW, {"Opener/Strings.wav": 5}, NAMES) is None
    assert levels_apart({}, SHOW, NAMES) is None
