"""The lab of flattened peaks: what it cuts off deep is told in every way of storing it, the rest is not."""

from __future__ import annotations

import numpy as np
import pytest

from audit.facts import Role
from tests import signals
from tests.flattened_lab import STORED, stored, told

RATE_HZ = 48_000


@pytest.mark.parametrize("how", STORED)
def test_cut_is_told_and_whole_is_not(how):
    bed = signals.music_bed(4.0, seed=83)[0]
    cut = signals.turn(signals.clip(bed, 2.0)[0], -7.0)
    for take, expected in ((cut, True), (bed, False)):
        samples, bits = stored(take, how)
        assert told(samples, RATE_HZ, Role.KEYS, bits) is expected


def test_dither_leaves_no_run_of_equal_samples():
    """Else the ways of storing would all be the same."""
    cut = signals.turn(signals.clip(signals.sine(331.0, 1.0)[0], 3.0)[0], -7.0)
    for how, (_, _, dither) in STORED.items():
        samples, _ = stored(cut, how)
        wave = np.abs(samples)
        top = wave[wave > 0.999 * wave.max()]
        assert bool(np.mean(top == np.median(top)) < 0.8) is dither
