"""How loud a clip may be: nothing in it may startle or hurt whoever plays it.

    caps_for(samples, rate_hz, crew=…) -> Caps
    turned_down(samples, rate_hz, caps) -> (samples, dB)

A level in a file says nothing of the sound pressure at an ear; these bounds keep a clip below what music at a
usual level does, no more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.measure.loudness import measure_loudness
from audit.measure.peaks import measure_peaks
from audit.measure.samples import Samples
from audit.units import from_db


@dataclass(frozen=True, slots=True, kw_only=True)
class Caps:
    """Bounds of a clip: of its true peak, and of its loudest 400 ms."""

    peak_db: float
    loudness_lufs: float
    why: str  # what it is bounded as: "music"


MUSIC = Caps(peak_db=-12.0, loudness_lufs=-23.0, why="music")
"""−23 LUFS is the programme level of EBU R 128; the peak's bound leaves it 11 dB of crest."""

CREW = Caps(peak_db=-24.0, loudness_lufs=-36.0, why="click, guide or timecode, which are piercing")
"""Own judgement: half as loud as the music (10 dB and more): steady code and ticks tire and hurt sooner."""

NOISE = Caps(peak_db=-40.0, loudness_lufs=-45.0, why="full-scale noise, as broken files hold")
"""Own judgement, and a promise of the project: such noise is never played above −40 dBFS."""

NOISE_WINDOW_S = 0.010
NOISE_WINDOWS = 5
NOISE_RMS_DB = -15.0
NOISE_TILT = 1.0
"""Noise: 50 ms on end at −15 dBFS RMS and more whose first difference has more energy than the wave itself.

White noise has 2.0; music has little above a quarter of its rate and stays far below 1, and samples that were
cut at the wrong byte are as good as white at −4.8 dBFS.
"""


def caps_for(samples: Samples, rate_hz: int, *, crew: bool) -> Caps:
    """The bounds for these samples, shape (frames, channels), finite. crew: click, guide or timecode."""
    if holds_noise(samples, rate_hz):
        return NOISE
    return CREW if crew else MUSIC


def holds_noise(samples: Samples, rate_hz: int) -> bool:
    """Whether some 50 ms of a channel are loud noise as no instrument makes it."""
    window = max(2, round(NOISE_WINDOW_S * rate_hz))
    count = len(samples) // window
    if count < NOISE_WINDOWS:
        return False
    for channel in range(samples.shape[1]):
        pieces = samples[: count * window, channel].astype(np.float64).reshape(count, window)
        power = np.mean(pieces**2, axis=1)
        steps = np.mean(np.diff(pieces, axis=1) ** 2, axis=1)
        noisy = (power >= 10.0 ** (NOISE_RMS_DB / 10.0)) & (steps > NOISE_TILT * power)
        if np.any(np.convolve(noisy, np.ones(NOISE_WINDOWS), mode="valid") >= NOISE_WINDOWS):
            return True
    return False


def turned_down(samples: Samples, rate_hz: int, caps: Caps) -> tuple[Samples, float]:
    """The samples within the caps, and by how many dB they were turned down: 0 or more, never up."""
    peak_db = measure_peaks(samples, rate_hz).true_dbtp
    loudness = measure_loudness(samples, rate_hz).max_momentary_lufs
    over = [0.0, peak_db - caps.peak_db]
    if loudness is not None:
        over.append(loudness - caps.loudness_lufs)
    down_db = max(over)
    if down_db == 0.0:
        return samples, 0.0
    return np.asarray(samples * np.float32(from_db(-down_db)), dtype=np.float32), down_db
