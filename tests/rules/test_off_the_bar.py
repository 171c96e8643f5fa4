"""shifted-by-beats by the click's bars: chords that turn a beat beside the bar where those of others turn on
it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.findings import Finding
from audit.results import Alignment, BarTurns
from tests.evidence import findings, show, song, stem
from tests.rules.test_arrangement import click
from tests.rules.test_beat_habits import ELSEWHERE, HERE, PADS, lying, pad

ON = (0.85, 0.05, 0.05, 0.05)
LATE, EARLY = (0.05, 0.85, 0.05, 0.05), (0.05, 0.05, 0.05, 0.85)
STRUMMED = (0.25, 0.25, 0.25, 0.25)


def turning(
    file: str, role: Role, turns: tuple[float, ...], begins: tuple[float, ...] | None = None, **more: Any
) -> StemEvidence:
    """A stem whose chords turn on these beats of the bar; nothing else is known of its place."""
    bar = BarTurns(turns=turns, begins=begins or turns, bars=30, sure=5.0)
    laid = Alignment(phase=None, drift=None, wrong_rate=None, bar_turns=replace(bar, **more))
    return replace(stem(file, role=role), alignment=laid)


def keys(turns: tuple[float, ...], begins: tuple[float, ...] | None = STRUMMED, **more: Any) -> StemEvidence:
    return turning("Keys.wav", Role.KEYS, turns, begins, **more)


GUITAR = turning("Guitar.wav", Role.GUITAR, ON)
WALKING = turning("Bass.wav", Role.BASS, (0.28, 0.24, 0.25, 0.23))


def told(odd: StemEvidence, *others: StemEvidence, elsewhere: tuple[StemEvidence, ...] = ()) -> list[Finding]:
    return findings(
        "shifted-by-beats",
        show(
            song(HERE, odd, *others, click=click()),
            *(song(name, one, click=click()) for name, one in zip(ELSEWHERE, elsewhere, strict=False)),
        ),
    )


def test_keys_a_beat_late_turn_on_the_second_beat():
    (one,) = told(keys(LATE), GUITAR, WALKING)
    assert (one.stem, one.severity.value, one.value) == ("Keys.wav", "warning", 1.0)
    assert one.message == (
        "late by 1 beat (0.500 s, 24\u00a0000 samples): its chords turn on beat 2 of the click's bar (85 %), "
        "those of Guitar.wav on the first"
    )
    assert "24\u00a0000 samples (1 beat) earlier" in one.advice


def test_keys_a_beat_early_turn_on_the_last_beat():
    (one,) = told(keys(EARLY), GUITAR)
    assert one.value == -1.0
    assert "beat 4 of the click's bar" in one.message
    assert [one.value for one in told(keys((0.1, 0.1, 0.8)), GUITAR)] == [-1.0]  # in three


def test_it_is_an_error_where_the_others_say_the_same():
    fits = lying("Keys.wav", Role.KEYS, 0.0, shift_beats=1.0, gain_by_state=0.1, saying_so=("Guitar.wav",))
    assert fits.alignment is not None
    bar = keys(LATE).alignment
    assert bar is not None
    both = replace(fits, alignment=replace(fits.alignment, bar_turns=bar.bar_turns))
    (one,) = told(both, GUITAR)
    assert (one.severity.value, one.value) == ("error", 1.0)


BOTH_OTHERS = ("Guitar.wav", "Pad.wav")


@pytest.mark.parametrize(
    ("odd", "told_as"),
    [
        ({}, 1.0),  # the others surely say late: a bass whose fifth on three comes on the fourth beat
        ({"shift_beats": -1.0}, -1.0),  # or the same as the bar
        ({"sure": 0.5}, -1.0),  # or nothing for sure
        ({"saying_so": ("Pad.wav",)}, -1.0),
        ({"against": ("Pad.wav",)}, -1.0),
    ],
)
def test_the_bar_says_nothing_where_the_others_surely_say_the_opposite(odd: dict[str, Any], told_as: float):
    fits = {
        "shift_beats": 1.0, "saying_so": BOTH_OTHERS, "against": (), "sure": 4.3, "sure_without_loudest": 4.0,
        "at_best": 0.4, "at_best_without_loudest": 0.35, "at_zero": 0.1, "half_late": 0.1, "half_early": 0.1,
        "gain_by_changes": 0.3, "gain_by_state": 0.2,
    } | odd  # fmt: skip
    bass = lying("Bass.wav", Role.BASS, fits["shift_beats"], **fits)
    assert bass.alignment is not None
    bar = keys(EARLY).alignment
    assert bar is not None
    both = replace(bass, alignment=replace(bass.alignment, bar_turns=bar.bar_turns))
    (one,) = told(both, GUITAR, turning("Pad.wav", Role.PAD, ON))
    assert one.value == told_as


@pytest.mark.parametrize(
    ("shorter_s", "said"),
    [(0.0, False), (0.5, False), (0.58, True), (0.9, True), (1.1, False), (-0.9, False)],
)
def test_a_file_that_is_shorter_by_about_as_much_says_how_early_it_may_be(shorter_s: float, said: bool):
    short = keys(EARLY)
    assert short.format is not None
    frames = short.format.frames - round(shorter_s * short.format.sample_rate_hz)
    short = replace(short, format=replace(short.format, frames=frames))
    (one,) = told(short, GUITAR, WALKING)
    assert (f"its file is {shorter_s:.3f} s shorter: if its start was cut off" in one.message) is said


def test_chords_on_the_bar_are_silent():
    assert not told(keys(ON), GUITAR)
    assert not told(keys((0.1, 0.1, 0.75, 0.05)), GUITAR)  # two beats: either way
    assert not told(keys((0.2, 0.8)), GUITAR)  # in two, the second is the last


@pytest.mark.parametrize(
    ("share", "first", "more", "expected"),
    [
        (0.66, 0.19, {}, 1), (0.64, 0.19, {}, 0), (0.7, 0.21, {}, 0), (0.7, 0.1, {"bars": 12}, 1),
        (0.7, 0.1, {"bars": 11}, 0), (0.7, 0.1, {"sure": 2.5}, 1), (0.7, 0.1, {"sure": 2.4}, 0),
    ],
)  # fmt: skip
def test_most_of_many_turns(share: float, first: float, more: dict[str, Any], expected: int):
    rest = (1.0 - share - first) / 2.0
    assert len(told(keys((first, rest, rest, share), **more), GUITAR)) == expected


def test_a_figure_that_waits_a_beat_is_meant_so():
    chops = (0.02, 0.49, 0.02, 0.47)
    assert not told(keys(LATE, chops), GUITAR)
    assert told(keys(LATE, (0.13, 0.5, 0.2, 0.17)), GUITAR)
    assert not told(keys(LATE, (0.12, 0.5, 0.2, 0.18)), GUITAR)
    # Nobody's figure begins a beat before the bar.
    assert told(keys(EARLY, (0.02, 0.02, 0.02, 0.94)), GUITAR)


def test_what_begins_on_the_first_beat_and_is_cut_off_before_the_next_bar_is_no_turn():
    assert not told(keys(LATE, (0.9, 0.1, 0.0, 0.0)), GUITAR)


def test_who_does_so_in_another_song_means_it():
    usual = (keys(ON), keys(ON), keys((0.4, 0.5, 0.05, 0.05)))
    assert not told(keys(LATE), GUITAR, elsewhere=usual)
    assert told(keys(LATE), GUITAR, elsewhere=usual[:2])
    assert told(keys(EARLY), GUITAR, elsewhere=usual)


def test_a_custom_is_one_beside_the_bar_in_whatever_metre():
    """Ahead of the bar by a beat in a song in three: its last beat is the third."""
    ahead, on = keys((0.1, 0.1, 0.8)), keys((0.8, 0.1, 0.1))
    assert not told(keys(EARLY), GUITAR, elsewhere=(ahead, keys(ON)))
    assert told(keys((0.05, 0.1, 0.85)), GUITAR, elsewhere=(keys((0.1, 0.1, 0.7, 0.1)), on))
    assert told(keys(EARLY), GUITAR, elsewhere=(keys((0.3, 0.7)), on))  # in two, it is either side


def test_songs_are_counted_and_not_stems():
    thrice = [turning(f"Keys {n}.wav", Role.KEYS, ON) for n in range(3)]
    one_song = show(
        song(HERE, keys(LATE), WALKING, click=click()), song("Glass Orchard", *thrice, click=click())
    )
    assert not findings("shifted-by-beats", one_song)


@pytest.mark.parametrize(("first", "severity"), [(0.04, "warning"), (0.06, "error")])
def test_a_bass_ahead_of_the_chord_that_never_begins_on_it_may_mean_it(first: float, severity: str):
    """On the second half of two and on four, the next chord's root on four: a Latin bass."""
    fits = lying("Bass.wav", Role.BASS, 0.0, shift_beats=-1.0, gain_by_state=0.1, saying_so=("Guitar.wav",))
    bar = turning("Bass.wav", Role.BASS, EARLY, (first, 0.1, 0.3, 0.6 - first)).alignment
    assert fits.alignment is not None
    assert bar is not None
    bass = replace(fits, alignment=replace(fits.alignment, bar_turns=bar.bar_turns))
    (one,) = told(bass, GUITAR)
    assert (one.value, one.severity.value) == (-1.0, severity)


