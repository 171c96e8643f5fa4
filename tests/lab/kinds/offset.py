"""The whole stem early or late."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from audit.evidence import StemEvidence
from tests.lab.kind import Kind
from tests.lab.songs import MARKING, RHYTHMIC, LabShow, LabSong, LabStem, corpus, demo, long_show, ordinary
from tests.shared import shared_folder

Samples = np.ndarray
SIZES_MS = (2.0, 5.0, 10.0, 20.0, 50.0, 250.0)


def moved(samples: Samples, rate_hz: int, offset_ms: float) -> Samples:
    """Later by so many milliseconds, by whole samples; the length stays."""
    frames = round(offset_ms * rate_hz / 1000.0)
    late = np.zeros_like(samples)
    if frames >= 0:
        late[frames:] = samples[: len(samples) - frames]
    else:
        late[:frames] = samples[-frames:]
    return late


def shows(seed: int) -> Sequence[LabShow]:
    with tempfile.TemporaryDirectory() as folder:
        found = [demo(), ordinary(Path(folder) / "show"), long_show(seed, songs=6, seconds=75.0)]
    return [*found, corpus(shared_folder("corpus"))]


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    phase = clean.alignment.phase if clean.alignment else None
    return phase is not None and phase.onsets >= 30 and len(phase.against) >= 2 and stem.role in RHYTHMIC


def estimate(stem: StemEvidence) -> float | None:
    return stem.alignment.phase.from_others_ms if stem.alignment and stem.alignment.phase else None


KIND = Kind(
    name="offset",
    unit="ms",
    rules=("offset-from-click",),
    sizes=tuple(sign * size for size in SIZES_MS for sign in (1.0, -1.0)),
    plant=moved,
    shows=shows,
    fits=fits,
    estimate=estimate,
    group=lambda stem: "drums, percussion, loops" if stem.role in MARKING else "bass, guitars, keys",
    silent_below=5.0,
)
