"""Planted faults do what they say, and refuse where they would do nothing."""

from __future__ import annotations

import numpy as np
import pytest

from audit.demo import faults

RATE_HZ = 48_000


def tone(freq_hz: float, rate_hz: int, seconds: float = 1.5) -> np.ndarray:
    wave = np.sin(2 * np.pi * freq_hz * np.arange(int(seconds * rate_hz)) / rate_hz)
    return (wave * np.hanning(len(wave))).astype(np.float32)[:, None]


def test_a_converted_stem_sounds_the_same_and_holds_nothing_above_its_old_half_rate():
    random = np.random.default_rng(3)
    made = faults.converted(tone(1000.0, 44_100), 44_100, RATE_HZ)
    assert made.shape == (72_000, 1)
    # The same tone, computed at the new rate, away from the rounding of the window's length.
    assert np.abs(made - tone(1000.0, RATE_HZ)).max() < 1e-3
    noise = faults.converted(random.standard_normal((44_100, 1)).astype(np.float32), 44_100, RATE_HZ)
    power = np.abs(np.fft.rfft(noise[:, 0] * np.hanning(len(noise)))) ** 2
    freqs = np.fft.rfftfreq(len(noise), 1 / RATE_HZ)
    assert power[freqs > 22_200].mean() < 1e-6 * power[freqs < 22_000].mean()


def test_a_leak_stands_as_far_below_and_behind_as_asked():
    source = np.zeros((RATE_HZ, 1), dtype=np.float32)
    source[24_000:26_000, 0] = np.sin(2 * np.pi * 1500 * np.arange(2000) / RATE_HZ)
    singers = np.repeat(tone(300.0, RATE_HZ, 1.0), 2, axis=1)
    leak = faults.leaked(singers, source, RATE_HZ, below_db=40.0, late_s=0.002) - singers
    assert np.abs(leak).max() == pytest.approx(0.01 * np.abs(singers).max(), rel=1e-3)
    assert np.flatnonzero(np.abs(leak[:, 0]) > 1e-5)[0] == pytest.approx(24_096, abs=2)
    assert np.array_equal(leak[:, 0], leak[:, 1])


def test_a_late_stem_keeps_its_length_and_may_lose_no_sound():
    samples = np.concatenate([tone(200.0, RATE_HZ, 0.5), np.zeros((1200, 1), dtype=np.float32)])
    late = faults.delayed(samples, 1200)
    assert len(late) == len(samples)
    assert np.array_equal(late[1200:], samples[:-1200])
    with pytest.raises(ValueError, match="still sound"):
        faults.delayed(samples, 2400)


def test_a_block_plays_twice_in_place_of_the_next():
    samples = tone(200.0, RATE_HZ, 0.5)
    again = faults.stuttered(samples, 10_000, 512)
    assert np.array_equal(again[10_512:11_024], samples[10_000:10_512])
    assert np.flatnonzero(again != samples).min() >= 10_512
    assert np.flatnonzero(again != samples).max() < 11_024
    with pytest.raises(ValueError, match="nothing sounds"):
        faults.stuttered(np.zeros_like(samples), 100, 512)