def test_what_only_the_bar_says_is_a_warning_whatever_the_lag():
    fits = lying("Keys.wav", Role.KEYS, 0.0, shift_beats=1.0, gain_by_state=0.019)
    bar = keys(LATE).alignment
    assert fits.alignment is not None
    assert bar is not None
    (one,) = told(replace(fits, alignment=replace(fits.alignment, bar_turns=bar.bar_turns)), GUITAR)
    assert one.severity.value == "warning"


def test_others_that_do_so_too_say_that_the_song_is_so():
    with_it = turning("Organ.wav", Role.LEAD_VOCAL, (0.1, 0.5, 0.2, 0.2))
    assert not told(keys(LATE), GUITAR, with_it)
    assert told(keys(LATE), GUITAR, turning("Piano.wav", Role.LEAD_VOCAL, ON), with_it)


def test_beside_others_that_turn_anywhere_it_is_told_by_three_other_songs():
    assert not told(keys(LATE), WALKING)
    assert not told(keys(LATE), WALKING, elsewhere=(keys(ON), keys(ON)))
    # With nobody beside it, the song itself may begin with an upbeat.
    assert not told(keys(LATE), elsewhere=(keys(ON), keys(ON), keys(ON)))
    (one,) = told(keys(LATE), WALKING, elsewhere=(keys(ON), keys(ON), keys(ON)))
    assert one.message.endswith("those of the keys in 3 other songs on the first")
    assert one.advice.startswith("Listen to it with ")


