"""The whole stem made for another tempo of its song, at the same pitch. Needs ffmpeg."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from audit.evidence import StemEvidence
from audit.facts import Role
from tests.codecs import at_tempo
from tests.lab.human import human_show
from tests.lab.kind import Kind
from tests.lab.songs import (
    MARKING,
    NO_MUSIC,
    RHYTHMIC,
    LabShow,
    LabSong,
    LabStem,
    corpus,
    long_show,
    ordinary,
)
from tests.shared import shared_folder

Samples = np.ndarray
SIZES = (0.005, 0.01, 0.02, 0.05)
LEAST_ONSETS = 60


def stretched(samples: Samples, rate_hz: int, size: float) -> Samples:
    """Played faster by that part of its tempo."""
    with tempfile.TemporaryDirectory() as folder:
        return at_tempo(samples, rate_hz, 1.0 + size, Path(folder))


def shows(seed: int) -> Iterator[LabShow]:
    yield corpus(shared_folder("corpus"))
    with tempfile.TemporaryDirectory() as folder:
        yield ordinary(Path(folder) / "show")
    yield long_show(seed, songs=5, seconds=90.0)
    yield human_show(seed, songs=6, seconds=90.0)


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    """What keeps to the click as it is, with strokes enough."""
    phase = clean.alignment.phase if clean.alignment else None
    told = phase is not None and phase.onsets >= LEAST_ONSETS and phase.confidence >= 0.5
    return told and stem.role not in NO_MUSIC and stem.role is not Role.EFFECTS


def estimate(stem: StemEvidence) -> float | None:
    pulse = stem.alignment.own_pulse if stem.alignment else None
    return pulse.tempo_ratio - 1.0 if pulse else None


def group(stem: LabStem) -> str:
    if stem.role in MARKING:
        return "drums, percussion, loops"
    return "bass, guitars, keys" if stem.role in RHYTHMIC else "others"


KIND = Kind(
    name="tempo",
    unit="",
    rules=(
        "drift-from-click",
        "offset-from-click",
        "shifted-by-beats",
        "stale-arrangement",
        "wrong-rate-header",
    ),
    sizes=tuple(sign * size for size in SIZES for sign in (1.0, -1.0)),
    plant=stretched,
    shows=shows,
    fits=fits,
    estimate=estimate,
    group=group,
    absolute=True,
)
