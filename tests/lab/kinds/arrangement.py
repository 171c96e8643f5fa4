"""Bars cut out of one stem, or played twice, from some bar on; its file becomes shorter or longer by them."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from audit.evidence import StemEvidence
from audit.results import Rearranged
from audit.rules.arrangement import stale_arrangement
from tests.lab.kinds import bar, beat
from tests.lab.songs import LabShow, LabSong, LabStem

Samples = np.ndarray
SHORTEST_BARS = 16


def place(song: LabSong, bars: float) -> int:
    """A bar line between a quarter and three quarters of the song, another one for every song and size."""
    whole = len(song.beats_s) // song.beats_a_bar
    chance = zlib.crc32(f"{song.name} {bars}".encode()) / 2.0**32
    return round(whole * (0.25 + 0.5 * chance)) * song.beats_a_bar


def rearrange(song: LabSong, samples: Samples, bars: float) -> Samples:
    """Bars before the place played again (positive), or those after it left out."""
    at = round(song.beats_s[place(song, bars)] * song.rate_hz)
    span = round(abs(bars) * song.beats_a_bar * beat.beat_s(song) * song.rate_hz)
    if bars > 0:
        return np.concatenate([samples[:at], samples[at - span :]])
    return np.concatenate([samples[:at], samples[at + span :]])


def fits(show: LabShow, song: LabSong, stem: LabStem, clean: StemEvidence, size: float) -> bool:
    long = len(song.beats_s) >= SHORTEST_BARS * song.beats_a_bar
    return long and bar.fits(show, song, stem, clean, size)


def shows(seed: int) -> Sequence[LabShow]:
    return beat.shows(seed)


def change(stem: StemEvidence) -> Rearranged | None:
    return stem.alignment.rearranged if stem.alignment is not None else None


def estimate(stem: StemEvidence) -> float | None:
    found = change(stem)
    assert stale_arrangement.limit is not None
    sure = found is not None and found.sure_after >= 0.65 * stale_arrangement.limit["after"]
    return found.shift_beats / bar.BEATS if found is not None and sure else None


KIND = replace(
    beat.KIND,
    name="arrangement",
    unit="bar",
    plant_in=rearrange,
    fits=fits,
    estimate=estimate,
)
