"""FiniteGate: what is not a number is counted and silenced; the rest passes untouched."""

from __future__ import annotations

import numpy as np
import pytest

from audit.errors import BadSamplesError
from audit.measure.finite import FiniteGate
from tests import signals
from tests.measure.feeding import blocks


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("size", [100, 4096])
def test_bad_samples_are_counted_placed_and_silenced(bad, size):
    samples = signals.noise(0.5, channels=2)[0]
    samples[7000, 1] = samples[7000, 0] = samples[9001, 0] = bad
    gate = FiniteGate(2)
    passed = np.concatenate([gate.pass_on(block) for block in blocks(samples, size)])
    assert gate.count == 3
    assert gate.first_frame == 7000
    assert passed[7000, 0] == passed[7000, 1] == passed[9001, 0] == 0.0
    good = np.isfinite(samples)
    np.testing.assert_array_equal(passed[good], samples[good])
    assert passed.dtype == np.float32


def test_samples_that_were_whole_numbers_are_not_asked():
    block = np.array([[np.nan]], np.float32)  # what no decoder makes of them shows that they are not
    assert FiniteGate(1, whole=True).pass_on(block) is block


def test_the_callers_block_is_left_alone():
    block = np.array([[np.nan], [0.5]], np.float32)
    FiniteGate(1).pass_on(block)
    assert np.isnan(block[0, 0])


@pytest.mark.parametrize(
    "block",
    [
        signals.noise(0.1)[0],
        np.full((10, 1), np.finfo(np.float32).max, np.float32),
        np.full((10, 1), 1e-45, np.float32),
        np.zeros((0, 1), np.float32),
    ],
    ids=["noise", "the largest float", "denormals", "empty"],
)
def test_finite_blocks_are_passed_on_as_they_are(block):
    gate = FiniteGate(1)
    assert gate.pass_on(block) is block
    assert gate.count == 0
    assert gate.first_frame is None


def test_wrong_shape_is_refused():
    with pytest.raises(BadSamplesError, match="2 channels"):
        FiniteGate(1).pass_on(np.zeros((4, 2), np.float32))
