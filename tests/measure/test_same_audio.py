"""Excerpts laid over each other: copies to the sample, takes and other music not at all."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from audit.measure.same_audio import ALIKE, compare

REACH = 400


def excerpts(one: np.ndarray, other: np.ndarray, *, count: int = 4, length: int = 4_000):
    """Places spread over both, the second with its reach on both sides."""
    wide = np.pad(other, REACH)
    starts = np.linspace(REACH, len(one) - length - REACH, count).astype(int)
    return [(one[at : at + length], wide[at : at + length + 2 * REACH]) for at in starts]


@pytest.fixture(scope="module")
def wave() -> np.ndarray:
    noise = np.random.default_rng(1).normal(0.0, 0.1, 40_000)
    return scipy.signal.lfilter([1.0], [1.0, -0.95], noise)


@pytest.mark.parametrize("lag", [0, 1, -1, 137, -250, 400, -400])
@pytest.mark.parametrize("gain", [1.0, 0.5, -2.0])
def test_lag_level_and_polarity_of_a_copy(wave, lag, gain):
    found = compare(excerpts(wave, gain * np.roll(wave, lag)), REACH)
    assert found is not None
    assert found.lag_frames == lag
    assert found.level_db == pytest.approx(20 * np.log10(abs(gain)), abs=0.3)
    assert found.opposed == (gain < 0)
    assert found.likeness > 0.97
    assert found.share == 1.0


def test_scipys_correlation_says_the_same(wave):
    """A second implementation: scipy.signal.correlate over one excerpt."""
    rng = np.random.default_rng(2)
    other = np.roll(wave, 37) + rng.normal(0.0, 0.2, len(wave))
    (one, wide), *_ = excerpts(wave, other, count=2)
    curve = scipy.signal.correlate(wide, one, mode="valid")
    energy = scipy.signal.correlate(wide**2, np.ones(len(one)), mode="valid")
    reference = curve / np.sqrt((one @ one) * energy)
    found = compare([(one, wide)], REACH)
    assert found is not None
    assert found.lag_frames == int(np.argmax(np.abs(reference))) - REACH
    assert found.likeness == pytest.approx(np.abs(reference).max(), abs=1e-9)


@pytest.mark.parametrize(("noise_db", "same"), [(-14.0, True), (-10.0, False)])
def test_both_sides_of_the_limit(wave, noise_db, same):
    """Noise n dB under a copy leaves a correlation of 1/√(1 + 10^(n/10)): 0.98 and 0.95."""
    level = np.sqrt(np.mean(wave**2)) * 10 ** (noise_db / 20)
    noisy = wave + level * np.random.default_rng(4).normal(0.0, 1.0, len(wave))
    found = compare(excerpts(wave, noisy), REACH)
    assert found is not None
    assert found.likeness == pytest.approx(1 / np.sqrt(1 + 10 ** (noise_db / 10)), abs=0.01)
    assert (found.share == 1.0) is same
    assert (found.likeness >= ALIKE) is same


def test_half_a_copy_is_half_the_same(wave):
    other = wave.copy()
    other[len(wave) // 2 :] = np.random.default_rng(5).normal(0.0, 0.3, len(wave) // 2)
    found = compare(excerpts(wave, other), REACH)
    assert found is not None
    assert found.share == 0.5


def test_other_noise_is_not_the_same(wave):
    other = scipy.signal.lfilter([1.0], [1.0, -0.95], np.random.default_rng(9).normal(0.0, 0.1, 40_000))
    found = compare(excerpts(wave, other), REACH)
    assert found is not None
    assert found.share == 0.0


def test_a_common_lag_is_needed(wave):
    """Each excerpt alone would fit somewhere; together they do not: a part that slides is no copy."""
    pairs = [
        (one, np.roll(wide, 60 * number)) for number, (one, wide) in enumerate(excerpts(wave, wave, count=5))
    ]
    found = compare(pairs, REACH)
    assert found is not None
    assert found.share <= 0.4


def test_silence_cannot_be_compared(wave):
    assert compare([(np.zeros(100), np.zeros(100 + 2 * REACH))], REACH) is None
    assert compare([], REACH) is None
