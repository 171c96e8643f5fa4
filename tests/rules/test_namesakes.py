"""A role of which a song holds several stems: each is judged by its namesakes."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.namesakes import by_name
from audit.rules.places import habits
from tests.evidence import findings, show
from tests.rules.test_alignment import band

KIT = {"Drums Kick.wav": -9.0, "Drums Snare.wav": 30.0, "Drums Hats.wav": 9.0}
"""A laid-back snare; the band's drums lie on the click."""


def kit(
    name: str, more: dict[str, float] | None = None, renamed: Mapping[str, str] = MappingProxyType({})
) -> SongEvidence:
    places = {file: ms + (more or {}).get(file, 0.0) for file, ms in KIT.items()}
    files = {file: renamed.get(file, file) for file in KIT}
    return band(name, {files[file]: ms for file, ms in places.items()})


def tour(odd: SongEvidence, *, others: int = 4) -> ShowEvidence:
    return show(odd, *(kit(f"Other {number}") for number in range(others)))


def stem_of(song: SongEvidence, file: str) -> StemEvidence:
    return next(stem for stem in song.stems if stem.name == file)


def said(whole: ShowEvidence) -> list[tuple[str | None, float | None]]:
    return [(one.stem, one.value) for one in findings("offset-from-click", whole)]


@pytest.mark.parametrize("others", [3, 4, 6])
def test_a_snare_that_lies_back_in_every_song_is_not_late(others: int):
    assert said(tour(kit("Night Ferry"), others=others)) == []


@pytest.mark.parametrize("more_ms", [25.0, -25.0])
@pytest.mark.parametrize("file", ["Drums Snare.wav", "Drums Kick.wav"])
def test_a_stem_of_the_kit_is_told_by_what_it_is_off_from_its_namesakes(file: str, more_ms: float):
    """Its distance from the middle of all drums would be 30 ms more, or less."""
    ((stem, value),) = said(tour(kit("Night Ferry", {file: more_ms})))
    assert (stem, value) == (file, pytest.approx(more_ms))


@pytest.mark.parametrize(("more_ms", "told"), [(-1.0, False), (1.0, True)])
def test_one_without_namesakes_is_judged_as_widely_as_the_kit_lies(more_ms: float, told: bool):
    """39 ms from kick to snare elsewhere, over 4, three times, from their middle of 4.5 ms: 33.75."""
    odd = kit("Night Ferry", {"Drums Snare.wav": more_ms + 3.75}, {"Drums Snare.wav": "Drums Rimshot.wav"})
    assert bool(said(tour(odd))) is told


@pytest.mark.parametrize(("snare_ms", "told"), [(13.0, False), (14.0, True)])
def test_the_only_split_kit_of_a_show_is_judged_by_its_other_drums(snare_ms: float, told: bool):
    """18 ms from kick to hats; over 4, three times: 13.5."""
    drums = {"Drums Kick.wav": -9.0, "Drums Hats.wav": 9.0, "Drums Snare.wav": snare_ms}
    assert bool(said(show(band("Night Ferry", drums), *(band(f"Other {n}") for n in range(4))))) is told


@pytest.mark.parametrize(("namesakes", "told"), [(0, True), (1, False), (2, False)])
def test_one_namesake_that_lies_as_far_off_is_precedent(namesakes: int, told: bool):
    """The others play whole kits, or a snare that lies back as this one does."""
    snare = {"Drums Snare.wav": 26.0}
    others = [band(f"Other {number}", snare if number < namesakes else {}) for number in range(5)]
    found = said(show(band("Night Ferry", snare), *others))
    assert bool([one for one in found if one[0] == "Drums Snare.wav"]) is told


@pytest.mark.parametrize(("others", "by_namesakes"), [(2, False), (3, True)])
def test_three_other_songs_make_a_habit_of_a_name(others: int, by_namesakes: bool):
    odd = kit("Night Ferry")
    plain = [band(f"Plain {number}") for number in range(3)]
    whole = show(odd, *plain, *(kit(f"Other {number}") for number in range(others)))
    usual = habits(whole, without="Night Ferry")[Role.DRUMS]
    own = by_name(stem_of(odd, "Drums Snare.wav"), odd, whole, usual)
    assert (own.usual_ms == pytest.approx(30.0)) is by_namesakes
    assert own.spread_ms >= usual.spread_ms * 0.5


def test_a_stem_that_is_alone_in_its_role_is_judged_by_the_role():
    odd = kit("Night Ferry")
    whole = tour(odd)
    usual = habits(whole, without="Night Ferry")[Role.BASS]
    assert by_name(stem_of(odd, "Bass.wav"), odd, whole, usual) is usual


def test_two_stems_of_one_name_in_a_song_are_nobody_s_namesakes():
    """Their track numbers are no part of the name, and which is which nobody knows."""
    twins = {"Drums Snare.wav": 0.0, "1/Drums Snare.wav": 30.0}
    odd = band("Night Ferry", twins)
    whole = show(odd, *(band(f"Other {number}", twins) for number in range(4)))
    usual = habits(whole, without="Night Ferry")[Role.DRUMS]
    own = by_name(stem_of(odd, "Drums Snare.wav"), odd, whole, usual)
    assert own.usual_ms == usual.usual_ms
    assert own.spread_ms > usual.spread_ms


def test_a_fault_elsewhere_does_not_hide_one_here():
    """A guitar 200 ms off in one other song: no kit lies so far apart."""
    pair = {"Guitar.wav": 0.0, "Guitar 2.wav": 200.0}
    others = [band(f"Other {number}", pair if number == 0 else {}) for number in range(5)]
    odd = band("Night Ferry", {"Guitar 3.wav": 60.0})
    assert ("Guitar 3.wav", pytest.approx(60.0)) in said(show(odd, *others))


def test_another_sort_of_guitar_is_no_precedent_for_a_late_one():
    """A slide guitar speaks 30 ms late in every song; this lead guitar does not."""
    pair = {"Guitar.wav": 0.0, "Guitar Slide.wav": 30.0}
    odd = band("Night Ferry", {**pair, "Guitar.wav": 28.0})
    found = findings("offset-from-click", show(odd, *(band(f"Other {number}", pair) for number in range(5))))
    assert [(one.stem, one.severity.value) for one in found] == [("Guitar.wav", "error")]
