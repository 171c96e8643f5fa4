"""Roles from names. names.csv was written before the tables were tuned; each line is a decision.

The names and what they mean are common practice among people who print and play stems; there is no standard.
"""

from __future__ import annotations

import csv
import unicodedata
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import CREW_ROLES, Role
from audit.folder import side_words, words
from audit.folder.roles import names_only_a_role, read_name
from audit.folder.tokens import compose, fold
from audit.folder.vocabulary import built_in

with (Path(__file__).parent / "names.csv").open(encoding="utf-8", newline="") as table:
    NAMES = list(csv.DictReader(table))


def test_the_table_is_large_and_holds_every_role():
    assert len(NAMES) >= 300
    assert sum(row["role"] == "other" for row in NAMES) >= 60
    assert {row["role"] for row in NAMES} == {role.value for role in Role}
    assert [
        name for name, times in Counter((row["name"], row["song"]) for row in NAMES).items() if times > 1
    ] == []


@pytest.mark.parametrize("row", NAMES, ids=lambda row: f"{row['group']}:{row['name']}")
def test_name(row: dict[str, str]):
    reading = read_name(row["name"], row["song"])
    assert (reading.role.value, "+".join(reading.channel_roles)) == (row["role"], row["channels"])
    assert reading.is_guess is (row["role"] == "other")


def test_decomposed_names_read_alike():
    """A Mac writes NFD, everybody else NFC: the same name, the same reading."""
    decomposed = [unicodedata.normalize("NFD", row["name"]) for row in NAMES]
    assert sum(name != row["name"] for name, row in zip(decomposed, NAMES, strict=True)) >= 25
    unlike = [
        name for name, row in zip(decomposed, NAMES, strict=True) if read_name(name) != read_name(row["name"])
    ]
    assert unlike == []


@pytest.mark.parametrize("mark", ["_v2", " FINAL", " (1)", " - Copy", " 2026-05-01", "_v3_FINAL"])
def test_version_mark_changes_no_role(mark: str):
    def said(name: str, song: str) -> tuple[Role, tuple[Role, ...]]:
        reading = read_name(name, song)
        return reading.role, reading.channel_roles

    changed = [
        row for row in NAMES if said(row["name"] + mark, row["song"]) != said(row["name"], row["song"])
    ]
    assert changed == []


@pytest.mark.parametrize(
    "song", ["Harbour Lights", "07 - Harbour Lights", "Drums of Autumn", "Guide Me Home"]
)
@pytest.mark.parametrize(
    "name", ["Bass", "Lead Vox", "Click+LTC", "12 String", "EG", "Lead 1", "Clickbait Intro"]
)
def test_song_prefix_changes_nothing(song: str, name: str):
    title = song.removeprefix("07 - ")
    for prefix in (
        f"{title} - ",
        f"{title}_",
        f"{song} - ",
        f"{title} 03 - ",
        f"03 {title} ".replace("  ", " "),
    ):
        prefixed, plain = read_name(prefix + name, song), read_name(name, song)
        assert (prefixed.role, prefixed.channel_roles) == (plain.role, plain.channel_roles), prefix


def test_every_listed_word_is_read_as_its_role():
    """Alone, a word of the tables names the role it is listed under: no row hides behind another."""
    alone = 0
    for role, _, text in words.ROLE_WORDS:
        for phrase in filter(None, map(str.strip, text.split(","))):
            if phrase in words.ONE_TRACK_WORDS:
                continue
            assert read_name(phrase).role is role, phrase
            assert read_name(phrase.upper()).role is role, phrase
            alone += 1
    assert alone > 500


def test_no_word_is_listed_twice():
    listed = [
        fold(phrase).strip()
        for _, _, text in words.ROLE_WORDS
        for phrase in text.split(",")
        if phrase.strip()
    ]
    assert [phrase for phrase, times in Counter(listed).items() if times > 1] == []


def test_neutral_words_name_no_role():
    sure = {
        "acoustic",
        "electric",
        "harmony",
        "gang",
        "backups",
        "sub",
        "verb",
        "reverb",
        "delay",
        "acustica",
        "upright",
        "break",
        "stab",
        "stabs",
    }
    named = {
        word for word in side_words.NEUTRAL_WORDS | side_words.SIDES.keys() if not read_name(word).is_guess
    }
    assert named <= sure | {"tracks", "trks"} | {"master"}


@pytest.mark.parametrize(
    "name", ["Drums", "02 Lead Vox", "Click", "GTRS", "Bass DI", "Backing Vocals", "Str"]
)
def test_pure_role_names(name: str):
    assert names_only_a_role(name)


@pytest.mark.parametrize(
    "name",
    [
        "Guide Me Home",
        "Bass Culture",
        "Track 07",
        "Audio",
        "Lead",
        "01",
        "",
        "Orchestra",
        "Act 1",
        "Keystone",
        "No Drums",
    ],
)
def test_names_with_something_left_over(name: str):
    assert not names_only_a_role(name)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=40), st.text(max_size=20))
def test_no_name_crashes_and_forms_read_alike(name: str, song: str):
    reading = read_name(name, song)
    assert reading.role in Role
    for form in ("NFC", "NFD"):
        assert read_name(unicodedata.normalize(form, name), unicodedata.normalize(form, song)) == reading


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=40))
def test_bytes_that_are_no_text_crash_nothing(raw: bytes):
    name = raw.decode("utf-8", "surrogateescape")
    assert read_name(name, name).version_key == read_name(name, name).version_key
    assert read_name(f"Bass {name}", "").role in Role


_PIECES = [
    "Click",
    "LTC",
    "Bass",
    "Tracks",
    "L",
    "R",
    "+",
    "&",
    "-",
    "(",
    ")",
    "v2",
    "FINAL",
    "07",
    "Guide",
    "of",
    "Xy",
    "Xyzzy",
]


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(_PIECES), max_size=8))
def test_channel_roles_are_never_vague(pieces: list[str]):
    """Several channels have several roles, the stem's own one of them; OTHER stands only beside the crew."""
    reading = read_name(" ".join(pieces))
    channels = reading.channel_roles
    assert len(channels) != 1
    assert len(set(channels)) == len(channels)
    assert Role.OTHER not in channels or (len(channels) == 2 and set(channels) & CREW_ROLES)
    assert not channels or reading.role in channels
    assert reading.is_guess is (reading.role is Role.OTHER)


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="aeioubcdfgäöüéñø ", min_size=1, max_size=12))
def test_a_word_is_read_whole_or_not_at_all(name: str):
    """Glueing letters to a role word makes another word."""
    glued = "Click" + name.replace(" ", "").lower()
    if fold(compose(glued)) not in built_in().whole_words:
        assert read_name(glued).role is Role.OTHER


@pytest.mark.parametrize(
    "folder", ["B3 Pocket of Brass", "1-03 Pocket of Brass", "03 Pocket of Brass", "S2 - Pocket of Brass"]
)
@pytest.mark.parametrize("name", ["Pocket of Brass - Bones", "03 Pocket of Brass Bones"])
def test_a_songs_place_in_the_set_is_no_part_of_its_name(folder: str, name: str):
    reading = read_name(name, folder)
    assert (reading.role, reading.version_key) == (Role.BRASS, "bones")


def test_a_song_that_is_called_like_a_place_keeps_its_name():
    assert read_name("B3 - Drums", "B3").version_key == "drums"
    assert read_name("B3", "Night Ferry").role is Role.ORGAN
