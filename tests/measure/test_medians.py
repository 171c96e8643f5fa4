"""middle_of: numpy's median."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.medians import middle_of


@pytest.mark.parametrize("count", [1, 2, 3, 4, 17, 200, 801])
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_it_is_numpys_median(count: int, kind: type):
    random = np.random.default_rng(count)
    for values in (random.standard_normal(count), random.integers(0, 3, count)):
        wave = values.astype(kind)
        before = wave.copy()
        assert middle_of(wave) == float(np.median(wave))
        assert np.array_equal(wave, before)


def test_extremes_do_not_spoil_it():
    assert middle_of(np.array([np.inf, 1.0, -np.inf])) == 1.0
    assert middle_of(np.array([-0.0, 1e308])) == 5e307
