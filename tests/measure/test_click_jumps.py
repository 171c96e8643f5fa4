"""A click that goes on beside its old beats: where, by how much, and who goes with it."""

from __future__ import annotations

from array import array
from collections.abc import Sequence

import numpy as np
import pytest

from audit.measure.click_jumps import find_jumps, repaired, with_stems
from audit.results import ClickJump, Onsets

BEAT_S, BEATS, AFTER = 0.5, 128, 63
BAR = np.arange(BEATS) % 4 == 0

BACKBEAT = ((0.0, 60.0), (1.0, 110.0), (1.5, 40.0), (2.0, 70.0), (3.0, 110.0))
RIFF = ((0.0, 90.0), (0.75, 60.0), (2.0, 80.0), (2.5, 50.0))
CHORDS = ((0.0, 100.0), (2.0, 70.0))
EIGHTHS = tuple((0.5 * number, 80.0) for number in range(8))


def beats(jump_s: float = 0.0) -> np.ndarray:
    """Sixty-four beats at 120, and as many after them, moved."""
    at_s = 1.0 + BEAT_S * np.arange(BEATS)
    at_s[AFTER + 1 :] += jump_s
    return at_s


def played(pattern: Sequence[tuple[float, float]], jump_s: float = 0.0, bars: int = BEATS // 4) -> Onsets:
    """A bar's strokes (beat, strength) through the song, as people play them; from the jump on moved."""
    rng = np.random.default_rng(len(pattern))
    strokes = []
    for bar in range(bars):
        for beat, strength in pattern:
            later_s = jump_s if 4 * bar + beat > AFTER else 0.0
            strokes.append(
                (1.0 + BEAT_S * (4 * bar + beat) + later_s + 0.006 * rng.standard_normal(), strength)
            )
    strokes.sort()
    return Onsets(
        times_s=array("d", [one for one, _ in strokes]), strengths_db=array("f", [one for _, one in strokes])
    )


def told(jump_s: float, moved_s: float, *patterns: Sequence[tuple[float, float]]) -> ClickJump:
    """What is told of a click that jumps, beside stems that are moved there."""
    stems = [played(pattern, moved_s) for pattern in patterns]
    jumps = find_jumps(beats(jump_s), BAR, 4)
    names = [f"Stem {number}.wav" for number in range(len(stems))]
    (jump,) = with_stems(beats(jump_s), jumps, stems, names, 4, drums=names[:1])
    return jump


@pytest.mark.parametrize("jump_s", [-0.2, -0.06, -0.012, 0.012, 0.04, 0.125, 0.25, 0.75])
def test_a_jump_is_found_with_its_place_and_size(jump_s: float):
    (jump,) = find_jumps(beats(jump_s), BAR, 4)
    assert (jump.after, jump.beat_s) == (AFTER, pytest.approx(BEAT_S))
    # A beat and a half: the bar counts on, so none of its beats is missing.
    assert jump.by_s == pytest.approx(jump_s)


@pytest.mark.parametrize("jump_s", [0.0, 0.008, -0.008, 2.6])
def test_what_stays_on_its_beats_or_rests_for_more_than_a_bar_is_no_jump(jump_s: float):
    assert find_jumps(beats(jump_s), BAR, 4) == []


@pytest.mark.parametrize(("counts_on", "by_s"), [(True, [1.0]), (False, [])])
def test_whole_beats_are_a_jump_where_the_bar_waits_for_them(counts_on: bool, by_s: list[float]):
    accents = BAR if counts_on else np.where(np.arange(BEATS) > AFTER, np.arange(BEATS) % 4 == 2, BAR)
    assert [jump.by_s for jump in find_jumps(beats(1.0), accents, 4)] == pytest.approx(by_s)


def test_beats_that_are_missing_are_no_part_of_a_jump():
    """Without accents two beats are missing, and what follows is 40 ms late."""
    (jump,) = find_jumps(beats(1.04), np.zeros(BEATS, dtype=bool), None)
    assert jump.by_s == pytest.approx(0.04)


def test_another_tempo_and_one_that_slows_down_are_no_jumps():
    step = np.concatenate((np.full(64, 0.5), [0.6], np.full(64, 0.55)))
    assert find_jumps(np.cumsum(step), np.zeros(129, dtype=bool), None) == []
    held = np.concatenate((np.full(64, 0.5), [0.52, 0.55, 0.6, 0.9], np.full(64, 0.5)))
    assert find_jumps(np.cumsum(held), np.zeros(132, dtype=bool), None) == []


def test_a_click_drawn_from_a_live_take_has_no_jumps():
    rng = np.random.default_rng(3)
    assert (
        find_jumps(np.cumsum(0.5 + 0.012 * rng.standard_normal(200)), np.zeros(200, dtype=bool), None) == []
    )


@pytest.mark.parametrize("jump_s", [-0.1, 0.04, 0.1, 0.125, 0.25, 0.5, 0.75])
def test_where_the_music_plays_on_the_click_was_moved(jump_s: float):
    jump = told(jump_s, 0.0, BACKBEAT, RIFF, CHORDS)
    assert jump.by_s == pytest.approx(jump_s)
    assert len(jump.kept) >= 2  # a backbeat is nearly the same a beat later
    assert jump.went == ()
    assert jump.click_alone


@pytest.mark.parametrize("jump_s", [-0.1, 0.04, 0.1, 0.125, 0.25, 0.5, 0.75])
def test_where_the_music_waits_with_it_the_click_is_right(jump_s: float):
    """A held chord, a bar of seven eighths, a breath before the chorus."""
    jump = told(jump_s, jump_s, BACKBEAT, RIFF, CHORDS)
    assert jump.kept == ()
    assert len(jump.went) >= 2
    assert not jump.click_alone


def test_even_eighths_do_not_tell_of_half_a_beat():
    jump = told(0.25, 0.0, EIGHTHS, EIGHTHS)
    assert (jump.kept, jump.went, jump.click_alone) == ((), (), False)


def test_one_that_goes_with_the_click_among_many_is_a_leak_or_a_mistake_of_its_own():
    stems = [played(one) for one in (BACKBEAT, RIFF, CHORDS)] + [played(CHORDS, 0.1)]
    jumps = find_jumps(beats(0.1), BAR, 4)
    (jump,) = with_stems(beats(0.1), jumps, stems, ["a", "b", "c", "d"], 4)
    assert (jump.kept, jump.went, jump.click_alone) == (("a", "b", "c"), ("d",), True)
    (jump,) = with_stems(beats(0.1), jumps, stems[1:], ["b", "c", "d"], 4)
    assert not jump.click_alone


@pytest.mark.parametrize(
    ("jump_s", "pattern", "alone"),
    [
        (0.1, BACKBEAT, True),
        (0.1, CHORDS, False),  # 31 strokes on a side
        (0.25, BACKBEAT, False),  # it may play the other eighths from there on
    ],
)
def test_a_stem_by_itself_tells_only_what_is_sure(
    jump_s: float, pattern: Sequence[tuple[float, float]], alone: bool
):
    jump = told(jump_s, 0.0, pattern)
    assert len(jump.kept) == 1
    assert jump.click_alone is alone


def test_few_strokes_after_the_jump_tell_nothing():
    jumps = find_jumps(beats(0.1), BAR, 4)
    stems = [played(BACKBEAT, bars=18), played(RIFF, bars=18)]
    (jump,) = with_stems(beats(0.1), jumps, stems, ["a", "b"], 4)
    assert (jump.kept, jump.click_alone) == ((), False)


def jump_at(at_s: float, by_s: float, *, alone: bool = True) -> ClickJump:
    return ClickJump(
        last_s=at_s - 0.5 - by_s, at_s=at_s, by_s=by_s, beat_s=0.5, kept=(), went=(), click_alone=alone
    )


def test_the_repaired_click_is_one_run():
    at_s = beats(0.25)
    moved_s, runs = repaired(at_s, [(0, 64), (64, 64)], [jump_at(float(at_s[64]), 0.25)])
    assert moved_s == pytest.approx(beats())
    assert runs == [(0, 128)]


def test_a_click_that_music_goes_with_is_left_as_it_is():
    at_s = beats(0.25)
    moved_s, runs = repaired(at_s, [(0, 64), (64, 64)], [jump_at(float(at_s[64]), 0.25, alone=False)])
    assert moved_s == pytest.approx(at_s)
    assert runs == [(0, 64), (64, 64)]


def test_off_beats_of_a_chorus_are_half_a_beat_off_to_nobody_but_drums():
    """After a bar of seven eighths keys and guitars play between the beats; drums do not."""
    jumps = find_jumps(beats(-0.25), BAR, 4)
    stems = [played(one) for one in (BACKBEAT, RIFF, CHORDS)]
    (jump,) = with_stems(beats(-0.25), jumps, stems, ["Keys", "Gtr", "Organ"], 4)
    assert len(jump.kept) >= 2
    assert not jump.click_alone
    (jump,) = with_stems(beats(-0.25), jumps, stems, ["Drums", "Gtr", "Organ"], 4, drums=["Drums"])
    assert jump.click_alone


def test_a_bar_of_two_later_in_the_song_does_not_make_missing_beats_a_jump():
    whole = 2.0 + 0.5 * np.arange(160)
    accents = np.concatenate([np.arange(82) % 4 == 0, np.arange(78) % 4 == 0])
    kept = ~np.isin(np.arange(160), [61, 62])
    assert find_jumps(whole[kept], accents[kept], 4) == []


def test_a_bar_of_two_far_from_a_jump_does_not_hide_it():
    """Two beats too late at row 62, while the bar counts on; the bar of two is ten bars later."""
    at_s = 2.0 + 0.5 * np.arange(160) + np.where(np.arange(160) > 61, 1.0, 0.0)
    accents = np.concatenate([np.arange(102) % 4 == 0, np.arange(58) % 4 == 0])
    assert [jump.by_s for jump in find_jumps(at_s, accents, 4)] == pytest.approx([1.0])


@pytest.mark.parametrize(("counted", "count"), [(4, 1), (8, 1), (3, 0)])
def test_a_count_in_of_four_tells_where_the_first_bar_should_have_been(counted: int, count: int):
    at_s = 1.0 + BEAT_S * np.arange(BEATS)
    at_s[counted:] += 0.06
    found = find_jumps(at_s, BAR, 4)
    assert [(jump.after, round(jump.by_s, 3)) for jump in found] == [(counted - 1, 0.06)] * count
