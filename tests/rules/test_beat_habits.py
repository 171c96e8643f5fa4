"""shifted-by-beats by habit: a stem a beat beside where its role lies in the show's other songs."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Finding
from audit.results import Alignment, BeatPlace, Beats
from audit.rules.beat_habits import usual_place
from audit.rules.shifted import shifted_by_beats
from tests.evidence import findings, show, song, stem
from tests.rules.test_arrangement import OTHERS, click

HERE = "Night Ferry"
ELSEWHERE = ("Glass Orchard", "Two Lanterns", "Paper Moor", "Salt Road")


def lying(
    file: str, role: Role, at_beats: float, *, place: dict[str, Any] | None = None, **more: Any
) -> StemEvidence:
    """A stem that fits the others best so many beats after them, and about as well where it is."""
    top = BeatPlace(
        at_beats=at_beats, fit=0.45, halves_beats=(at_beats, at_beats), without_one_beats=at_beats,
        by_stem=tuple((name, at_beats) for name in OTHERS),
    )  # fmt: skip
    beats = Beats(
        shift_beats=16.0, at_best=0.2, at_best_without_loudest=0.2, at_zero=0.44, half_late=0.4,
        half_early=0.4,
        gain_by_changes=-0.3, gain_by_state=-0.3, second_beats=-16.0, at_second=0.2, sure=-4.0,
        sure_without_loudest=-4.0, usual=0.4, backbeat=0.5, on_turns=1.5, saying_so=(), against=OTHERS,
        place=replace(top, **(place or {})),
    )  # fmt: skip
    laid = Alignment(phase=None, drift=None, wrong_rate=None, beats=replace(beats, **more))
    return replace(stem(file, role=role), alignment=laid)


def a_show(odd: StemEvidence, *usual: StemEvidence) -> ShowEvidence:
    """One song with the odd stem, others with one of the usual ones each."""
    return show(
        song(HERE, odd, click=click()),
        *(song(name, one, click=click()) for name, one in zip(ELSEWHERE, usual, strict=False)),
    )


def told(odd: StemEvidence, *usual: StemEvidence) -> list[Finding]:
    return findings("shifted-by-beats", a_show(odd, *usual))


def pad(at_beats: float, **more: Any) -> StemEvidence:
    return lying("Pad.wav", Role.PAD, at_beats, **more)


def bass(at_beats: float, **more: Any) -> StemEvidence:
    return lying("Bass 2.wav", Role.BASS, at_beats, **more)


PADS = (pad(0.5), pad(0.45), pad(0.55), pad(0.5))
BASSES = (bass(0.0), bass(-0.05), bass(0.05), bass(0.0))


def test_a_pad_a_beat_early_lies_half_a_beat_before_the_band():
    (one,) = told(pad(-0.5), *PADS)
    assert (one.stem, one.severity.value, one.value) == ("Pad.wav", "warning", -1.0)
    assert one.message == (
        "early by 1 beat (0.500 s, 24\u00a0000 samples): its chords come 0.25 s before those of Bass.wav, "
        "Guitar.wav, Keys.wav, in the show's other songs the pad 0.25 s after them"
    )
    assert "24\u00a0000 samples (1 beat) later" in one.advice


def test_pads_that_swell_as_ever_are_silent():
    assert not told(pad(0.6), *PADS)
    assert not told(pad(0.5))  # alone in the show


@pytest.mark.parametrize(
    ("at_beats", "expected"),
    [
        (-0.81, []), (-0.79, [-1.0]), (-0.21, [-1.0]), (-0.19, []),
        (1.29, []), (1.31, [1.0]), (1.69, [1.0]), (1.71, []),
    ],
)  # fmt: skip
def test_a_beat_is_one_to_a_part_of_it(at_beats: float, expected: list[float]):
    assert [one.value for one in told(pad(at_beats), *PADS)] == expected


@pytest.mark.parametrize(
    "place",
    [
        {"halves_beats": (-0.5, -0.19)},  # the halves of the song disagree
        {"without_one_beats": -0.19},  # one stem alone says so
        {"by_stem": (("Bass.wav", -0.5), ("Keys.wav", 0.5))},  # one for it, one for its usual place
        {
            "by_stem": (("Bass.wav", -0.5), ("Keys.wav", -0.9), ("Guitar.wav", 0.0))
        },  # one, the others elsewhere
        {"fit": 0.239},  # 60 % of what the others have are 0.24
    ],
)
def test_a_place_that_is_not_sure_is_no_place(place: dict[str, Any]):
    assert told(pad(-0.5), *PADS)
    assert not told(pad(-0.5, place=place), *PADS)


def test_a_faint_place_is_enough_a_beat_early_where_what_sounds_says_so_too():
    faint: dict[str, Any] = {"place": {"fit": 0.141}, "gain_by_state": 0.03, "at_best": 0.1}
    assert [one.value for one in told(bass(-1.0, **faint), *BASSES)] == [-1.0]
    assert not told(bass(-1.0, **{**faint, "gain_by_state": 0.029}), *BASSES)
    assert not told(bass(-1.0, **{**faint, "place": {"fit": 0.139}}), *BASSES)  # 35 % of the others' 0.4
    assert not told(bass(1.0, **faint), *BASSES)
    assert [one.value for one in told(bass(1.0, place={"fit": 0.241}), *BASSES)] == [1.0]


def test_a_guitar_s_faint_figure_is_no_place():
    guitars = [lying("Gtr.wav", Role.GUITAR, 0.0) for _ in ELSEWHERE]
    figure = lying("Gtr.wav", Role.GUITAR, -1.0, place={"fit": 0.2}, gain_by_state=0.2)
    assert not told(figure, *guitars)
    assert told(lying("Gtr.wav", Role.GUITAR, -1.0, gain_by_state=0.02), *guitars)


def test_a_roll_whose_tones_come_round_is_not_early_where_what_sounds_gains_nothing():
    """A banjo's roll fits a beat on as well; a bass and a pad that fit there are early all the same."""
    guitars = [lying("Gtr.wav", Role.GUITAR, 0.0) for _ in ELSEWHERE]
    assert not told(lying("Gtr.wav", Role.GUITAR, -1.0, gain_by_state=0.019), *guitars)
    assert told(bass(-1.0, gain_by_state=0.019), *BASSES)


