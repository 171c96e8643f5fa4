"""What a seal holds: a show in a known good state, stem by stem."""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts import StemFormat
from audit.results import Sketch

SCHEMA = 1
"""Rises when a key that stands in the file changes its meaning or goes; new keys do not raise it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedMeasures:
    """The numbers people ask for; None for silence, and for what does not exist."""

    integrated_lufs: float | None = None
    loudness_range_lu: float | None = None
    true_peak_dbtp: float | None = None
    sample_peak_dbfs: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedStem:
    """One stem. `path` is relative to the show's folder, "/" between parts."""

    path: str
    file: str  # within the song's folder
    role: str
    size_bytes: int
    modified_ns: int
    file_hash: str | None  # xxh3_128 of all the file's bytes; None: they could not be read, or are not here
    audio_hash: str | None  # of the decoded samples, channels and rate (audit.measure.content); None: silence
    format: StemFormat | None = None  # None: nothing could be decoded
    failure: str | None = None
    measures: SealedMeasures | None = None
    sketch: Sketch | None = None
    fingerprint: bytes = b""  # of its main part: see audit.results.Fingerprint.words, little-endian


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedSong:
    """One song, and what the audit thought of it that day."""

    name: str
    folder: str  # relative to the show's folder; "." where the show is one song
    verdict: str
    stems: tuple[SealedStem, ...]
    bar_s: float | None = None  # length of a bar of its click, where that is steady
    sealed_at: str | None = None  # ISO 8601, UTC: sealed anew by itself, after the rest


@dataclass(frozen=True, slots=True, kw_only=True)
class Seal:
    """The whole show."""

    schema: int
    made_by: str  # "stemaudit 0.1.0"
    sealed_at: str  # ISO 8601, UTC
    show: str
    songs: tuple[SealedSong, ...]
    sample_rate_hz: int | None = None
    bits: int | None = None
    errors: int = 0  # of the whole show that day
    warnings: int = 0

    @property
    def stems(self) -> int:
        return sum(len(song.stems) for song in self.songs)
