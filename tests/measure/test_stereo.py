"""StereoMeter: pairs whose picture is known by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from audit.measure.stereo import StereoMeter
from audit.results import Stereo
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed

RATE_HZ = 48_000
LEFT = signals.noise(2.0, seed=1)[0]
OTHER = signals.noise(2.0, seed=2)[0]


def stereo(samples: signals.Samples, part: tuple[int, ...] | None = None, size: int = 65_536) -> Stereo:
    result = fed(StereoMeter(RATE_HZ, samples.shape[1]), samples, size).result(part)
    assert result is not None
    return result


@pytest.mark.parametrize("difference_db", [-60.0, -89.0, -91.0, -120.0])
def test_sides_alike_but_for_a_trace_are_told_apart(difference_db):
    # L−R is the trace; L and R together have twice the noise's energy.
    trace = OTHER * np.float32(10 ** (difference_db / 20) * math.sqrt(2))
    right = LEFT.astype(np.float64) + trace
    result = stereo(beside(LEFT, right.astype(np.float32)))
    # float32 rounds at −150 dB of each sample: 0.1 dB at most of a trace at −120 dB.
    assert result.difference_db == pytest.approx(difference_db, abs=0.2)
    assert result.correlation == pytest.approx(1.0, abs=1e-5)


def test_identical_sides_have_no_difference():
    result = stereo(beside(LEFT, LEFT))
    assert result.difference_db == -math.inf
    assert result.mid_side_db == math.inf
    assert result.correlation == pytest.approx(1.0)
    assert result.imbalance_db == 0.0


def test_opposed_sides_cancel():
    result = stereo(beside(LEFT, -LEFT))
    assert result.correlation == pytest.approx(-1.0)
    assert result.mid_side_db == -math.inf
    assert result.difference_db == pytest.approx(10 * math.log10(2), abs=1e-9)


def test_independent_sides_are_uncorrelated():
    result = stereo(beside(LEFT, OTHER))
    assert abs(result.correlation) < 0.02
    assert abs(result.mid_side_db) < 0.2


@pytest.mark.parametrize("lower_db", [11.9, 12.1, 3.0])
def test_a_quieter_side_shows_as_imbalance_only(lower_db):
    result = stereo(beside(LEFT, signals.turn(LEFT, -lower_db)))
    assert result.imbalance_db == pytest.approx(lower_db, abs=0.001)
    assert result.correlation == pytest.approx(1.0, abs=1e-6)
    swapped = stereo(beside(signals.turn(LEFT, -lower_db), LEFT))
    assert swapped.imbalance_db == pytest.approx(-lower_db, abs=0.001)


def test_one_silent_side():
    result = stereo(beside(LEFT, np.zeros_like(LEFT)))
    assert result.imbalance_db == math.inf
    assert result.correlation == 0.0
    assert result.difference_db == pytest.approx(0.0, abs=1e-9)
    assert stereo(beside(np.zeros_like(LEFT), LEFT)).imbalance_db == -math.inf


def test_correlation_is_numpys_for_sides_without_a_mean():
    shared = signals.music_bed(2.0)[0]
    centred = (shared - shared.mean(axis=0)).astype(np.float32)
    assert stereo(centred).correlation == pytest.approx(np.corrcoef(centred.T)[0, 1], abs=1e-5)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_no_bit(size):
    bed = signals.music_bed(1.57)[0]
    assert stereo(bed, size=size) == stereo(bed, size=500)


def test_pairs_of_a_wide_file():
    wide = beside(LEFT, OTHER, LEFT, -LEFT, OTHER)
    assert stereo(wide, (2, 3)).correlation == pytest.approx(-1.0)
    assert stereo(wide, (0, 1)) == stereo(beside(LEFT, OTHER))
    reverse, forward = stereo(wide, (1, 0)), stereo(wide, (0, 1))
    assert reverse.imbalance_db == pytest.approx(-forward.imbalance_db)
    assert reverse.correlation == pytest.approx(forward.correlation)


@pytest.mark.parametrize("part", [(0,), (1, 2), (0, 2), (0, 1, 2), (3, 4)])
def test_what_is_no_pair_has_no_picture(part):
    samples = signals.noise(0.2, channels=5)[0]
    assert fed(StereoMeter(RATE_HZ, 5), samples).result(part) is None


def test_a_silent_pair():
    result = stereo(signals.silence(0.5, channels=2)[0])
    assert result == Stereo(correlation=0.0, difference_db=-math.inf, mid_side_db=math.inf, imbalance_db=0.0)
