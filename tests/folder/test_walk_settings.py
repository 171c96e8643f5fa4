"""What settings say of a show's folder: own names for roles, who hears them, which version is current."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.errors import SettingsError, UsageError
from audit.facts import Role
from audit.folder.walk import walk
from audit.settings.model import RolePattern, ShowSettings, SongSettings
from tests.folder.trees import passed, plant, songs, stem


def settings(**said) -> ShowSettings:
    return ShowSettings(source="show.toml", **said)


def named(*patterns: tuple[str, tuple[Role, ...]]) -> ShowSettings:
    return settings(roles=tuple(RolePattern(pattern=pattern, roles=roles) for pattern, roles in patterns))


def test_own_names_go_before_what_the_words_say(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Xyzzy 1.wav", "Ebb/Bass.wav", "Ebb/Audio Click.wav")
    assert stem(walk(show), "Xyzzy 1.wav").role_is_guess
    walked = walk(show, settings=named(("xyzzy*", (Role.STRINGS,)), ("Bass.wav", (Role.SYNTH,))))
    found = {each.file: (each.role, each.role_is_guess) for each in walked.songs[0].stems}
    assert found == {
        "Xyzzy 1.wav": (Role.STRINGS, False),
        "Bass.wav": (Role.SYNTH, False),
        "Audio Click.wav": (Role.CLICK, False),
    }


def test_the_first_pattern_that_fits_counts(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Pad A.wav")
    both = named(("Pad ?", (Role.STRINGS,)), ("Pad*", (Role.KEYS,)))
    assert stem(walk(show, settings=both), "Pad A.wav").role is Role.STRINGS


def test_one_role_a_channel(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Playback.wav")
    found = stem(walk(show, settings=named(("playback", (Role.CLICK, Role.KEYS)))), "Playback.wav")
    assert (found.role, found.channel_roles) == (Role.KEYS, (Role.CLICK, Role.KEYS))


def test_who_hears_a_stem(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Guide.wav", "Ebb/Keys.wav")
    usual = walk(show)
    assert not stem(usual, "Guide.wav").is_heard(Role.GUIDE)
    moved = walk(show, settings=settings(audience={Role.GUIDE: True, Role.KEYS: False}))
    assert stem(moved, "Guide.wav").is_heard(Role.GUIDE)
    assert not stem(moved, "Keys.wav").is_heard(Role.KEYS)


def version(name: str, song: str = "Ebb") -> ShowSettings:
    return settings(songs=(SongSettings(name=song, version=name),))


def test_the_settings_name_the_version_folder(tmp_path: Path):
    show = plant(
        tmp_path, "01 - Ebb/v1/Bass.wav", "01 - Ebb/v2/Bass.wav", "01 - Ebb/v2/Keys.wav", "02 - Flow/Bass.wav"
    )
    assert songs(walk(show))["01 - Ebb"] == ["v2/Bass.wav", "v2/Keys.wav"]
    walked = walk(show, settings=version("V1"))
    assert songs(walked)["01 - Ebb"] == ["v1/Bass.wav"]
    assert walked.songs[0].version == "v1"
    assert passed(walked)["01 - Ebb/v2"].reason == "another version; v1 is current (by the settings)"


def test_the_settings_name_a_version_beside_loose_stems(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Bass.wav", "Ebb/Keys.wav", "Ebb/v1/Bass.wav", "Flow/Bass.wav")
    assert songs(walk(show))["Ebb"] == ["Bass.wav", "Keys.wav"]
    walked = walk(show, settings=version("v1"))
    assert songs(walked)["Ebb"] == ["v1/Bass.wav"]
    assert passed(walked)["Ebb/Bass.wav"].reason == "the version v1 counts instead (by the settings)"


def test_a_version_that_is_not_there_changes_nothing(tmp_path: Path):
    show = plant(tmp_path, "Ebb/v1/Bass.wav", "Ebb/v2/Bass.wav", "Flow/Bass.wav")
    assert songs(walk(show, settings=version("v7")))["Ebb"] == ["v2/Bass.wav"]


@pytest.mark.parametrize(("newer", "current"), [(1, "v2"), (2, "v3"), (4, "v3")])
def test_the_newest_version_counts_where_it_is_complete(tmp_path: Path, newer: int, current: str):
    """Complete: half of the fullest version's files, and more."""
    names = ("Bass", "Keys", "Drums", "Click")
    files = [f"Ebb/v2/{name}.wav" for name in names] + [f"Ebb/v3/{name}.wav" for name in names[:newer]]
    walked = walk(plant(tmp_path, *files, "Flow/Bass.wav"))
    (song,) = [each for each in walked.songs if each.name == "Ebb"]
    assert song.version == current
    assert song.unfinished_version == ("v3" if current == "v2" else None)
    if current == "v2":
        assert passed(walked)["Ebb/v3"].reason == "newer, but holds only 1 of the 4 files of v2, which counts"


