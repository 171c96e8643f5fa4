"""One name on three systems, and one time on two clocks."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.seal.matching import find_moved, moved_folders
from audit.seal.names import paired, path_of, times_agree

WHEN_NS = 1_700_000_001_234_567_890
HOUR_NS = 3600 * 10**9


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Song/Bass.wav", "Song/Bass.wav"),
        ("Café/Bass.wav", unicodedata.normalize("NFD", "Café/Bass.wav")),  # a Mac's
        ("Song/Bass.wav", "SONG/bass.WAV"),
        ("Song/Bass.wav", "Song\\Bass.wav"),
        ("Straße/Bass.wav", "STRASSE/Bass.wav"),
        ("Song?/Bass: low.wav", "Song_/Bass_ low.wav"),  # exFAT refuses them; tools put this in their place
        ("Song/Bass: low.wav", "Song/Bass\uf022 low.wav"),  # what macOS puts there
        ("Song. /Bass.wav", "Song/Bass.wav"),  # Windows drops dots and spaces at the end
    ],
)
def test_two_spellings_are_one_name(one: str, other: str):
    assert paired([one], [other], str) == [(one, other)]
    assert paired([other], [one], str) == [(other, one)]


@pytest.mark.parametrize(
    "other", ["Song/Bass 2.wav", "Song 2/Bass.wav", "Bass.wav", "Song/Bässe.wav", "Song/Base.wav"]
)
def test_other_names_are_others(other: str):
    assert paired(["Song/Bass.wav"], [other], str) == []


def test_the_strictest_way_goes_first():
    olds, news = ["Song/Bass.wav", "Song/BASS.wav"], ["Song/BASS.wav", "Song/Bass.wav"]
    assert sorted(paired(olds, news, str)) == [(name, name) for name in sorted(olds)]


def test_of_two_that_fit_none_is_taken_by_chance():
    assert paired(["Song/bass.wav"], ["Song/BASS.wav", "Song/Bass.wav"], str) == []


@given(
    st.lists(
        st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=8), unique=True, max_size=12
    )
)
def test_every_show_is_its_own_copy(names: list[str]):
    assert sorted(paired(names, names[::-1], str)) == sorted((name, name) for name in names)


@pytest.mark.parametrize(
    ("apart_ns", "agree"),
    [
        (0, True), (2 * 10**9, True), (2 * 10**9 + 1, False), (-HOUR_NS, True), (HOUR_NS + 2 * 10**9, True),
        (HOUR_NS - 2 * 10**9, True), (HOUR_NS + 2 * 10**9 + 1, False), (5 * HOUR_NS + HOUR_NS // 2, True),
        (24 * HOUR_NS, True), (25 * HOUR_NS, False), (60 * 10**9, False),
    ],
)  # fmt: skip
def test_times_that_two_systems_kept(apart_ns: int, agree: bool):
    assert times_agree(WHEN_NS, WHEN_NS + apart_ns) is agree
    assert times_agree(WHEN_NS + apart_ns, WHEN_NS) is agree


def test_moved_stems_are_found_by_content_the_like_named_first():
    missing = {"A/Bass.wav": "bass", "A/Keys.wav": "keys", "A/Pad.wav": "pad"}
    added = {"B/Other.wav": "one", "B/Bass.wav": "two", "B/Keys 2.wav": "three"}
    contents = (
        {"A/Bass.wav": 1, "A/Keys.wav": 2, "A/Pad.wav": None},
        {"B/Other.wav": 1, "B/Bass.wav": 1, "B/Keys 2.wav": 2},
    )
    found = {(one.old, one.new) for one in find_moved(missing, added, contents)}
    assert found == {("bass", "two"), ("keys", "three")}


def test_a_folder_was_renamed_where_most_of_it_went_to_one_new_place():
    both = [("A/Bass.wav", "B/Bass.wav"), ("A/Keys.wav", "B/keys.wav")]
    assert moved_folders(both, set()) == {"A": "B"}
    assert moved_folders(both, {"A"}) == {}
    assert moved_folders([*both, ("A/Pad.wav", "C/Pad.wav")], set()) == {"A": "B"}
    assert moved_folders([*both, ("A/Pad.wav", "B/Strings.wav")], set()) == {"A": "B"}
    assert moved_folders([both[0], ("A/Pad.wav", "C/Pad.wav")], set()) == {}


def test_what_was_dropped_into_a_known_folder_is_no_renaming():
    """Unless all of it lies there under its own names, as after a folder took the place of another."""
    other_names = [("A/Bass.wav", "B/Bass 2.wav"), ("A/Keys.wav", "B/Keys 2.wav")]
    assert moved_folders(other_names, set()) == {"A": "B"}
    assert moved_folders(other_names, set(), {"A", "b"}) == {}
    assert moved_folders([("A/Bass.wav", "B/Bass.wav")], set(), {"A", "B"}) == {"A": "B"}


def test_paths_from_the_shows_folder():
    assert path_of("Act 1/Song", "Audio/Bass.wav") == "Act 1/Song/Audio/Bass.wav"
    assert path_of(".", "Bass.wav") == "Bass.wav"
