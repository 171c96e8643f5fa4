"""The models of linear prediction against scipy and librosa, and against what they must foretell."""

from __future__ import annotations

import librosa
import numpy as np
import pytest
from scipy.linalg import solve_toeplitz
from scipy.signal import lfilter

from audit.measure import prediction_kernel as kernel
from tests import signals

VOICE = signals.speech(1.0)[0][10_000:11_000, 0].astype(np.float64)
HISS = signals.noise(0.1)[0][:1000, 0].astype(np.float64)
takes = pytest.mark.parametrize("take", [VOICE, HISS], ids=["voice", "noise"])


@takes
@pytest.mark.parametrize("order", [2, 16, 24])
def test_levinson_solves_the_toeplitz_system(take, order):
    r = kernel.autocorrelation(take, order)
    np.testing.assert_allclose(r, [take[: len(take) - k] @ take[k:] for k in range(order + 1)], rtol=1e-10)
    column = r[:order].copy()
    column[0] *= 1.0 + 1e-6
    np.testing.assert_allclose(
        kernel.levinson(r, order, 1e-6)[1:], solve_toeplitz(column, -r[1:]), rtol=1e-6, atol=1e-8
    )


@takes
@pytest.mark.parametrize("order", [2, 16, 32])
def test_burg_agrees_with_librosa(take, order):
    a, power = kernel.burg(take, order)
    np.testing.assert_allclose(a, librosa.lpc(take, order=order), rtol=1e-5, atol=1e-6)
    assert 0.0 < power < np.mean(take**2)


@takes
def test_the_residual_is_the_models_filter(take):
    a, _ = kernel.burg(take, 16)
    np.testing.assert_allclose(kernel.residual(take, a), lfilter(a, 1.0, take)[16:], atol=1e-10)


def test_a_tone_is_carried_on_and_a_noise_is_not():
    tone = np.sin(2 * np.pi * 440 * np.arange(2400) / 48_000)
    a, power = kernel.burg(tone[:1920], 32)
    expected, spread = kernel.carried_on(tone[:1920], a, power, 240)
    np.testing.assert_allclose(expected, tone[1920:2160], atol=0.04)
    assert spread[-1] < 1e-3
    a, power = kernel.burg(HISS, 4)
    expected, spread = kernel.carried_on(HISS, a, power, 50)
    assert np.abs(expected[10:]).max() < 0.1 * HISS.std()
    assert spread[-1] == pytest.approx(np.var(HISS), rel=0.05)


def test_the_robust_spread_ignores_a_few_outliers():
    noise = np.random.default_rng(3).standard_normal(4001)
    noise[::100] = 50.0
    assert kernel.middle(noise) == pytest.approx(1.0, abs=0.06)
    assert kernel.middle(np.zeros(0)) == 0.0


def test_silence_has_a_model_that_foretells_silence():
    a, power = kernel.burg(np.zeros(500), 8)
    assert a.tolist() == [1.0] + [0.0] * 8
    assert power == 0.0
    assert kernel.windowed_model(np.zeros(500), 8).tolist() == a.tolist()