def test_where_nobody_goes_with_anybody_nobody_has_a_place():
    assert not told(bass(-1.0, usual=0.099), *BASSES)
    assert told(bass(-1.0, usual=0.101), *BASSES)


def test_a_habit_later_than_any_swell_is_a_figure():
    """Horns that play three quarters of a second after the chord in three songs, and with it in this one."""
    late = [lying("Horns.wav", Role.BRASS, 1.5) for _ in ELSEWHERE]
    assert not told(lying("Horns.wav", Role.BRASS, 0.5), *late)
    assert not told(lying("Horns.wav", Role.BRASS, 1.5), *late)
    swelling = [lying("Horns.wav", Role.BRASS, 0.79) for _ in ELSEWHERE]
    assert told(lying("Horns.wav", Role.BRASS, -0.21), *swelling)


def test_two_against_one_are_enough_a_beat_early_and_not_late():
    split = {"by_stem": (("Bass.wav", -1.0), ("Keys.wav", -1.0), ("Guitar.wav", 0.0))}
    assert told(bass(-1.0, place=split), *BASSES)
    assert not told(bass(-1.11, place={**split, "halves_beats": (-1.11, -1.11)}), *BASSES)
    assert not told(
        bass(1.0, place={"by_stem": tuple((name, -at) for name, at in split["by_stem"])}), *BASSES
    )


def test_a_role_whose_place_differs_from_song_to_song_has_no_habit():
    assert not told(pad(-0.5), pad(0.2), pad(0.9), pad(-0.2), pad(0.8))


def test_a_role_new_to_the_show_lies_with_the_band_or_after_it():
    assert [one.value for one in told(bass(-1.0))] == [-1.0]
    assert "other songs" not in told(bass(-1.0))[0].message
    assert [one.value for one in told(pad(-0.8))] == [-1.0]  # wherever it lies: 0 to 0.25 s after the band
    assert not told(pad(-0.29))
    assert not told(pad(1.0))  # late it may be meant


def test_tunes_and_drums_have_no_place():
    tune = lying("Lead Vocal.wav", Role.LEAD_VOCAL, -1.0)
    usual = [lying("Lead Vocal.wav", Role.LEAD_VOCAL, 0.0) for _ in ELSEWHERE]
    assert not told(tune, *usual)


def test_a_lag_that_fits_better_than_the_beat_is_the_other_evidence_s():
    assert not told(pad(-0.5, at_best=0.51, shift_beats=4.0, at_zero=0.5), *PADS)


WAITING: dict[str, Any] = {
    "shift_beats": 1.0, "at_best": 0.4, "at_best_without_loudest": 0.38, "at_zero": 0.1, "half_late": 0.05,
    "half_early": 0.05, "gain_by_changes": 0.25, "sure": 5.0, "sure_without_loudest": 4.0,
    "saying_so": OTHERS, "against": (), "on_turns": 0.1, "gain_by_state": 0.05,
}  # fmt: skip
"""It strikes a beat after the turns of chord, and all else says a beat late."""


