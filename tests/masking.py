"""Whether a planted click can be heard beside the sound it lies in, for the tables of the labs.

    heard_beside(added, sound, rate_hz) -> bool
    stands_out(added, sound, rate_hz) -> float

The criterion is the textbook one of masking within a critical band: a click is heard where, in three
neighbouring bands of Zwicker's 24 at least (in one alone, noise of 10 ms varies too much), its energy over
10 ms is less than 5.5 dB below the sound's own there. Noise masks what lies 5.5 dB under it, a tone only what
lies 14 dB and more under it (J. D. Johnston, "Transform coding of audio signals using perceptual noise
criteria", IEEE JSAC 6 (1988) [memory]): the bound for noise is taken, as cymbals and hiss are what hides
clicks. What loud sound before and after hides, and what loud bands hide in others, is left out.
"""

from __future__ import annotations

import itertools

import numpy as np
import scipy.signal

MASKED_DB = -5.5

WINDOW_S = 0.010

BARK_EDGES_HZ = (
    20, 100, 200, 300, 400, 510, 630, 770, 920, 1080, 1270, 1480, 1720, 2000, 2320, 2700, 3150, 3700, 4400,
    5300, 6400, 7700, 9500, 12000, 15500,
)  # fmt: skip
"""E. Zwicker, "Subdivision of the audible frequency range into critical bands", JASA 33 (1961) [memory]."""

THRESHOLD_DBFS = -80.0
"""Energy below this is not heard at all. Own judgement; of 16 bit's noise −100 dBFS falls into a band."""


def band_energies(wave: np.ndarray, rate_hz: int) -> np.ndarray:
    """Energy of a wave, shape (frames,), in each critical band below half of its rate, as mean square."""
    shaped = wave * np.hanning(len(wave))
    power = np.abs(np.fft.rfft(shaped, 4 * len(wave))) ** 2 / (2.0 * len(wave) ** 2)
    edges = np.searchsorted(np.fft.rfftfreq(4 * len(wave), 1 / rate_hz), BARK_EDGES_HZ)
    edges = edges[edges < len(power)]
    return np.array([power[low:high].sum() for low, high in itertools.pairwise(edges)])


def heard_beside(added: np.ndarray, sound: np.ndarray, rate_hz: int) -> bool:
    """added, sound: shape (frames,), as long as each other; the click begins in the middle."""
    half = round(0.5 * WINDOW_S * rate_hz)
    middle = len(sound) // 2
    around = slice(middle - half, middle + half)
    click, masker = (
        np.convolve(band_energies(wave[around].astype(np.float64), rate_hz), np.ones(3), mode="valid")
        for wave in (added, sound)
    )
    enough = click > np.maximum(10.0 ** (MASKED_DB / 10.0) * masker, 10.0 ** (THRESHOLD_DBFS / 10.0))
    return bool(np.any(enough))


DROWNED = 10.0
"""A click that stands out by less cannot be told from the sound by any linear filter: at one of the million
places of twenty seconds Gaussian noise itself reaches five, and sound is rougher than that."""


def stands_out(added: np.ndarray, sound: np.ndarray, rate_hz: int) -> float:
    """By how many standard deviations the best linear filter there is shows a click: one that knows its
    waveform and the spectrum of the sound about it, the 40 ms before and after, whichever has more.

    added, sound: shape (frames,), as long as each other, 40 ms and more to either side of the click in the
    middle. Source: the matched filter in coloured noise, SNR² = ∫ |C(f)|² / S(f) df (North 1943; any textbook
    of detection) [memory]; S by P. D. Welch's method, IEEE Trans. Audio Electroacoust. 15 (1967) [memory].
    """
    middle, reach, window = len(sound) // 2, round(0.04 * rate_hz), round(0.01 * rate_hz)
    densities = [
        scipy.signal.welch(part, nperseg=window, detrend=False)[1]
        for part in (sound[middle - reach : middle], sound[middle : middle + reach])
    ]
    click = added[middle - window // 2 : middle + window - window // 2]
    power = np.abs(np.fft.rfft(click)) ** 2
    # welch gives both sides of the spectrum in one; the ends have only one, and are left out.
    density = np.maximum(np.maximum(*densities), 1e-30)[1:-1]
    return float(np.sqrt(4.0 / window * np.sum(power[1 : len(density) + 1] / density)))
