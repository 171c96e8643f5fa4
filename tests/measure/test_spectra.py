"""Windows of 100 ms and their spectra: numpy's transform says the same, of sound and of rests."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.chroma import ChromaMeter
from audit.measure.spectra import WindowSpectra

RATE_HZ = 48_000


def wave(channels: int = 2) -> np.ndarray:
    """Half a second of noise, half a second of rest, half a second of noise."""
    sound = np.random.default_rng(3).normal(0.0, 0.1, (72_000, channels)).astype(np.float32)
    sound[24_000:48_000] = 0.0
    return sound


@pytest.mark.parametrize("size", [4_800, 7_000, 72_000])
def test_numpy_says_the_same_of_every_window(size: int):
    sound, spectra = wave(), WindowSpectra(RATE_HZ, 2)
    found = [piece for at in range(0, len(sound), size) for piece in spectra.of(sound[at : at + size])]
    hann = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(4800) / 4800)
    for channel in range(2):
        got = np.concatenate([piece[channel] for piece in found])
        assert got.dtype == np.complex64
        wanted = np.fft.rfft(sound[:, channel].astype(np.float64).reshape(-1, 4800) * hann, axis=1)
        np.testing.assert_allclose(got, wanted, atol=1e-4)
        assert not got[5:10].any()


@pytest.mark.parametrize("size", [4_800, 24_000, 72_000])
def test_a_rest_takes_as_many_hops_as_sound_does(size: int):
    """Blocks that are nothing but rest, and such that hold both, give the same spectra."""
    told: list[np.ndarray] = []
    meter = ChromaMeter(RATE_HZ, 1, also=lambda channel, power: told.append(power))
    for at in range(0, 72_000, size):
        meter.add(wave(1)[at : at + size])
    power = np.concatenate(told)
    assert power.shape == (14, 1025)
    # Windows of 256 ms about 0.0, 0.1 … 1.3 s: only those of 0.7 and 0.8 s lie in the rest.
    assert [hop for hop, row in enumerate(power) if row.max() < 1e-10] == [7, 8]
