"""A stem that runs a little too slowly or too fast, in songs of four minutes and more."""

from __future__ import annotations

from array import array
from collections.abc import Iterator

import numpy as np
import soxr

from audit.evidence import StemEvidence
from audit.results import Onsets
from tests.lab.kind import Kind
from tests.lab.songs import MARKING, RHYTHMIC, LabShow, LabSong, LabStem, long_show

Samples = np.ndarray
SIZES_PPM = (20.0, 50.0, 200.0, 1000.0)


def slid(samples: Samples, rate_hz: int, drift_ppm: float) -> Samples:
    """Played slower by so many ppm (positive: later and later)."""
    return np.asarray(soxr.resample(samples, 1_000_000.0, 1_000_000.0 + drift_ppm, quality="HQ"))


def stretched(onsets: Onsets, drift_ppm: float) -> Onsets:
    """The onsets of the slid stem."""
    times_s = [at_s * (1.0 + drift_ppm * 1e-6) for at_s in onsets.times_s]
    return Onsets(times_s=array("d", times_s), strengths_db=onsets.strengths_db)


def shows(seed: int) -> Iterator[LabShow]:
    for more in range(0, 700, 100):
        yield long_show(seed + more, songs=4)


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    return stem.role in RHYTHMIC


def estimate(stem: StemEvidence) -> float | None:
    return stem.alignment.drift.ppm if stem.alignment and stem.alignment.drift else None


KIND = Kind(
    name="drift",
    unit="ppm",
    rules=("drift-from-click", "offset-from-click", "wrong-rate-header"),
    sizes=tuple(sign * size for size in SIZES_PPM for sign in (1.0, -1.0)),
    plant=slid,
    in_onsets=stretched,
    shows=shows,
    fits=fits,
    estimate=estimate,
    group=lambda stem: "drums, percussion, loops" if stem.role in MARKING else "bass, guitars, keys",
    silent_below=20.0,
)