def test_what_swells_lies_late_in_fast_songs_and_tunes_begin_anywhere():
    def pad(turns: tuple[float, ...]) -> StemEvidence:
        return turning("Pad.wav", Role.PAD, turns, STRUMMED)

    assert not told(pad(LATE), GUITAR)
    assert told(pad(LATE), GUITAR, elsewhere=(pad(ON), pad(ON), pad(ON)))
    assert told(pad(EARLY), GUITAR)
    assert not told(turning("Lead Vox.wav", Role.LEAD_VOCAL, EARLY), GUITAR)


def test_horns_may_begin_before_the_bar():
    """A figure that leads into it; a role that turns with the bar in three other songs has none."""

    def horns(turns: tuple[float, ...]) -> StemEvidence:
        return turning("Horns.wav", Role.BRASS, turns, STRUMMED)

    assert not told(horns(EARLY), GUITAR)
    assert not told(horns(EARLY), GUITAR, elsewhere=(horns(ON), horns(ON)))
    assert told(horns(EARLY), GUITAR, elsewhere=(horns(ON), horns(ON), horns(ON)))


def test_a_guitars_riff_may_begin_beside_the_bar_unless_its_fits_say_so_too():
    riff = turning("Guitar 2.wav", Role.GUITAR, EARLY, STRUMMED)
    strums = (turning("Guitar 2.wav", Role.GUITAR, ON),) * 3
    assert not told(riff, keys(ON), WALKING, elsewhere=strums)
    laid = lying("Guitar 2.wav", Role.GUITAR, 0.0, shift_beats=-1.0, gain_by_state=0.1).alignment
    assert laid is not None
    assert riff.alignment is not None
    both = replace(riff, alignment=replace(laid, bar_turns=riff.alignment.bar_turns))
    assert [one.value for one in told(both, keys(ON), WALKING, elsewhere=strums)] == [-1.0]


def by_lag(
    turns: tuple[float, ...] | None,
    witnesses: tuple[float, ...],
    late: float = 1.0,
    elsewhere: tuple[StemEvidence, ...] = (),
) -> list[Finding]:
    """Keys that two others say are a beat off, and where all three turn."""
    fits = lying(
        "Keys.wav", Role.KEYS, late, shift_beats=late, at_best=0.4, at_best_without_loudest=0.4, at_zero=0.1,
        half_late=0.1, half_early=0.1, gain_by_changes=0.3, gain_by_state=0.3, sure=6.0,
        sure_without_loudest=6.0, saying_so=("Guitar.wav", "Organ.wav"), against=(),
    )  # fmt: skip
    assert fits.alignment is not None
    bar = None
    if turns is not None:
        laid = keys(turns).alignment
        assert laid is not None
        bar = laid.bar_turns
    odd = replace(fits, alignment=replace(fits.alignment, bar_turns=bar))
    others = (
        turning("Guitar.wav", Role.GUITAR, witnesses),
        turning("Organ.wav", Role.LEAD_VOCAL, witnesses),
    )
    return told(odd, *others, elsewhere=elsewhere)


