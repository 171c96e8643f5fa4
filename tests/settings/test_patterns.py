"""Patterns and names in settings: what they fit."""

from __future__ import annotations

import unicodedata

import pytest

from audit.facts import Role
from audit.settings.model import ShowSettings, SongSettings
from audit.settings.naming import crew_roles, fits_stem, settings_of_song, song_names
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


def test_the_full_name_goes_before_the_title():
    numbered, bare = SongSettings(name="07 - Opener"), SongSettings(name="Opener")
    settings = ShowSettings(source="show.toml", songs=(bare, numbered))
    assert settings_of_song(settings, "07 - Opener", "Opener") is numbered
    assert settings_of_song(settings, "08 - Opener", "Opener") is bare


def test_who_hears_a_role():
    assert crew_roles(ShowSettings()) == (Role.CLICK, Role.GUIDE, Role.TIMECODE)
    moved = ShowSettings(source="x", audience={Role.GUIDE: True, Role.KEYS: False})
    assert set(crew_roles(moved)) == {Role.CLICK, Role.TIMECODE, Role.KEYS}
