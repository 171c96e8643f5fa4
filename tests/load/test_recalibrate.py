"""The user's own readings: worked least squares, and a second implementation."""

from __future__ import annotations

import numpy as np
import pytest

from audit.errors import UsageError
from audit.load.recalibrate import SPREAD_FOR_LINE, _fit, as_one_core, correct

FORECAST, READING = (12.0, 20.0, 31.0), (16.0, 25.0, 38.0)


def test_one_reading_is_a_factor():
    made = correct([28.0], [35.0])
    assert made.factor == pytest.approx(1.25)
    assert made.constant_pct == 0.0
    assert made.residuals_pct == (pytest.approx(0.0),)


def test_two_readings_go_through_zero():
    made = correct([12.0, 31.0], [16.0, 38.0])
    assert made.factor == pytest.approx((12 * 16 + 31 * 38) / (12**2 + 31**2))
    assert made.constant_pct == 0.0


def test_three_unlike_readings_give_a_line():
    """Worked: β = 1.98718, k = 1.15934; the same by numpy's polynomial fit."""
    made = correct(FORECAST, READING)
    assert (made.constant_pct, made.factor) == (
        pytest.approx(1.98718, abs=1e-5),
        pytest.approx(1.15934, abs=1e-5),
    )
    assert made.residuals_pct == (
        pytest.approx(0.1007, abs=1e-4), pytest.approx(-0.1740, abs=1e-4), pytest.approx(0.0733, abs=1e-4),
    )  # fmt: skip
    assert made.rms_pct == pytest.approx(0.1235, abs=1e-4)
    slope, constant = np.polyfit(FORECAST, READING, 1)
    assert (made.factor, made.constant_pct) == (pytest.approx(slope), pytest.approx(constant))


def test_readings_at_several_buffers_share_a_time_per_callback():
    """The same by numpy's least squares, with the constant twice and half in two of them."""
    shares = (1.0, 2.0, 0.5)
    made = correct(FORECAST, (21.0, 37.0, 40.0), shares)
    (factor, constant), *_ = np.linalg.lstsq(
        np.column_stack([FORECAST, shares]), np.array([21.0, 37.0, 40.0]), rcond=None
    )
    assert (made.factor, made.constant_pct) == (pytest.approx(factor), pytest.approx(constant))
    assert made.constant_pct > 5.0


def test_like_work_at_several_buffers_gives_a_factor_only():
    """Forecasts that differ by the buffer alone tell the player's own load from a slow machine as little."""
    made = correct((10.0, 20.0, 40.0), (14.0, 28.0, 56.0), (1.0, 2.0, 4.0))
    assert (made.factor, made.constant_pct) == (pytest.approx(1.4), 0.0)


def test_three_like_readings_give_a_factor_only():
    """Through zero the worked readings give k = 1.24252 with residuals +1.0897, +0.1495, −0.5183."""
    assert max(FORECAST) / min(FORECAST) >= SPREAD_FOR_LINE
    factor = sum(p * o for p, o in zip(FORECAST, READING, strict=True)) / sum(p * p for p in FORECAST)
    assert factor == pytest.approx(1.24252, abs=1e-5)
    assert [o - factor * p for p, o in zip(FORECAST, READING, strict=True)] == pytest.approx(
        [1.0897, 0.1495, -0.5183], abs=1e-4
    )
    near = (16.0, 20.0, 31.0)
    assert max(near) / min(near) < SPREAD_FOR_LINE
    assert _fit(near, READING, (1.0, 1.0, 1.0))[1] == 0.0


def test_a_negative_constant_is_dropped():
    made = correct((10.0, 20.0, 40.0), (8.0, 20.0, 44.0))
    assert made.constant_pct == 0.0


@pytest.mark.parametrize(
    ("p", "o", "words"),
    [
        ([10.0], [101.0], "10 times as loaded"),
        ([1.4], [350.0], "250 times as loaded"),
        ([10.0], [1.9], "0.19 times as loaded"),
        ([10.0, 20.0, 30.0], [30.0, 10.0, 40.0], "do not belong to one machine"),
        ([0.0], [10.0], "forecast of that song is nothing"),
        ([], [], "no reading"),
    ],
)
def test_nonsense_is_refused(p: list[float], o: list[float], words: str):
    with pytest.raises(UsageError, match=words):
        correct(p, o)


@pytest.mark.parametrize(("p", "o"), [(1.4, 35.0), (1.4, 20.0), (10.0, 51.0), (10.0, 100.0)])
def test_what_no_slower_machine_explains_is_the_players_own_load(p: float, o: float):
    made = correct([p], [o])
    assert (made.factor, made.constant_pct) == (1.0, pytest.approx(o - p))


def test_two_readings_of_a_busy_player_share_its_own_load():
    """Worked: 20 − 1.5 and 22 − 2.5 are 18.5 and 19.5, so 19 on the mean, with ∓ 0.5 left over."""
    made = correct([1.5, 2.5], [20.0, 22.0])
    assert (made.factor, made.constant_pct) == (1.0, pytest.approx(19.0))
    assert made.residuals_pct == (pytest.approx(-0.5), pytest.approx(0.5))


def test_a_meter_that_hardly_follows_the_songs_shows_the_players_own_load():
    """Worked: the line of these has a slope of 0.1, less than any machine; 12 − 2 is 10."""
    made = correct([1.0, 2.0, 3.0], [11.9, 12.0, 12.1])
    assert (made.factor, made.constant_pct) == (1.0, pytest.approx(10.0))


@pytest.mark.parametrize("reading", [2.0, 50.0])
def test_factors_at_the_limits_are_taken(reading: float):
    assert correct([10.0], [reading]).factor == pytest.approx(reading / 10)


def test_meters_of_the_whole_machine_are_turned_into_one_core():
    assert as_one_core(10.0, whole_machine=True, cores=4) == 40.0
    assert as_one_core(10.0, whole_machine=False, cores=4) == 10.0