def test_a_bass_that_strikes_a_beat_after_the_chord_as_in_no_other_song_is_late():
    (one,) = told(bass(1.0, **WAITING), *BASSES)
    assert (one.value, one.severity.value) == (1.0, "warning")
    assert "moved by that its chords go with" in one.message


@pytest.mark.parametrize(
    "usual",
    [
        BASSES[:3],  # too few songs
        (*BASSES[:3], bass(0.0, on_turns=0.79)),  # in one of them it waits too
        (*BASSES[:3], bass(0.0, backbeat=2.0)),
    ],
)
def test_a_bass_that_waits_in_another_song_too_means_it(usual: tuple[StemEvidence, ...]):
    assert not told(bass(1.0, **WAITING), *usual)


@pytest.mark.parametrize(
    "more",
    [
        {"gain_by_state": 0.029},  # it does not ring on: it rests where the chord turns
        {"at_best": 0.4, "saying_so": OTHERS[:1], "place": {"fit": 0.1}},
    ],
)
def test_a_bass_that_rests_on_the_turns_means_it(more: dict[str, Any]):
    assert not told(bass(1.0, **{**WAITING, **more}), *BASSES)


def test_guitars_may_wait_in_any_song_and_keys_may_chop():
    guitars = [lying("Gtr.wav", Role.GUITAR, 0.0) for _ in ELSEWHERE]
    assert not told(lying("Gtr.wav", Role.GUITAR, 1.0, **WAITING), *guitars)
    keys = [lying("Keys 2.wav", Role.KEYS, 0.0) for _ in ELSEWHERE]
    assert told(lying("Keys 2.wav", Role.KEYS, 1.0, **WAITING), *keys)
    assert not told(lying("Keys 2.wav", Role.KEYS, 1.0, **{**WAITING, "backbeat": 2.0}), *keys)


def test_a_habit_leaves_out_the_song_itself_and_places_that_are_not_sure():
    limit = shifted_by_beats.limit
    assert limit is not None
    whole = a_show(pad(-0.5), *PADS[:3], pad(1.5, place={"fit": 0.11}))
    habit = usual_place(whole, Role.PAD, limit, without=HERE)
    assert habit is not None
    assert (habit.usual_s, habit.songs) == (0.25, 3)
    assert usual_place(whole, Role.PAD, limit, without=ELSEWHERE[0]) is not None
    assert usual_place(a_show(pad(-0.5), *PADS[:2]), Role.PAD, limit, without=HERE) is None
    keys = a_show(pad(0.5), *(lying("Keys.wav", Role.KEYS, 0.1) for _ in range(3)))
    lent = usual_place(keys, Role.ORGAN, limit, without=HERE)
    assert lent is not None
    assert (lent.usual_s, lent.songs) == (0.05, 3)


@pytest.mark.parametrize(
    ("beside", "namesakes", "expected"),
    [
        (0.5, False, []),  # the pad that swells as ever is the other one
        (0.5, True, [1.0]),  # but so does this one in the other songs
        (1.5, False, [1.0]),  # nobody keeps the place here
    ],
)
def test_who_leaves_the_role_s_place_to_another_may_mean_it(
    beside: float, namesakes: bool, expected: list[float]
):
    """A chop behind a strum, where strummers made the role's habit."""
    chop = lying("Chop.wav", Role.PAD, 1.5)
    other = lying("Pad.wav", Role.PAD, beside)
    rest = [
        song(name, lying("Chop.wav" if namesakes else "Pad.wav", Role.PAD, 0.5), click=click())
        for name in ELSEWHERE
    ]
    whole = show(song(HERE, chop, other, click=click()), *rest)
    found = findings("shifted-by-beats", whole)
    assert [one.value for one in found if one.stem == "Chop.wav"] == expected


LATE: dict[str, Any] = {
    "shift_beats": 1.0, "at_best": 0.5, "at_best_without_loudest": 0.43, "at_zero": 0.17, "half_late": 0.37,
    "half_early": 0.15, "gain_by_changes": 0.75, "gain_by_state": 0.15, "sure": 5.3,
    "sure_without_loudest": 5.2, "usual": 0.25, "on_turns": 1.3, "saying_so": OTHERS, "against": (),
}  # fmt: skip
"""What a pad that swells by half a beat shows once the guitar has been moved half a beat earlier."""


@pytest.mark.parametrize(("at_beats", "expected"), [(0.85, []), (0.99, []), (1.01, [1.0]), (1.5, [1.0])])
def test_a_pad_near_its_usual_place_is_not_late_though_another_stem_is_early(
    at_beats: float, expected: list[float]
):
    assert [one.value for one in told(pad(at_beats, **LATE), *PADS)] == expected


def test_without_a_habit_the_band_alone_says_where_a_pad_belongs():
    assert [one.value for one in told(pad(0.85, **LATE))] == [1.0]
