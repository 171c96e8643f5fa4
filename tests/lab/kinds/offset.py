"""The whole stem early or late."""

from __future__ import annotations

import tempfile
from array import array
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.results import Onsets
from tests.lab.human import human_show
from tests.lab.kind import Kind
from tests.lab.songs import MARKING, RHYTHMIC, LabShow, LabSong, LabStem, corpus, demo, long_show, ordinary
from tests.shared import shared_folder

Samples = np.ndarray
KEYED = frozenset({Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH})
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


def later(onsets: Onsets, offset_ms: float) -> Onsets | None:
    """The onsets of the moved stem; None where its harmony moves noticeably too."""
    return moved_onsets(onsets, offset_ms) if abs(offset_ms) <= 50.0 else None


def moved_onsets(onsets: Onsets, offset_ms: float) -> Onsets:
    kept = [
        (at_s + offset_ms / 1000.0, strength)
        for at_s, strength in zip(onsets.times_s, onsets.strengths_db, strict=True)
        if at_s + offset_ms / 1000.0 >= 0.0
    ]
    return Onsets(
        times_s=array("d", [at_s for at_s, _ in kept]), strengths_db=array("f", [one for _, one in kept])
    )


def shows(seed: int) -> Iterator[LabShow]:
    """Shows by three hands, one after the other; of those that the lab builds, other songs for every seed."""
    yield demo()
    with tempfile.TemporaryDirectory() as folder:
        yield ordinary(Path(folder) / "show")
    yield corpus(shared_folder("corpus"))
    for more in (0, 100):
        yield long_show(seed + more, songs=6, seconds=75.0)
    for more in (0, 100, 200):
        yield human_show(seed + more, seconds=80.0)


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    """What the rule may judge: 30 onsets, two stems to compare with, three other songs with such a role."""
    phase = clean.alignment.phase if clean.alignment else None
    if phase is None or phase.onsets < 30 or len(phase.against) < 2:
        return False
    return known(show, song, stem)


def known(show: LabShow, song: LabSong, stem: LabStem) -> bool:
    like = next((roles for roles in (MARKING, KEYED) if stem.role in roles), {stem.role})
    others = [one for one in show.songs if one is not song and one.beats_s]
    return stem.role in RHYTHMIC and sum(any(s.role in like for s in one.stems) for one in others) >= 3


def estimate(stem: StemEvidence) -> float | None:
    return stem.alignment.phase.offset_ms if stem.alignment and stem.alignment.phase else None


KIND = Kind(
    name="offset",
    unit="ms",
    rules=("offset-from-click",),
    sizes=tuple(sign * size for size in SIZES_MS for sign in (1.0, -1.0)),
    plant=moved,
    in_onsets=later,
    shows=shows,
    fits=fits,
    estimate=estimate,
    group=lambda stem: "drums, percussion, loops" if stem.role in MARKING else "bass, guitars, keys",
    silent_below=5.0,
)
