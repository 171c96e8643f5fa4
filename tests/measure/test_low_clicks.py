"""Wrong samples under bright noise, and what only looks like them below it."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from audit.measure import low_clicks, splices
from audit.measure.damage import DamageMeter
from audit.measure.low_clicks import LowClickFinder
from tests import signals
from tests.measure.feeding import fed

RATE_HZ = 48_000
AT = 120_007


def cymbals(
    rate_hz: int = RATE_HZ, seconds: float = 5.0, *, seed: int = 5, low_hz: float = 5000.0
) -> np.ndarray:
    """A wash of noise above low_hz that rises and falls, little below; shape (frames,)."""
    random = np.random.default_rng(seed)
    frames = round(seconds * rate_hz)
    band = scipy.signal.butter(8, low_hz, "highpass", fs=rate_hz, output="sos")
    wash = 0.1 * scipy.signal.sosfilt(band, random.normal(size=frames))
    swell = 1.0 + 0.3 * np.sin(2 * np.pi * 0.7 * np.arange(frames) / rate_hz)
    return np.asarray(wash * swell + 2e-4 * random.normal(size=frames))


def clicks_of(wave: np.ndarray, rate_hz: int = RATE_HZ, block: int = 7000):
    take = signals.quantise(wave.astype(np.float32)[:, None], 24)
    return fed(DamageMeter(rate_hz, 1, bits=24, is_float=False), take, block).result().clicks


@pytest.mark.parametrize("size", [0.1, -0.05])
def test_a_wrong_sample_far_below_the_noise_is_found(size):
    """Its size is that of the noise itself; the search in the whole band does not see it."""
    broken = cymbals()
    broken[AT] += size
    (found,) = clicks_of(broken)
    assert abs(found.at_frame - AT) <= 1
    assert found.size_dbfs == pytest.approx(20 * np.log10(abs(size)), abs=1.0)


def test_the_whole_band_alone_does_not_find_it(monkeypatch):
    monkeypatch.setattr(LowClickFinder, "look", lambda *_: None)
    broken = cymbals()
    broken[AT] -= 0.05
    assert clicks_of(broken) == ()


def test_the_same_noise_without_it_is_silent():
    assert clicks_of(cymbals()) == ()
    assert clicks_of(cymbals(low_hz=800.0)) == ()


def test_noise_in_all_bands_hides_it():
    """A matched filter that knew the spectrum would see it 2.5 times over its error: nobody can."""
    broken = 0.04 * np.random.default_rng(6).normal(size=5 * RATE_HZ)
    broken[AT] += 0.1
    assert clicks_of(broken) == ()


def test_a_hat_that_is_cut_is_no_click():
    """Cut noise leaves an impulse below its band, and above it none of that size."""
    rest = cymbals(seed=7)
    random = np.random.default_rng(8)
    for at in (60_000, 131_003, 190_011):
        hat = cymbals(seconds=0.2, seed=int(random.integers(1, 99)), low_hz=4000.0)
        hat = hat[np.abs(hat).argmax() :]
        rest[at : at + len(hat)] += 1.5 * hat
    below = scipy.signal.sosfilt(scipy.signal.butter(6, 2500, fs=RATE_HZ, output="sos"), rest)
    assert np.abs(below[131_003:131_200]).max() > 5 * np.abs(below[100_000:110_000]).max()
    assert clicks_of(rest) == ()


def test_a_stick_that_begins_a_sound_is_no_click():
    struck = cymbals(seed=9)
    after = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
    hit = np.random.default_rng(10).normal(size=len(after)) * np.exp(-after / 0.01)
    struck[AT] += 0.1
    struck[AT : AT + len(hit)] += 0.3 * hit
    assert clicks_of(struck) == ()


def test_many_are_the_sound():
    crackle = cymbals()
    crackle[np.random.default_rng(11).integers(20_000, 220_000, 12)] += 0.1
    assert clicks_of(crackle) == ()
    assert low_clicks.NEARBY == splices.NEARBY


@pytest.mark.parametrize("block", [4096, 5000, 240_000])
def test_blocks_make_no_difference(block):
    broken = cymbals()
    broken[[AT, 32_768, 65_535]] += np.array([0.08, 0.09, 0.1])
    found = clicks_of(broken, block=block)
    assert found == clicks_of(broken)
    assert [click.at_frame for click in found] == pytest.approx([32_768, 65_535, AT], abs=1)


def test_half_as_loud_is_the_same_place_and_six_decibels_less():
    broken = cymbals()
    broken[AT] += 0.1
    loud, soft = clicks_of(broken)[0], clicks_of(0.5 * broken)[0]
    assert loud.at_frame == soft.at_frame
    assert loud.size_dbfs - soft.size_dbfs == pytest.approx(6.02, abs=0.2)


@pytest.mark.parametrize("rate_hz", [32_000, 44_100, 88_200, 96_000, 192_000])
def test_other_rates(rate_hz):
    broken = cymbals(rate_hz, 3.0)
    at = rate_hz + 77
    broken[at] += 0.1
    assert [abs(click.at_frame - at) <= 1 for click in clicks_of(broken, rate_hz)] == [True]
    assert clicks_of(cymbals(rate_hz, 3.0), rate_hz) == ()


@pytest.mark.parametrize("rate_hz", [8000, 11_025, 16_000])
def test_low_rates_are_only_looked_at_whole(rate_hz):
    assert clicks_of(cymbals(rate_hz, 3.0, low_hz=3000.0), rate_hz) == ()


def test_the_low_pass_is_what_it_says():
    """74 dB down at half the thinned rate and above; scipy's own window method is the second opinion."""
    factor = 8
    taps = low_clicks._low_pass(factor)
    wanted = scipy.signal.firwin(len(taps), 2.0 * low_clicks.PASSED / factor, window=("blackman"))
    np.testing.assert_allclose(taps, wanted, atol=1e-6)
    _, response = scipy.signal.freqz(taps, worN=np.linspace(1.05 * np.pi / factor * 1.5, np.pi, 2000))
    assert 20 * np.log10(np.abs(response).max()) < -70.0
