"""Musical time: tempo, ramps and metres come out where arithmetic says."""

from __future__ import annotations

import pytest

from audit.demo.grid import FOUR_FOUR, SEVEN_EIGHT, SIX_EIGHT, Grid, Stretch
from audit.demo.score import Chord, Composition, Section, near


def grid(*stretches: Stretch, first_beat_s: float = 2.0) -> Grid:
    return Grid(first_beat_s=first_beat_s, stretches=stretches)


def test_a_steady_tempo_counts_in_half_seconds():
    steady = grid(Stretch(beats=16, bpm=120))
    assert [steady.at_s(beat) for beat in (-4, 0, 1, 16, 20)] == pytest.approx([0.0, 2.0, 2.5, 10.0, 12.0])
    assert steady.frame(1, 44_100) == 110_250


def test_a_ramp_agrees_with_adding_up_small_steps():
    """Second implementation: the beat's length summed over ten thousand slices."""
    ramp = Stretch(beats=24, bpm=90, end_bpm=140)
    slices = 10_000
    for beat in (1, 7.5, 24):
        summed = sum(
            60 * beat / slices / (90 + (140 - 90) * (number + 0.5) * beat / slices / 24)
            for number in range(slices)
        )
        assert grid(ramp).at_s(beat) - 2.0 == pytest.approx(summed, abs=1e-7)
    assert grid(ramp).at_s(25) - grid(ramp).at_s(24) == pytest.approx(60 / 140)


def test_stretches_follow_one_another():
    two = grid(Stretch(beats=4, bpm=60), Stretch(beats=4, bpm=120), first_beat_s=0.0)
    assert [two.at_s(beat) for beat in (4, 6, 8, 9)] == pytest.approx([4.0, 5.0, 6.0, 6.5])


@pytest.mark.parametrize(
    ("metre", "eighths", "pulses"),
    [(FOUR_FOUR, 8, (0, 1, 2, 3)), (SIX_EIGHT, 6, (0, 3)), (SEVEN_EIGHT, 7, (0, 2, 4))],
    ids=lambda value: getattr(value, "text", None),
)
def test_metres_group_their_eighths(metre, eighths: int, pulses: tuple[float, ...]):
    assert metre.eighths == eighths
    assert metre.pulses == pulses


def song(**more: float) -> Composition:
    section = Section(name="verse", bars=3, chords=("Am", "F"), energy=0.5)
    return Composition(title="Test", key="A minor", bpm=120, sections=(section,), **more)


def test_full_swing_puts_the_off_beat_on_the_third_triplet():
    assert song(swing=1.0).swung(2.5) == pytest.approx(2 + 2 / 3)
    assert song(swing=1.0).swung(2.25) == pytest.approx(2 + 1 / 3)
    assert [song(swing=1.0).swung(beat) for beat in (2.0, 3.0)] == [2.0, 3.0]
    assert song().swung(2.5) == 2.5


def test_the_form_is_walked_bar_by_bar():
    bars = song().bars()
    assert [bar.chord.text for bar in bars] == ["Am", "F", "Am"]
    assert [bar.beat for bar in bars] == [0, 4, 8]
    assert [bar.final for bar in bars] == [False, False, True]
    assert song(count_in_bars=2).grid.first_beat_s == pytest.approx(0.5 + 8 * 0.5)


def test_chords_are_spelt_and_voiced_closely():
    assert Chord("F#m7").classes == (6, 9, 1, 4)
    assert Chord("Bbmaj7").classes == (10, 2, 5, 9)
    assert all(abs(pitch - 60) <= 6 for pitch in Chord("Gsus4").voiced(60))
    assert near(9, 60) == 57
    assert near(6, 60) == 54
