"""The lab of offsets that come and go: what it plants is where it says, and easy ones are found."""

from __future__ import annotations

import numpy as np
import pytest

from tests import signals
from tests.offset_lab import SHAPES, told, wandering

RATE_HZ = 48_000


@pytest.fixture(scope="module")
def strokes() -> signals.Samples:
    return signals.drums(30.0)[0]


@pytest.mark.parametrize("shape", SHAPES)
def test_what_is_added_lies_at_its_place_and_has_its_size(shape, strokes):
    added = (wandering(strokes, RATE_HZ, shape, 0.05, 3 * RATE_HZ) - strokes)[:, 0]
    assert not added[: 3 * RATE_HZ].any()
    assert added.max() == pytest.approx(0.05, rel=1e-3)
    kind, seconds = SHAPES[shape]
    if kind == "swing":
        assert added.min() == pytest.approx(-0.05, rel=1e-3)
    else:
        assert np.count_nonzero(added) == round(seconds * RATE_HZ)


@pytest.mark.parametrize(
    ("shape", "expected"), [("for 0.7 s", False), ("for 6 s", True), ("swings in 8 s", True)]
)
def test_long_ones_are_told_and_clean_strokes_are_not(shape, expected, strokes):
    assert any(told(wandering(strokes, RATE_HZ, shape, 0.05, 3 * RATE_HZ), RATE_HZ)) is expected
    assert told(strokes, RATE_HZ) == (False, False)
