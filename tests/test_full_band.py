"""The full-band stems are what they are said to be."""

from __future__ import annotations

import numpy as np
import pytest

from tests.full_band import STEMS, full_band


def test_there_are_enough_of_them():
    assert len(STEMS) >= 40
    assert len(set(STEMS)) == len(STEMS)


@pytest.mark.parametrize("name", STEMS[1::2])
def test_energy_reaches_past_16_khz(name: str):
    samples = full_band(name).astype(float)
    power = np.square(np.abs(np.fft.rfft(samples, axis=0))).sum(axis=1)
    freq = np.fft.rfftfreq(len(samples), 1 / 48_000)
    high = power[(freq >= 16_000) & (freq <= 20_000)].sum()
    assert 10 * np.log10(high / power.sum()) > -50.0
    assert np.abs(samples).max() == pytest.approx(0.5, abs=1e-6)


def test_the_same_name_gives_the_same_samples():
    assert np.array_equal(full_band("hats 1", 44_100), full_band("hats 1", 44_100))
    assert not np.array_equal(full_band("hats 1"), full_band("hats 1", seed=12))