def test_who_keeps_the_bar_better_than_those_that_say_it_is_off_is_not():
    """A skank on two and four makes the bass look early, which turns with the bar."""
    assert not by_lag((0.48, 0.01, 0.05, 0.46), (0.1, 0.4, 0.1, 0.4), late=-1.0)
    assert not by_lag((0.56, 0.23, 0.03, 0.18), (0.8, 0.1, 0.05, 0.05))
    assert by_lag((0.44, 0.12, 0.22, 0.22), (0.1, 0.4, 0.1, 0.4))  # neither is clear


def test_who_alone_keeps_the_click_s_bar_beside_the_whole_band_is_told():
    """An upbeat, or a click that was bounced a beat off: the band's first beat is not the click's."""
    assert by_lag(ON, LATE, late=-1.0)
    assert by_lag(ON, EARLY)
    assert not by_lag(ON, (0.1, 0.45, 0.4, 0.05), late=-1.0)


def test_a_beat_by_the_fits_is_not_told_of_a_role_that_lies_so_in_another_song():
    usual = keys((0.2, 0.6, 0.1, 0.1))
    assert by_lag((0.2, 0.4, 0.2, 0.2), ON)
    assert not by_lag((0.2, 0.4, 0.2, 0.2), ON, elsewhere=(usual,))
    # A walking bass, and strokes on two and four, turn on any beat: no custom.
    assert not by_lag((0.2, 0.4, 0.2, 0.2), ON, elsewhere=(keys((0.2, 0.5, 0.05, 0.25)),))
    assert by_lag((0.2, 0.4, 0.2, 0.2), ON, elsewhere=(keys((0.2, 0.5, 0.04, 0.26)),))
    assert by_lag((0.2, 0.4, 0.2, 0.2), ON, elsewhere=(keys((0.37, 0.5, 0.06, 0.07)),))
    assert by_lag((0.2, 0.2, 0.2, 0.4), ON, late=-1.0, elsewhere=(usual,))


def test_twice_as_many_turns_on_the_bar_as_beside_it_keep_it():
    assert not by_lag((0.46, 0.22, 0.16, 0.16), (0.6, 0.2, 0.1, 0.1))
    assert by_lag((0.46, 0.24, 0.15, 0.15), (0.6, 0.2, 0.1, 0.1))


@pytest.mark.parametrize(
    ("turns", "is_told"),
    [
        (None, True),
        ((0.46, 0.16, 0.16, 0.22), False),
        ((0.46, 0.15, 0.15, 0.24), True),
        ((0.46, 0.24, 0.15, 0.15), False),
        ((0.44, 0.18, 0.18, 0.2), True),
    ],
)
def test_a_beat_beside_its_role_s_habit_is_not_told_of_who_keeps_the_bar(
    turns: tuple[float, ...] | None, is_told: bool
):
    """A pad a beat ahead of where pads lie. Nobody says so: then it takes twice as many as beside it."""
    ahead = pad(-0.5)
    assert ahead.alignment is not None
    bar = None if turns is None else keys(turns).alignment
    odd = replace(
        ahead, alignment=replace(ahead.alignment, bar_turns=bar.bar_turns if bar is not None else None)
    )
    assert bool(told(odd, elsewhere=PADS)) == is_told


def test_a_beat_that_the_bar_does_not_confirm_is_a_warning():
    (clear,) = by_lag((0.2, 0.4, 0.2, 0.2), ON)
    (hardly,) = by_lag((0.21, 0.4, 0.19, 0.2), ON)
    assert (clear.severity.value, hardly.severity.value) == ("error", "warning")
    (unknown,) = by_lag(None, ON)
    assert unknown.severity.value == "error"


@pytest.mark.parametrize(("at_beats", "told_too"), [(1.0, True), (1.28, True), (1.32, False), (0.68, False)])
def test_what_lies_between_two_beats_by_its_fits_plays_a_figure(at_beats: float, told_too: bool):
    """An off-beat guitar fits better a whole beat later than as it stands, and best beside that."""
    fits = lying(
        "Guitar 2.wav", Role.GUITAR, at_beats, shift_beats=1.0, at_best=0.4, at_best_without_loudest=0.4,
        at_zero=0.1, half_late=0.1, half_early=0.1, gain_by_changes=0.3, gain_by_state=0.3, sure=6.0,
        sure_without_loudest=6.0, saying_so=("Keys.wav", "Organ.wav"), against=(),
        place={"by_stem": ()},
    )  # fmt: skip
    others = (keys(ON), turning("Organ.wav", Role.ORGAN, ON))
    assert [one.value for one in told(fits, *others)] == [1.0] * told_too
