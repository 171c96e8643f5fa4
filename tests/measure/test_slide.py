"""Lines through offsets: planted slopes, honest bounds, wild points, and a second implementation."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.slide import agreed_slope, fit_line


def points(
    seed: int, ppm: float, *, count: int = 200, jitter_s: float = 0.004
) -> tuple[np.ndarray, np.ndarray]:
    random = np.random.default_rng(seed)
    at_s = np.sort(random.uniform(5.0, 245.0, count))
    return at_s, 0.01 + ppm * 1e-6 * (at_s - 125.0) + jitter_s * random.standard_normal(count)


@pytest.mark.parametrize("ppm", [0.0, 20.0, -200.0, 1000.0])
def test_planted_slopes(ppm: float):
    line = fit_line(*points(1, ppm))
    assert line.slope * 1e6 == pytest.approx(ppm, abs=12.0)
    assert line.offset_s == pytest.approx(0.01, abs=0.002)


def test_beside_theil_and_sen():
    """scipy.stats.theilslopes (Theil 1950, Sen 1968), another robust line, on a quarter of wild points."""
    from scipy.stats import theilslopes

    at_s, off_s = points(2, 300.0)
    random = np.random.default_rng(9)
    wild = random.choice(len(at_s), len(at_s) // 4, replace=False)
    off_s[wild] = random.uniform(-0.2, 0.2, len(wild))
    ours = fit_line(at_s, off_s)
    theirs = theilslopes(off_s, at_s)[0]
    assert ours.slope * 1e6 == pytest.approx(300.0, abs=15.0)
    assert ours.slope * 1e6 == pytest.approx(theirs * 1e6, abs=40.0)


def test_the_bounds_hold_what_they_promise():
    """Of 300 lines about 95 % lie within 1.96 standard errors of the truth."""
    inside = 0
    for seed in range(300):
        line = fit_line(*points(1000 + seed, 50.0, count=80))
        inside += abs(line.slope - 50e-6) <= 1.96 * line.error
    assert 0.90 <= inside / 300 <= 0.99


def test_wandering_players_get_wider_bounds():
    at_s, off_s = points(3, 0.0)
    wander = 0.004 * np.sin(at_s / 9.0)
    assert fit_line(at_s, off_s + wander).error > 1.3 * fit_line(at_s, off_s).error


def test_doubling_the_offsets_doubles_the_slope():
    at_s, off_s = points(4, 100.0, jitter_s=0.002)
    assert fit_line(at_s, 2.0 * off_s).slope == pytest.approx(2.0 * fit_line(at_s, off_s).slope, rel=0.02)


@pytest.mark.parametrize("ppm", [-1000.0, -200.0, 0.0, 200.0, 1000.0])
def test_the_slope_that_most_onsets_agree_on(ppm: float):
    """A stem that slides by 240 ms crosses its neighbours' eighths on the way, and is followed."""
    grid_s = 2.0 + 0.25 * np.arange(960)
    random = np.random.default_rng(6)
    played = np.sort(grid_s[random.random(960) < 0.6])
    times_s = played * (1.0 + ppm * 1e-6) + 0.003 * random.standard_normal(len(played))
    slope, lag_s, met = agreed_slope(times_s, grid_s, reach_s=0.25, most_ppm=2500.0)
    assert slope * 1e6 == pytest.approx(ppm, abs=30.0)
    assert lag_s == pytest.approx(ppm * 1e-6 * 0.5 * (times_s[0] + times_s[-1]), abs=0.01)
    assert met > 0.5 * len(times_s)
