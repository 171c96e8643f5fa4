"""The whole stem early or late by beats."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.rules.shifted import shifted_by_beats
from audit.rules.shifted_evidence import is_shifted
from tests.lab.kind import Kind
from tests.lab.kinds.offset import moved
from tests.lab.provoking import provoking
from tests.lab.songs import LabShow, LabSong, LabStem, corpus, demo, long_show
from tests.shared import shared_folder

Samples = np.ndarray
CHORDS = frozenset({
    Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO, Role.ORGAN, Role.PAD, Role.STRINGS, Role.BRASS, Role.CHOIR,
    Role.BACKING_VOCALS,
})  # fmt: skip
TUNES = frozenset({Role.LEAD_VOCAL, Role.SYNTH, Role.WOODWIND, Role.OTHER})


def beat_s(song: LabSong) -> float:
    return float(np.median(np.diff(song.beats_s)))


def by_beats(song: LabSong, samples: Samples, beats: float) -> Samples:
    return moved(samples, song.rate_hz, 1000.0 * beats * beat_s(song))


def in_seconds(samples: Samples, rate_hz: int, beats: float) -> Samples:
    """For songs at 120 bpm; `by_beats` knows the song's own."""
    return moved(samples, rate_hz, 500.0 * beats)


def shows(seed: int) -> Sequence[LabShow]:
    return [
        long_show(seed, songs=8, seconds=100.0), provoking(seed), demo(), corpus(shared_folder("corpus")),
    ]  # fmt: skip


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    """What may be asked: harmony, two other stems that carry it."""
    told = clean.alignment is not None and clean.alignment.beats is not None
    return told and stem.role in CHORDS | TUNES


def estimate(stem: StemEvidence) -> float | None:
    """In beats, where the rule would speak."""
    beats = stem.alignment.beats if stem.alignment is not None else None
    assert shifted_by_beats.limit is not None
    return beats.shift_beats if beats is not None and is_shifted(beats, shifted_by_beats.limit) else None


def group(stem: LabStem) -> str:
    return "chords and basses" if stem.role in CHORDS else "tunes"


KIND = Kind(
    name="beat",
    unit="beat",
    rules=("shifted-by-beats", "stale-arrangement", "offset-from-click"),
    sizes=(1.0, -1.0, 2.0, -2.0),
    plant=in_seconds,
    plant_in=by_beats,
    shows=shows,
    fits=fits,
    estimate=estimate,
    absolute=True,
    group=group,
)
