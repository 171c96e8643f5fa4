"""The damage lab plants where it says, and what it plants is found: a few of each kind, in one song."""

from __future__ import annotations

import numpy as np
import pytest

from tests import signals
from tests.damage_lab import KINDS, Kind, Planted, hear, places, plant_and_hear

RATE_HZ = 48_000


@pytest.fixture(scope="module")
def bed() -> signals.Samples:
    return signals.quantise(signals.music_bed(14.0, seed=71)[0], 24)


def test_places_lie_inside_the_sound(bed):
    samples = np.concatenate((bed, np.zeros_like(bed)))
    chosen = places(samples, RATE_HZ, 3)
    assert len(chosen) == 2
    assert all(at < len(bed) for at in chosen)
    assert chosen == places(samples, RATE_HZ, 3)
    assert places(np.zeros_like(bed), RATE_HZ, 3) == []


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_easy_ones_are_found_and_the_truth_is_where_they_are(kind: Kind, bed):
    size = kind.sizes[0] if kind.sizes[0] != 100 else kind.sizes[1]
    planted = plant_and_hear(kind, size, bed, RATE_HZ, 3)
    if kind.can_be_masked and kind.name not in ("click, one sample", "click, a jump"):
        assert any(one.found for one in planted)  # even large joins may look like new notes
    else:
        assert planted == [Planted(found=True, masked=False)] * 2
    assert kind.found(hear(bed, RATE_HZ)) == []
