"""first_and_last: on which beats of the click a stem begins and ends."""

from __future__ import annotations

from array import array

import numpy as np
import pytest

from audit.measure.first_last import FEWEST, first_and_last
from audit.results import Onsets

CLICK = 2.0 + 0.5 * np.arange(100)


def struck(*times_s: float, db: float = 40.0, faint: tuple[int, ...] = ()) -> Onsets:
    strengths = [4.0 if number in faint else db for number in range(len(times_s))]
    return Onsets(times_s=array("d", times_s), strengths_db=array("f", strengths))


def eighths(first_s: float, last_s: float) -> list[float]:
    return np.arange(first_s, last_s + 0.01, 0.25).tolist()


@pytest.mark.parametrize("late_s", [0.0, 0.5, -0.5, 0.02, 1.25])
def test_beats_are_counted_from_the_clicks_first(late_s: float):
    found = first_and_last(struck(*(one + late_s for one in eighths(4.0, 40.0))), CLICK)
    assert found is not None
    assert found.first_beats == pytest.approx(4.0 + late_s / 0.5)
    assert found.last_beats == pytest.approx(76.0 + late_s / 0.5)
    assert found.strokes == 145


def test_outside_the_click_its_beat_is_counted_on():
    found = first_and_last(struck(*eighths(1.0, 60.0)), CLICK)
    assert found is not None
    assert found.first_beats == pytest.approx(-2.0)
    assert found.last_beats == pytest.approx(116.0)


def test_a_change_of_tempo_is_followed():
    click = np.concatenate([2.0 + 0.5 * np.arange(50), 27.0 + 0.4 * np.arange(50)])
    found = first_and_last(struck(*click[10:90]), click)
    assert found is not None
    assert (found.first_beats, found.last_beats) == (pytest.approx(10.0), pytest.approx(89.0))


def test_ripples_and_the_files_first_frame_are_no_strokes():
    times = [0.0, 3.0, *eighths(4.0, 20.0), 21.3]
    found = first_and_last(struck(*times, faint=(1, len(times) - 1)), CLICK)
    assert found is not None
    assert (found.first_beats, found.last_beats) == (pytest.approx(4.0), pytest.approx(36.0))


@pytest.mark.parametrize(("before_s", "first"), [(3.1, 4.0), (2.9, -1.8)])
def test_hiss_that_begins_is_no_stroke(before_s: float, first: float):
    """A moved file begins with nothing, and then with its hiss: 6.2 beats before the next stroke, or 5.8."""
    found = first_and_last(struck(4.0 - before_s, *eighths(4.0, 40.0)), CLICK)
    assert found is not None
    assert found.first_beats == pytest.approx(first)


def test_too_little_to_tell_by():
    assert first_and_last(struck(*eighths(4.0, 4.0 + 0.25 * (FEWEST - 1))), CLICK) is not None
    assert first_and_last(struck(*eighths(4.0, 4.0 + 0.25 * (FEWEST - 2))), CLICK) is None
    assert first_and_last(None, CLICK) is None
    assert first_and_last(struck(*eighths(4.0, 20.0)), CLICK[:1]) is None


def test_on_how_many_beats_it_strikes():
    """Counted from its first stroke: late or early it strikes as often."""
    for late_s in (0.0, 0.03, 0.5, -0.2):
        through = first_and_last(struck(*(one + late_s for one in eighths(4.0, 40.0))), CLICK)
        claps = first_and_last(struck(*(one + late_s for one in np.arange(4.5, 40.0, 1.0))), CLICK)
        swung = first_and_last(struck(*(one + late_s for one in np.arange(4.0, 40.0, 1.5))), CLICK)
        assert through is not None
        assert claps is not None
        assert swung is not None
        assert through.on_beats == 1.0
        assert claps.on_beats == pytest.approx(0.5, abs=0.02)
        assert swung.on_beats == pytest.approx(1 / 3, abs=0.02)
