"""SideDelayMeter: the correlation of two sides whose delay is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from audit.measure.side_delay import SideDelayMeter
from audit.results import SideDelay
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.signals import Samples

RATE_HZ = 48_000


def between(left: Samples, right: Samples, *, size: int = 65_536, rate_hz: int = RATE_HZ) -> SideDelay | None:
    return fed(SideDelayMeter(rate_hz, 2), beside(left, right), size).result()


def late(samples: Samples, frames: int) -> Samples:
    return np.roll(samples, frames, axis=0)


@pytest.mark.parametrize("frames", [0, 3, 24, 48, -17])
def test_a_side_upside_down_and_late(frames: int):
    take = signals.music_bed(3.0, channels=1)[0]
    found = between(take, -late(take, frames))
    assert found is not None
    assert found.lowest == pytest.approx(-1.0, abs=0.01)
    assert found.lowest_at_ms == pytest.approx(frames / 48.0)


def test_later_than_a_millisecond_is_not_looked_for():
    take = signals.noise(2.0)[0]
    found = between(take, -late(take, 60))
    assert found is not None
    assert found.lowest > -0.05


def test_the_same_way_up():
    take = signals.noise(2.0)[0]
    found = between(take, late(take, 20))
    assert found is not None
    assert found.highest == pytest.approx(1.0, abs=0.01)
    assert found.lowest > -0.05


def test_as_scipy_correlates():
    left, right = signals.music_bed(2.0, seed=3)[0][:, :1], signals.music_bed(2.0, seed=4)[0][:, 1:]
    lags = signal.correlation_lags(len(left), len(right))
    product = signal.correlate(right[:, 0].astype(float), left[:, 0].astype(float))
    near = product[np.abs(lags) <= 48] / np.sqrt((left**2).sum() * (right**2).sum())
    found = between(left, right)
    assert found is not None
    # Theirs of the whole, ours of Hann-weighted windows.
    assert found.lowest == pytest.approx(near.min(), abs=0.05)
    assert found.highest == pytest.approx(near.max(), abs=0.05)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_any_block_size_gives_the_same(size: int):
    left, right = signals.noise(1.5)[0], signals.noise(1.5, seed=2)[0]
    assert between(left, right, size=size) == between(left, right, size=len(left))


def test_gain_changes_nothing_and_swapping_turns_the_lag():
    take = signals.noise(2.0)[0]
    plain, swapped = between(take, -late(take, 12)), between(-late(take, 12), signals.turn(take, -9.0))
    assert plain is not None
    assert swapped is not None
    assert swapped.lowest == pytest.approx(plain.lowest, abs=1e-6)
    assert swapped.lowest_at_ms == -plain.lowest_at_ms


def test_no_pair_no_answer():
    noise, nothing = signals.noise(1.0)[0], signals.silence(1.0)[0]
    assert between(noise, nothing) is None
    assert fed(SideDelayMeter(RATE_HZ, 1), noise).result() is None
    assert fed(SideDelayMeter(RATE_HZ, 4), beside(noise, noise, noise, noise)).result((1, 2)) is None
