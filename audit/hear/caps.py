"""How loud a clip may be: nothing in it may startle or hurt whoever plays it.

    caps_for(noise=…, crew=…) -> Caps
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


def caps_for(*, noise: bool, crew: bool) -> Caps:
    """The bounds for a clip. noise: as broken files hold (hear.noise); crew: click, guide or timecode."""
    if noise:
        return NOISE
    return CREW if crew else MUSIC


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
