"""Whether a planted click can be heard beside the sound it lies in, for the tables of the labs.

    heard_beside(added, sound, rate_hz) -> bool

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
