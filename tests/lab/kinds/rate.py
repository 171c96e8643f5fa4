"""Audio of one sample rate under a header that claims another."""

from __future__ import annotations

from array import array
from collections.abc import Iterator

import numpy as np
import soxr

from audit.evidence import StemEvidence
from audit.results import Onsets
from tests.lab.kind import Kind
from tests.lab.kinds import offset
from tests.lab.songs import RHYTHMIC, LabShow, LabSong, LabStem

Samples = np.ndarray
RATIOS = (160 / 147, 147 / 160, 2.0, 0.5, 320 / 147, 147 / 320)


def mislabelled(samples: Samples, rate_hz: int, ratio: float) -> Samples:
    """What plays if audio of rate / ratio is said to be of `rate_hz`: fewer frames for ratios above 1."""
    return np.asarray(soxr.resample(samples, ratio, 1.0, quality="HQ"))


def hurried(onsets: Onsets, ratio: float) -> Onsets:
    """The onsets of the mislabelled stem."""
    return Onsets(
        times_s=array("d", [at_s / ratio for at_s in onsets.times_s]), strengths_db=onsets.strengths_db
    )


def shows(seed: int) -> Iterator[LabShow]:
    return offset.shows(seed)


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    return offset.fits(show, song, stem, clean, size) and stem.role in RHYTHMIC


def estimate(stem: StemEvidence) -> float | None:
    return stem.alignment.wrong_rate.ratio if stem.alignment and stem.alignment.wrong_rate else None


KIND = Kind(
    name="rate",
    unit="x",
    rules=("wrong-rate-header", "offset-from-click", "drift-from-click"),
    sizes=RATIOS,
    plant=mislabelled,
    in_onsets=hurried,
    shows=shows,
    fits=fits,
    estimate=estimate,
    group=lambda stem: "all rhythmic stems",
)
