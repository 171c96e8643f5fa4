"""Patterns and names in settings: what they fit."""

from __future__ import annotations

import unicodedata

import pytest

from audit.errors import SettingsError
from audit.facts import Role
from audit.settings.beside import check_songs
from audit.settings.model import ShowSettings, SongSettings
from audit.settings.naming import (
    SongRegister,
    crew_roles,
    fits_stem,
    settings_of_song,
    song_names,
)
from audit.settings.patterns import fits, stem_names


@pytest.mark.parametrize(
    ("pattern", "name", "fit"),
    [
        ("Pad*", "Pad 1.wav", True),
        ("pad*", "PAD.WAV", True),
        ("Pad", "Pad 1.wav", False),
        ("Pad ?", "Pad 1.wav", True),  # by the name without its extension
        ("Pad ?", "Pad 12.wav", False),
        ("[old] Pad", "[old] Pad.wav", True),  # brackets are brackets
        ("[old] Pad", "o Pad.wav", False),
        ("Bass.wav", "Audio/Bass.wav", True),
        ("Audio/*", "Audio/Bass.wav", True),
        ("Other/*", "Audio/Bass.wav", False),
        ("Straße*", "STRASSE.wav", True),
        (unicodedata.normalize("NFD", "Bé*"), unicodedata.normalize("NFC", "Bébé.wav"), True),
        ("a+b(c).wav", "a+b(c).wav", True),
        ("*", "anything.flac", True),
        ("lead_vox*", "Lead Vox 2.wav", True),
        ("Lead-Vox.wav", "lead_vox.wav", True),
        ("LeadVox", "Lead Vox.wav", False),
        ("Gtr ???", "Gtr.wav", False),  # the dot before an extension stands between no words
        ("Gtr ???", "Gtr_DI2.wav", True),
    ],
)
def test_patterns(pattern: str, name: str, fit: bool):
    assert fits(pattern, stem_names(name)) is fit


def test_a_role_is_a_name_too():
    assert fits_stem(["lead vocal"], "LV main.wav", [Role.LEAD_VOCAL])
    assert not fits_stem(["lead vocal"], "BGV.wav", [Role.BACKING_VOCALS])


def test_songs_are_known_with_and_without_their_number():
    ferry = SongSettings(name="Night Ferry", aliases=("Ferry",))
    settings = ShowSettings(source="show.toml", songs=(ferry, SongSettings(name="07 - Opener")))
    assert settings_of_song(settings, "03 - night ferry", "night ferry") is ferry
    assert settings_of_song(settings, "07 - Opener", "Opener") is settings.songs[1]
    assert settings_of_song(settings, "08 - Opener", "Opener") == SongSettings()
    assert song_names("03 - Night Ferry", "Night Ferry", ferry) == (
        "03 - Night Ferry",
        "Night Ferry",
        "Ferry",
    )


def test_what_is_said_of_a_song_holds_for_its_next_version():
    ferry, other = SongSettings(name="Night Ferry"), SongSettings(name="Night Ferry v4")
    settings = ShowSettings(source="show.toml", songs=(ferry,))
    name, title = "03 - Night_Ferry v4", "Night_Ferry v4"
    assert settings_of_song(settings, name, title, "Night_Ferry") is ferry
    assert settings_of_song(settings, name, title) == SongSettings()
    own = ShowSettings(source="show.toml", songs=(ferry, other))
    assert settings_of_song(own, name, title, "Night_Ferry") is other
    check_songs(own, [(name, title, "Night_Ferry"), ("02 - Night Ferry", "Night Ferry", "")])
    check_songs(settings, [(name, title, "Night_Ferry"), ("02 - Night Ferry", "Night Ferry", "")])


def test_the_full_name_goes_before_the_title():
    numbered, bare = SongSettings(name="07 - Opener"), SongSettings(name="Opener")
    settings = ShowSettings(source="show.toml", songs=(bare, numbered))
    assert settings_of_song(settings, "07 - Opener", "Opener") is numbered
    assert settings_of_song(settings, "08 - Opener", "Opener") is bare