@pytest.mark.parametrize(
    ("wanted", "current"), [("v2", ["Bass v2.wav"]), ("V02", ["Bass v2.wav"]), ("v9", [])]
)
def test_the_settings_name_a_mark_in_the_names(tmp_path: Path, wanted: str, current: list[str]):
    show = plant(tmp_path, "Ebb/Bass v2.wav", "Ebb/Bass v3.wav", "Flow/Bass.wav")
    walked = walk(show, settings=version(wanted))
    assert [each.file for each in walked.songs[0].stems if each.is_wanted] == current


def test_the_settings_file_is_no_stray(tmp_path: Path):
    show = plant(tmp_path, "Ebb/Bass.wav", "Flow/Bass.wav", "show.toml", "Ebb/show.toml")
    entries = passed(walk(show))
    assert (entries["show.toml"].reason, entries["show.toml"].stray) == ("the show's settings", False)
    assert entries["Ebb/show.toml"].stray


@pytest.mark.parametrize(
    "wanted", ["Ferry", "the ferry song", "night_ferry", "02-Night-Ferry", "7. Night Ferry"]
)
def test_a_song_is_asked_for_by_any_of_its_names(tmp_path: Path, wanted: str):
    show = plant(tmp_path, "01 - Low Tide/Bass.wav", "02 - Night Ferry/Bass.wav")
    said = settings(songs=(SongSettings(name="Night Ferry", aliases=("Ferry", "The Ferry Song")),))
    assert [song.name for song in walk(show, songs=(wanted,), settings=said).songs] == ["02 - Night Ferry"]


def test_a_slip_in_an_alias_gets_the_song_it_is_for(tmp_path: Path):
    show = plant(tmp_path, "01 - Low Tide/Bass.wav", "02 - Night Ferry/Bass.wav")
    said = settings(songs=(SongSettings(name="Night Ferry", aliases=("Harbour",)),))
    with pytest.raises(UsageError, match="did you mean 02 - Night Ferry"):
        walk(show, songs=("Harbor",), settings=said)


def test_two_songs_that_differ_by_their_separators_are_two(tmp_path: Path):
    show = plant(tmp_path, "Night Ferry/Bass.wav", "Night-Ferry/Bass.wav")
    for name in ("Night Ferry", "Night-Ferry"):
        assert [song.name for song in walk(show, songs=(name,)).songs] == [name]
    with pytest.raises(UsageError, match="several songs have that name"):
        walk(show, songs=("night_ferry",))


def test_two_entries_for_one_song_and_an_alias_of_another_stop_a_walk(tmp_path: Path):
    show = plant(tmp_path, "01 - Low Tide/Bass.wav", "02 - Night Ferry/Bass.wav")
    said = settings(
        songs=(
            SongSettings(name="Night Ferry", aliases=("Low Tide",), line=2),
            SongSettings(name="02 - Night Ferry", line=7),
        )
    )
    with pytest.raises(SettingsError) as caught:
        walk(show, settings=said)
    first, second = str(caught.value).splitlines()
    assert first.startswith("show.toml:2: songs.name: ")
    assert second.startswith("show.toml:2: songs.aliases: ")


@pytest.mark.parametrize(
    ("folder", "holds"),
    [
        ("Night Ferry v4", True),
        ("02 - night_ferry_FINAL", True),
        ("02 - Night Ferry 2026-05-01", True),
        ("Night Ferry (2)", False),  # a second one, or a second song
        ("Night Ferry Reprise", False),
    ],
)
def test_what_is_said_of_a_song_holds_for_its_next_version(tmp_path: Path, folder: str, holds: bool):
    show = plant(tmp_path, "01 - Low Tide/Bass.wav", f"{folder}/v1/Bass.wav", f"{folder}/v2/Bass.wav")
    said = settings(songs=(SongSettings(name="Night Ferry", version="v1"),))
    walked = {song.name: song for song in walk(show, settings=said).songs}
    assert (walked[folder].wanted_version == "v1") is holds
    assert walked[folder].version == ("v1" if holds else "v2")
