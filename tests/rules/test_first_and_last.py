"""shifted-by-beats of what begins and ends beside everybody."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import StemEvidence
from audit.findings import Finding
from audit.results import Alignment, FirstAndLast
from audit.rules.shifted import off_by_beats
from tests.evidence import findings, show, song, stem
from tests.rules.test_arrangement import click, shifted

NOTHING = Alignment(phase=None, drift=None, wrong_rate=None)
FITS = {"at_best": 0.4, "at_zero": 0.4, "usual": 0.4}


def edged(
    file: str, first: float, last: float, harmony: StemEvidence | None = None, *, on_beats: float = 0.95
) -> StemEvidence:
    place = NOTHING if harmony is None or harmony.alignment is None else harmony.alignment
    edges = FirstAndLast(first_beats=first, last_beats=last, strokes=99, on_beats=on_beats)
    return replace(stem(file), alignment=replace(place, first_and_last=edges))


BASS, KEYS, PAD = edged("Bass.wav", 4.0, 120.0), edged("Keys.wav", 4.02, 120.0), edged("Pad.wav", 20.0, 116.1)


def told(odd: StemEvidence, *others: StemEvidence, metre: str | None = "4/4") -> list[Finding]:
    return findings(
        "shifted-by-beats",
        show(song("Night Ferry", *(others or (BASS, KEYS, PAD)), odd, click=click(metre=metre))),
    )


def test_drums_a_beat_late():
    (one,) = told(edged("Drums.wav", 5.0, 121.0))
    assert (one.severity.value, one.stem, one.value) == ("warning", "Drums.wav", 1.0)
    assert one.message == (
        "late by 1 beat (0.500 s, 24\u00a0000 samples): it begins 1 beat after Bass.wav, Keys.wav and ends "
        "1 beat after Bass.wav, Keys.wav, and with nobody as it stands"
    )
    assert "move it 24\u00a0000 samples (1 beat) earlier" in one.advice


@pytest.mark.parametrize(
    ("beats", "severity"),
    [(1, "warning"), (2, "warning"), (7, "warning"), (4, "note"), (8, "note"), (-8, "note"), (-12, None)],
)
def test_by_any_whole_beats_late_and_by_bars_either_way(beats: int, severity: str | None):
    """A part may come in a bar later and have the last bar to itself: a note."""
    found = told(edged("Drums.wav", 4.0 + beats, 120.0 + beats))
    assert [(one.severity.value, one.value) for one in found] == ([(severity, beats)] if severity else [])


@pytest.mark.parametrize("beats", [-1, -2, -3, -5])
def test_a_pick_up_begins_early(beats: int):
    assert not told(edged("Drums.wav", 4.0 + beats, 120.0 + beats))


@pytest.mark.parametrize(("on_beats", "expected"), [(0.5, 0), (0.69, 0), (0.71, 1)])
def test_claps_on_two_and_four_begin_and_end_there(on_beats: float, expected: int):
    assert len(told(edged("Drums.wav", 5.0, 121.0, on_beats=on_beats))) == expected
    assert len(told(edged("Guitar.wav", 5.0, 121.0, on_beats=on_beats))) == expected


@pytest.mark.parametrize(
    "odd",
    [
        pytest.param(edged("Drums.wav", 4.1, 120.1), id="with the others"),
        pytest.param(edged("Drums.wav", 5.0, 120.0), id="it ends with them"),
        pytest.param(edged("Drums.wav", 4.0, 121.0), id="it begins with them"),
        pytest.param(edged("Drums.wav", 5.0, 122.0), id="by one and by two"),
        pytest.param(edged("Drums.wav", 5.21, 121.21), id="by no whole beats"),
        pytest.param(edged("Drums.wav", 13.0, 129.0), id="farther than two bars"),
        pytest.param(edged("FX.wav", 5.0, 121.0), id="effects begin anywhere"),
        pytest.param(edged("Drums.wav", 21.0, 117.0), id="one at either end"),
    ],
)
def test_what_is_not_told(odd: StemEvidence):
    assert not told(odd)


def test_two_at_one_end_and_one_at_the_other_do_for_what_marks_the_beat():
    """The keys end elsewhere: two begin with it, one ends with it."""
    others = (BASS, edged("Keys.wav", 4.0, 90.0), PAD)
    assert told(edged("Drums.wav", 5.0, 121.0), *others)
    assert not told(edged("Guitar.wav", 5.0, 121.0), *others)
    assert told(edged("Guitar.wav", 5.0, 121.0))


def test_a_third_of_all_has_to_meet_what_does_not_mark_the_beat():
    """A band that ends one after the other: two of seven are chance, two of six a third."""
    ends = [edged(f"Keys {n}.wav", 4.0, 100.0 + 1.37 * n) for n in range(4)]
    guitar = edged("Guitar.wav", 5.0, 121.0)
    assert told(guitar, BASS, KEYS, *ends)
    assert not told(guitar, BASS, KEYS, *ends, edged("Organ.wav", 4.0, 110.7))
    assert told(edged("Drums.wav", 5.0, 121.0), BASS, KEYS, *ends, edged("Organ.wav", 4.0, 110.7))


@pytest.mark.parametrize(("at_zero", "expected"), [(0.27, 1), (0.28, 0)])
def test_not_where_its_chords_fit_as_they_stand(at_zero: float, expected: int):
    """0.7 of the best of 0.4."""
    harmony = shifted("Guitar.wav", 12.0, **{**FITS, "at_zero": at_zero}, sure=0.5)
    assert len(told(edged("Guitar.wav", 5.0, 121.0, harmony))) == expected


def test_several_lags_say_nothing():
    """Two begin and end here, two a beat later: which of them are right?"""
    others = (BASS, KEYS, edged("Pad.wav", 6.0, 122.0), edged("Organ.wav", 6.0, 122.0))
    assert not told(edged("Drums.wav", 5.0, 121.0), *others)


def test_three_others_are_asked_for():
    assert told(edged("Drums.wav", 5.0, 121.0), BASS, KEYS, PAD)
    assert not told(edged("Drums.wav", 5.0, 121.0), BASS, KEYS)
    assert not told(edged("Drums.wav", 5.0, 121.0), BASS, KEYS, stem("Pad.wav"))


def test_two_that_moved_together_are_not_told():
    others = (BASS, KEYS, PAD, edged("Percussion.wav", 5.0, 121.0))
    assert not told(edged("Drums.wav", 5.0, 121.0), *others)


def test_bars_of_three_reach_six_beats():
    assert told(edged("Drums.wav", 10.0, 126.0), metre="3/4")
    assert not told(edged("Drums.wav", 11.0, 127.0), metre="3/4")


def test_a_harmony_that_fits_best_there_too_is_no_home():
    """Nearly as well as it stands: a chord that lasts for bars."""
    harmony = shifted("Guitar.wav", 1.0, at_zero=0.35, sure=0.5, sure_without_loudest=0.1)
    assert told(edged("Guitar.wav", 5.0, 121.0, harmony))
    elsewhere = shifted("Guitar.wav", 12.0, at_zero=0.35, sure=0.5, sure_without_loudest=0.1)
    assert not told(edged("Guitar.wav", 5.0, 121.0, elsewhere))


@pytest.mark.parametrize(("beats", "left"), [(1, True), (4, False), (8, False)])
def test_a_note_leaves_its_place_in_the_beat_to_be_judged(beats: int, left: bool):
    odd = edged("Drums.wav", 4.0 + beats, 120.0 + beats)
    evidence = show(song("Night Ferry", BASS, KEYS, PAD, odd, click=click()))
    (night,) = evidence.songs
    drums = next(one for one in night.stems if one.name == "Drums.wav")
    assert off_by_beats(drums, night, evidence) is left
