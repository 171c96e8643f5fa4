"""A few stems in the wrong key, song or place, played and measured, at every test run."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import Role
from tests.lab.company import Company, hear
from tests.lab.kinds.comb import said
from tests.lab.kinds.offset import moved
from tests.lab.songs import LabShow
from tests.lab.varied import composition, played, stem

BAND = (Role.DRUMS, Role.BASS, Role.GUITAR, Role.KEYS)
SONGS = tuple(composition(7, number, 22.0) for number in range(2))


@pytest.fixture(scope="module")
def company() -> Company:
    return Company(LabShow(name="two songs", songs=tuple(played(song, BAND) for song in SONGS)))


def test_a_clean_show_is_silent(company: Company):
    assert company.clean() == []
    assert said(company.show.songs[0]) == []


@pytest.mark.parametrize(
    ("role", "semitones"),
    [(Role.KEYS, 1), (Role.BASS, -3), (Role.GUITAR, 6), (Role.KEYS, -5), (Role.BASS, 5)],
)
def test_a_part_in_another_key(company: Company, role: Role, semitones: int):
    own = company.show.songs[0]
    wrong = stem(SONGS[0], role, semitones=semitones)
    (found,) = company.planted(own, {wrong.name: hear(wrong.samples, own.rate_hz)})
    assert (found.rule, found.stem, found.measured["semitones"]) == ("key-mismatch", wrong.name, semitones)


@pytest.mark.parametrize("name", ["Drums.wav", "Keys.wav", "Bass.wav"])
def test_a_part_of_the_other_song(company: Company, name: str):
    own, other = company.show.songs
    (found,) = company.planted(own, {name: company.heard[other.name][name]})
    assert (found.rule, found.stem, found.measured["other"]) == ("foreign-stem", name, other.name)


def test_a_copy_that_is_late(company: Company):
    own = company.show.songs[0]
    keys = next(one for one in own.stems if one.role is Role.KEYS)
    late = replace(keys, name="Keys 2.wav", samples=moved(keys.samples, own.rate_hz, 2.0))
    assert said(own, late) == [("Keys 2.wav", "Keys.wav")]
