"""A role of which a song holds several stems: each is judged by its namesakes."""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from types import MappingProxyType

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.namesakes import WIDTH, by_name
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


@pytest.mark.parametrize(("more_ms", "told"), [(10.0, False), (70.0, True)])
def test_one_without_namesakes_is_judged_as_widely_as_the_kit_lies(more_ms: float, told: bool):
    odd = kit("Night Ferry", {"Drums Snare.wav": more_ms}, {"Drums Snare.wav": "Drums Rimshot.wav"})
    assert bool(said(tour(odd))) is told


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


@pytest.mark.parametrize("count", sorted(WIDTH))
def test_ranges_are_turned_into_standard_deviations_as_control_charts_do(count: int):
    """d2, the mean range of so many normal values over their standard deviation, drawn 20,000 times."""
    normal = statistics.NormalDist()
    values = normal.samples(20_000 * count, seed=7)
    ranges = [max(part) - min(part) for part in zip(*[iter(values)] * count, strict=True)]
    assert statistics.fmean(ranges) == pytest.approx(WIDTH[count], rel=0.01)
