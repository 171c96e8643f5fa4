"""The labs' criterion of what can be heard: both sides of its bound, and that it does not hang on level."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from tests.masking import BARK_EDGES_HZ, MASKED_DB, band_energies, heard_beside, stands_out

RATE = 48_000
FRAMES = 4_800


def noise(low_hz: float, high_hz: float, seed: int = 1) -> np.ndarray:
    filter_ = scipy.signal.butter(8, (low_hz, high_hz), "bandpass", fs=RATE, output="sos")
    return 0.1 * scipy.signal.sosfilt(filter_, np.random.default_rng(seed).normal(0.0, 1.0, FRAMES))


def impulse(size: float) -> np.ndarray:
    wave = np.zeros(FRAMES)
    wave[FRAMES // 2] = size
    return wave


def test_a_copy_of_the_sound_is_masked_from_the_bound_on():
    sound = noise(50, 15_000)
    for beside_db, heard in ((MASKED_DB + 0.1, True), (MASKED_DB - 0.1, False)):
        assert heard_beside(10 ** (beside_db / 20) * sound, sound, RATE) is heard


@pytest.mark.parametrize("gain", [1.0, 0.1])
def test_white_noise_hides_a_click_and_dark_noise_does_not(gain):
    click = impulse(gain * 0.2)
    assert not heard_beside(click, gain * noise(50, 20_000), RATE)
    assert heard_beside(click, gain * noise(50, 1_000), RATE)
    assert heard_beside(10.0 * click, gain * noise(50, 20_000), RATE)


def test_nothing_added_is_not_heard_and_beside_silence_everything_is():
    assert not heard_beside(np.zeros(FRAMES), noise(50, 1_000), RATE)
    assert heard_beside(impulse(0.1), np.zeros(FRAMES), RATE)


@pytest.mark.parametrize(("hz", "band"), [(150.0, 1), (1_000.0, 8), (5_000.0, 18), (13_000.0, 23)])
def test_a_tone_stands_in_its_band_of_the_table(hz, band):
    """1 kHz lies in the ninth band, from 920 to 1080 Hz, as in Zwicker's table."""
    assert BARK_EDGES_HZ[band] <= hz < BARK_EDGES_HZ[band + 1]
    energies = band_energies(np.sin(2 * np.pi * hz * np.arange(4_800) / RATE), RATE)
    assert int(np.argmax(energies)) == band
    assert energies[band] > 0.9 * energies.sum()


@pytest.mark.parametrize("size", [0.2, 1.0])
def test_a_matched_filter_in_white_noise_shows_a_click_by_its_size_over_the_noise(size):
    white = 0.05 * np.random.default_rng(4).normal(size=FRAMES)
    assert stands_out(impulse(size), white, RATE) == pytest.approx(size / 0.05, rel=0.35)
    assert stands_out(2.0 * impulse(size), white, RATE) == pytest.approx(
        2.0 * stands_out(impulse(size), white, RATE)
    )


def test_a_gap_in_the_spectrum_shows_it():
    bright = noise(5_000, 20_000) + 1e-5 * np.random.default_rng(5).normal(size=FRAMES)
    white = bright.std() * np.random.default_rng(6).normal(size=FRAMES)
    assert stands_out(impulse(0.1), bright, RATE) > 100 * stands_out(impulse(0.1), white, RATE)
