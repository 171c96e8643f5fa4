"""What a report shows of a place in a stem beyond numbers: its samples, and a clip to hear."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A stretch of a stem, named by song and stem. It may begin before the file or end behind it."""

    song: str
    stem: str
    first_s: float
    span_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One channel of an excerpt: lowest and highest sample of each column; the same where a column is one
    sample. Full scale 1.0."""

    channel: int  # 0-based
    lows: tuple[float, ...]
    highs: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Excerpt:
    """The samples of a place, at most two channels, drawn together into columns where they are many."""

    first_s: float
    span_s: float
    column_frames: int  # 1: every sample by itself
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """A short clip of a place, within the caps of audit.hear, as a file in memory."""

    data: bytes
    media_type: str  # "audio/flac"
    place_s: float  # where in the clip the place is
    down_db: float  # how far it was turned down
    why: str  # what its level is bounded as
