"""The start of a stem cut off, or something put before it: all of it early or late, by what its file is
shorter or longer."""

from __future__ import annotations

import numpy as np

from audit.evidence import StemEvidence
from tests.lab.kind import Kind
from tests.lab.kinds.offset import shows
from tests.lab.songs import MARKING, RHYTHMIC, LabShow, LabSong, LabStem

Samples = np.ndarray
SIZES_MS = (28.0, 85.0, 112.0, 240.0, 700.0)


def plant(samples: Samples, rate_hz: int, lag_ms: float) -> Samples:
    """Early: without its first so many milliseconds. Late: silence before it."""
    frames = round(abs(lag_ms) * rate_hz / 1000.0)
    if lag_ms < 0.0:
        return samples[frames:]
    return np.concatenate([np.zeros((frames, samples.shape[1]), samples.dtype), samples])


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    """What strikes, in a song with a click and others to compare with."""
    return stem.role in RHYTHMIC and bool(song.beats_s) and len(song.stems) >= 3


KIND = Kind(
    name="start",
    unit="ms",
    rules=("offset-from-click", "shifted-by-beats"),
    sizes=tuple(sign * size for size in SIZES_MS for sign in (1.0, -1.0)),
    plant=plant,
    shows=shows,
    fits=fits,
    estimate=lambda stem: None,
    group=lambda stem: "drums, percussion, loops" if stem.role in MARKING else "bass, guitars, keys",
)
