"""The word that all of a song's stems begin with: an abbreviation of its title, and what stands behind it."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.facts import Role
from audit.folder.beginnings import behind, shared_beginning
from audit.folder.walk import walk
from tests.folder.trees import plant, stem

STEMS = ("TTM Bass", "TTM EG Crunch", "TTM Click", "TTM Piano", "TTM Hn 1")


@pytest.mark.parametrize(
    ("names", "word"),
    [
        (STEMS, "ttm"),
        (("01 TTM Bass", "02 TTM EG", "03_TTM_Click", "4 TTM Piano"), "ttm"),
        (STEMS[:3], None),  # three may be so by chance
        ((*STEMS[:3], "Bass", "Gtr", "Keys"), None),
        (("Gtr A", "Gtr B", "Gtr C", "Gtr D"), None),  # that is what they are
        (("1 Bass", "2 Click", "3 Gtr", "4 Keys"), None),
        ((), None),
    ],
)
def test_a_word_that_most_stems_begin_with(names: tuple[str, ...], word: str | None):
    assert shared_beginning(names) == word


@pytest.mark.parametrize(
    ("name", "rest"),
    [("TTM EG Crunch", "EG Crunch"), ("03_TTM_Git", "Git"), ("TTM", None), ("Bass", None), ("", None)],
)
def test_the_rest_of_a_name(name: str, rest: str | None):
    assert behind(name, "ttm") == rest


def test_short_words_are_read_behind_it(tmp_path: Path):
    """ "EG" is an electric guitar only where every other word is known."""
    plant(tmp_path, *(f"Ten to Midnight/{name}.wav" for name in STEMS), "Other/EG.wav", "Other/XY EG.wav")
    show = walk(tmp_path)
    assert stem(show, "TTM EG Crunch.wav").role is Role.GUITAR
    assert stem(show, "TTM Bass.wav").role is Role.BASS
    assert stem(show, "TTM Hn 1.wav").role_is_guess
    assert stem(show, "XY EG.wav").role_is_guess
    assert stem(show, "TTM EG Crunch.wav").version_key == "ttm eg crunch"