def test_who_hears_a_role():
    assert crew_roles(ShowSettings()) == (Role.CLICK, Role.GUIDE, Role.TIMECODE)
    moved = ShowSettings(source="x", audience={Role.GUIDE: True, Role.KEYS: False})
    assert set(crew_roles(moved)) == {Role.CLICK, Role.TIMECODE, Role.KEYS}


INTROS = [("01 - Intro", "Intro"), ("09 - Intro", "Intro"), ("02 - Night Ferry", "Night Ferry")]


def entries(*songs: SongSettings) -> ShowSettings:
    return ShowSettings(source="show.toml", songs=songs)


@pytest.mark.parametrize(
    ("wanted", "songs"),
    [
        ("Intro", ("01 - Intro", "09 - Intro")),
        ("09_intro", ("09 - Intro",)),
        ("3. Night-Ferry", ("02 - Night Ferry",)),
        ("Nightferry", ()),
    ],
)
def test_one_register_finds_songs_for_all(wanted: str, songs: tuple[str, ...]):
    register = SongRegister((name, song_names(name, title)) for name, title in INTROS)
    assert register.named(wanted) == songs


@pytest.mark.parametrize(
    ("wanted", "songs"),
    [
        ("Night Ferry", ("night_ferry_FINAL",)),
        ("2) night ferry", ("night_ferry_FINAL",)),
        ("Rain", ("Rain",)),  # the full name goes before
        ("Rain (old)", ("Rain (old)",)),
        ("Snow", ("Snow v1", "Snow v2")),  # which one is not known
        ("Salt & Iron", ("Salt and Iron",)),
        ("Ferry", ()),
    ],
)
def test_a_version_mark_may_be_left_out(wanted: str, songs: tuple[str, ...]):
    titles = {
        "night_ferry_FINAL": "night ferry", "Rain": "rain", "Rain (old)": "rain", "Snow v1": "snow",
        "Snow v2": "snow", "Salt and Iron": "salt and iron",
    }  # fmt: skip
    register = SongRegister(((name, song_names(name, name)) for name in titles), titles)
    assert register.named(wanted) == songs


@pytest.mark.parametrize(
    ("songs", "words"),
    [
        ((SongSettings(name="Night Ferry", line=3), SongSettings(name="02 - Night Ferry", line=9)),
         'show.toml:3: songs.name: "Night Ferry" is the song "02 - Night Ferry", which "02 - Night Ferry" in '
         "line 9 describes: keep one"),
        ((SongSettings(name="night_ferry", line=3), SongSettings(name="02-Night-Ferry", line=9)),
         'show.toml:3: songs.name: "night_ferry" is the song'),
        ((SongSettings(name="02 - Night Ferry", aliases=("Opening", "Intro"), line=4),),
         'show.toml:4: songs.aliases: "Intro" is another song, "01 - Intro"'),
        ((SongSettings(name="Intro", aliases=("02 night ferry",), line=4),),
         'show.toml:4: songs.aliases: "02 night ferry" is another song'),
    ],
)  # fmt: skip
def test_what_only_the_folders_show_to_be_a_mistake(songs: tuple[SongSettings, ...], words: str):
    with pytest.raises(SettingsError) as caught:
        check_songs(entries(*songs), [(*song, "") for song in INTROS])
    (line,) = str(caught.value).splitlines()
    assert line.startswith(words)


@pytest.mark.parametrize(
    "songs",
    [
        (),
        (SongSettings(name="Intro"),),
        (SongSettings(name="01 - Intro"), SongSettings(name="Intro")),  # the other Intro's
        (SongSettings(name="Night Ferry", aliases=("Ferry", "02 - night ferry")),),  # its own name
        (SongSettings(name="Paper Moon", aliases=("Moon",)),),  # idle-setting tells of it
    ],
)
def test_what_the_folders_show_to_be_right(songs: tuple[SongSettings, ...]):
    check_songs(entries(*songs), [(*song, "") for song in INTROS])
