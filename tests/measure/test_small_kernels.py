"""Compiled helpers that several meters share, against what numpy says in a line."""

import numpy as np
import pytest

from audit.measure import chroma_kernel, hard_end_kernel, repeats_kernel
from audit.measure.silence_kernel import is_silent


@pytest.fixture
def wave() -> np.ndarray:
    return (0.2 * np.random.default_rng(5).standard_normal(30_000)).astype(np.float32)


@pytest.mark.parametrize("value", [1e-30, -1e-30, 0.5, np.inf])
@pytest.mark.parametrize("place", [0, 31, 255, 256, 999])
def test_one_sample_is_no_silence(value: float, place: int):
    quiet = np.zeros(1000, dtype=np.float32)
    assert is_silent(quiet)
    assert is_silent(-quiet)  # minus zero is silence too
    quiet[place] = value
    assert not is_silent(quiet)
    assert is_silent(quiet[:place])
    assert is_silent(quiet[place + 1 :])


def test_cells_are_numpys(wave):
    height = np.float32(8.0 * 2.0**-15)
    told = np.empty(len(wave), dtype=np.int32)
    repeats_kernel.cells(wave, height, told)
    assert np.array_equal(told, (wave * (np.float32(1.0) / height)).astype(np.int32))


def test_cells_of_samples_beyond_all_measure_stay_whole_numbers():
    told = np.empty(2, dtype=np.int32)
    repeats_kernel.cells(np.array([3e38, -3e38], dtype=np.float32), np.float32(1e-6), told)
    assert told.tolist() == [1_000_000_000, -1_000_000_000]


def test_windows_and_powers_are_numpys(wave):
    window = np.hanning(2048).astype(np.float32)
    cut = np.empty((30, 2048), dtype=np.float32)
    chroma_kernel.cut_windows(wave, 800, window, cut)
    assert np.array_equal(cut, np.lib.stride_tricks.sliding_window_view(wave, 2048)[::800][:30] * window)
    spectra = np.fft.rfft(cut, axis=1).astype(np.complex64)
    power = np.empty(spectra.shape, dtype=np.float32)
    chroma_kernel.powers(spectra.view(np.float32), power)
    assert np.allclose(power, np.abs(spectra) ** 2, rtol=1e-5)


@pytest.mark.parametrize("lag", [64, 65, 300, 511, 4097, 8192])
def test_a_near_copy_is_found_at_every_lag(wave, lag: int):
    """By brute force: the lags at which all of the probe is within the slack."""
    rng = np.random.default_rng(lag)
    place, length, slack = 20_000, 128, np.float32(0.01)
    for n in range(place - 10, place + 200):  # one by one: short lags repeat the copy itself
        wave[n] = wave[n - lag]
    wave[place - 10 : place + 200] += rng.uniform(-0.004, 0.004, 210).astype(np.float32)
    probe = wave[place : place + length]
    brute = [
        back
        for back in range(64, 8193)
        if np.abs(probe - wave[place - back : place - back + length]).max() <= slack
    ]
    found = np.zeros((256, 3), dtype=np.int64)
    rows = repeats_kernel.near_copies(wave, place, length, slack, np.float32(1e-4), 64, 8192, found)
    assert found[:rows, repeats_kernel.LAG].tolist() == brute
    assert lag in brute
    told = np.empty(2, dtype=np.int64)
    places = np.array([place, place + 3000])
    again = repeats_kernel.near_copies_at(
        wave, places, length, slack, np.float32(1e-4), 64, 8192, told, found
    )
    assert (told.tolist(), again) == ([rows, 0], rows)


def test_where_nothing_moves_no_copy_is_looked_for(wave):
    found = np.zeros((256, 3), dtype=np.int64)
    held = np.full(30_000, 0.5, dtype=np.float32)
    assert (
        repeats_kernel.near_copies(held, 20_000, 128, np.float32(1e-3), np.float32(1e-4), 64, 8192, found)
        == -1
    )


@pytest.mark.parametrize("seed", range(20))
def test_rests_are_numpys(seed: int):
    """Stretches by the differences of where it sounds: rests of 5 samples and more, some cut by both ends."""
    rng = np.random.default_rng(seed)
    loud = np.repeat(rng.random(60) < 0.5, rng.integers(1, 12, 60))
    wave = np.where(loud, 0.1, rng.choice([0.0, 0.01, -0.01], len(loud))).astype(np.float32)
    edges = np.flatnonzero(np.diff(np.concatenate([[True], loud, [True]]).astype(int)))
    begins, ends = edges[::2], edges[1::2]
    told = np.empty(len(wave) // 5 + 1, dtype=np.int64)
    count = hard_end_kernel.rests(wave, 5, np.float32(0.01), told)
    assert told[:count].tolist() == begins[ends - begins >= 5].tolist()
    assert hard_end_kernel.rests(wave[:0], 5, np.float32(0.01), told) == 0
