"""The whole stem early or late by bars, in songs of four beats a bar."""

from __future__ import annotations

from dataclasses import replace

from audit.evidence import StemEvidence
from tests.lab.kinds import beat
from tests.lab.songs import LabShow, LabSong, LabStem

BEATS = 4


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    return song.beats_a_bar == BEATS and beat.fits(show, song, stem, clean, size)


def estimate(stem: StemEvidence) -> float | None:
    beats = beat.estimate(stem)
    return None if beats is None else beats / BEATS


KIND = replace(
    beat.KIND,
    name="bar",
    unit="bar",
    plant=lambda samples, rate_hz, bars: beat.in_seconds(samples, rate_hz, BEATS * bars),
    plant_in=lambda song, samples, bars: beat.by_beats(song, samples, BEATS * bars),
    fits=fits,
    estimate=estimate,
)
