"""A stem that marks the beat in a figure of its own is placed by its strokes on the beats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import circmean

from audit.measure.beatgrid import BeatGrid
from audit.measure.own_beat import FEWEST, gathering, on_its_own_beat
from tests.measure.test_alignment_of_stems import BEATS, aligned, part

GRID = BeatGrid(BEATS, [(0, len(BEATS))])
BEAT_S = 0.5

OTHERS = [part(seed, (0.0, 0.5)) for seed in (2, 3, 4)]


def swung_hats(*, late_s: float = 0.0, often: float = 0.97, swing: float = 0.61) -> np.ndarray:
    """Strokes on the beats, and hats between them where nobody else plays."""
    on = part(7, (0.0,), often=often, late_s=late_s)
    between = part(8, (swing - 0.2, swing, swing + 0.2), often=0.75, late_s=late_s)
    return np.sort(np.concatenate([on, between]))


@pytest.mark.parametrize("late_s", [-0.1, -0.06, -0.015, 0.0, 0.015, 0.06, 0.1])
def test_swung_hats_among_straight_players_are_placed_by_the_beats(late_s: float):
    """Three of four of their strokes meet nobody's."""
    first, *_ = aligned(swung_hats(late_s=late_s), *OTHERS)
    assert first.phase is not None
    assert first.phase.offset_ms == pytest.approx(1000 * late_s, abs=1.5)
    assert first.phase.confidence > 0.8
    assert type(first.phase.confidence) is float  # a result is kept on disk as it is
    assert first.phase.share < 0.5


@pytest.mark.parametrize("late_s", [-0.03, 0.0, 0.04])
def test_place_is_the_circular_mean_of_the_strokes_on_the_beats(late_s: float):
    """Second implementation: scipy.stats.circmean of the strokes near the densest place of the beat."""
    times_s = swung_hats(late_s=late_s)
    own = on_its_own_beat(times_s, GRID, 0.0)
    assert own is not None
    phases = GRID.phases(times_s)
    near = phases[np.abs(phases * BEAT_S - late_s) <= 0.025]
    mean = circmean(near, high=0.5, low=-0.5) * BEAT_S
    assert float(np.median(own.off_s)) == pytest.approx(mean, abs=0.001)


def test_the_bands_own_beat_is_taken_off():
    own = on_its_own_beat(swung_hats(late_s=0.03), GRID, 0.02)  # the band plays 10 ms late
    assert own is not None
    assert float(np.median(own.off_s)) == pytest.approx(0.02, abs=0.001)


@pytest.mark.parametrize(("beats_struck", "told"), [(0.84, True), (0.74, False)])
def test_it_has_to_mark_most_beats(beats_struck: float, told: bool):
    times_s = np.sort(
        np.concatenate([BEATS[(np.arange(240) * 7) % 50 < round(50 * beats_struck)], BEATS[-1:]])
    )
    assert (on_its_own_beat(times_s, GRID, 0.0) is not None) is told


@pytest.mark.parametrize(("ratio", "told"), [(1.2, True), (1.1, False)])
def test_more_strokes_have_to_gather_there_than_anywhere_else(ratio: float, told: bool):
    between = BEATS[: round(240 / ratio)] + 0.3
    assert (on_its_own_beat(np.sort(np.concatenate([BEATS, between])), GRID, 0.0) is not None) is told


@pytest.mark.parametrize(("late_s", "told"), [(0.109, True), (0.111, False), (-0.109, True), (-0.111, False)])
def test_far_from_the_click_it_may_be_an_off_beat(late_s: float, told: bool):
    assert (on_its_own_beat(BEATS + late_s, GRID, 0.0) is not None) is told


@pytest.mark.parametrize(("strokes", "told"), [(FEWEST, True), (FEWEST - 1, False)])
def test_few_strokes_say_nothing(strokes: int, told: bool):
    assert (on_its_own_beat(BEATS[:strokes], GRID, 0.0) is not None) is told


def test_beats_are_counted_where_the_tempo_changes():
    """A rallentando, each beat a hundredth longer: by the usual length some would be counted twice."""
    beats = np.cumsum(0.5 * 1.01 ** np.arange(60))
    grid = BeatGrid(beats, [(0, len(beats))])
    own = on_its_own_beat(beats + 0.01, grid, 0.0)
    assert own is not None
    assert own.beats == 1.0


def test_who_meets_the_others_pattern_is_placed_by_all_its_strokes():
    first, *_ = aligned(part(1, (0.0, 0.5), late_s=0.02), *OTHERS)
    assert first.phase is not None
    assert first.phase.share > 0.95


def test_gathering_goes_round_the_beat():
    """Strokes just before the next beat's middle and just after this one's are neighbours."""
    assert gathering(np.array([-0.249, 0.0, 0.248]), 0.5).tolist() == [2.0, 1.0, 2.0]


@pytest.mark.parametrize(("rest", "told"), [(8, True), (6, False)])
def test_a_rest_of_two_bars_is_no_part_of_what_it_plays_over(rest: int, told: bool):
    """A breakdown: without strokes it marks no beats, and is not asked to."""
    step = 24
    played = np.arange(240) % step < step - rest
    played[-1] = True
    assert (on_its_own_beat(BEATS[played], GRID, 0.0) is not None) is told


def test_who_strikes_where_the_others_do_is_not_moved_there():
    """A shaker on the swung sixteenth before the beat, where a synth plays too, stands where it should."""
    shaker = part(7, (5 / 6,), often=0.95)
    straight = [part(seed, (0.0, 0.5)) for seed in (2, 3, 4)]
    first, *_ = aligned(shaker, *straight, part(5, (0.0, 5 / 6)))
    assert first.phase is not None
    assert abs(first.phase.offset_ms) < 2.0


@pytest.mark.parametrize(("beside_s", "told"), [(0.024, True), (0.026, False)])
def test_strokes_within_25_ms_are_of_one_place(beside_s: float, told: bool):
    """Four of ten beats are struck a little later: with them it marks all beats, else six of ten."""
    late = (np.arange(240) * 7) % 10 < 4
    assert (on_its_own_beat(BEATS + np.where(late, beside_s, 0.0), GRID, 0.0) is not None) is told
