"""The lags at which a stem's strokes meet the others': found again, and the same by SciPy's correlation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from audit.measure.coincidence import BIN_S, KERNEL_S
from audit.measure.meeting_lags import APART, MOST, OF_BEST, meeting_lags

REACH_S = 0.45


def figure(seed: int, *, bars: int = 40, beat_s: float = 0.5) -> np.ndarray:
    """Strokes on some of the sixteenths of every bar, another choice in each."""
    rng = np.random.default_rng(seed)
    slots = np.flatnonzero(rng.random(16 * bars) < 0.3)
    return slots * beat_s / 4.0 + rng.normal(0.0, 0.004, len(slots))


@pytest.mark.parametrize("late_ms", [0.0, 20.0, -125.0, 250.0, -250.0, 333.0])
def test_a_stem_that_plays_the_others_figure_meets_them_best_where_it_was_moved_to(late_ms: float):
    times_s = figure(3)
    found = meeting_lags(times_s + late_ms / 1000.0, [times_s[::2], times_s[1::3]], REACH_S)
    best = max(found, key=lambda one: one.height)
    assert best.lag_ms == pytest.approx(late_ms, abs=2.0)
    assert [one.lag_ms for one in found] == sorted(one.lag_ms for one in found)


def test_steady_eighths_meet_a_steady_band_at_every_eighth():
    band = np.arange(0.0, 60.0, 0.25)
    found = meeting_lags(band + 0.02, [band], REACH_S)
    assert [one.lag_ms for one in found] == pytest.approx([-230.0, 20.0, 270.0], abs=1.0)
    heights = [one.height for one in found]
    assert max(heights) - min(heights) < 0.02


def test_it_is_the_correlation_of_both_stroke_trains():
    """Second implementation: scipy.signal.correlate of two trains of 1 ms, each smeared so that the bells of
    both together have the measure's width."""
    times_s, others_s = np.round(figure(5), 3) + 1.0, np.round(figure(6), 3) + 1.0
    length = 1 + round(1000.0 * max(times_s[-1], others_s[-1])) + 500
    trains = []
    for each in (times_s, others_s):
        train = np.zeros(length)
        np.add.at(train, np.rint(each / BIN_S).astype(int), 1.0)
        trains.append(train)
    bell = np.exp(-0.5 * (np.arange(-18, 19) * BIN_S / KERNEL_S) ** 2)
    curve = signal.correlate(np.convolve(trains[0], bell, "same"), trains[1], "full")
    lags = signal.correlation_lags(length, length)
    near = np.abs(lags) <= round(1000.0 * REACH_S)
    curve, lags = curve[near], lags[near]
    best = max(meeting_lags(times_s, [others_s], REACH_S), key=lambda one: one.height)
    assert abs(best.lag_ms - lags[np.argmax(curve)]) <= 1.0
    above = float(curve.max() - curve.mean()) / len(times_s)
    assert best.height == pytest.approx(above, rel=0.03)


def test_few_are_named_and_none_twice():
    rng = np.random.default_rng(7)
    found = meeting_lags(np.sort(rng.uniform(0, 60, 400)), [np.sort(rng.uniform(0, 60, 400))], REACH_S)
    assert 0 < len(found) <= MOST
    assert np.diff([one.lag_ms for one in found]).min() > APART
    heights = [one.height for one in found]
    assert min(heights) > OF_BEST * max(heights)


def test_nothing_meets_nobody():
    empty = np.zeros(0)
    assert meeting_lags(empty, [figure(1)], REACH_S) == ()
    assert meeting_lags(figure(1), [], REACH_S) == ()
    assert meeting_lags(figure(1), [empty], REACH_S) == ()
    assert meeting_lags(np.array([1.0]), [np.array([50.0])], REACH_S) == ()


def test_the_slope_of_a_better_lag_is_none_and_what_meets_little_is_named_nowhere():
    """A hundred strokes meet at once, sixty of them 20 ms on too, and thirty 100 ms on."""
    times_s = np.cumsum(np.random.default_rng(9).uniform(1.0, 1.5, 100))
    others_s = np.sort(np.concatenate([times_s, times_s[:60] - 0.02, times_s[::3] - 0.1]))
    assert [one.lag_ms for one in meeting_lags(times_s, [others_s], REACH_S)] == [0.0]
    nearly = np.sort(np.concatenate([times_s, times_s[:60] - 0.04]))
    assert [one.lag_ms for one in meeting_lags(times_s, [nearly], REACH_S)] == [0.0, 40.0]
