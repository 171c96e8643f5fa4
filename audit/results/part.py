"""All that one pass over a stem taught, part by part."""

from __future__ import annotations

from dataclasses import dataclass

from audit.results.damage import Damage
from audit.results.music import Chroma, Fingerprint, HardEnd, HardStart, Head, Onsets
from audit.results.origin import Ceiling, Nature, Scrambled
from audit.results.sound import (
    Activity,
    Clipping,
    Envelope,
    FlatTops,
    Levels,
    Loudness,
    Peaks,
    SideDelay,
    Stereo,
)
from audit.results.timecode import TimecodeTrack


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMeasures:
    """One part of a stem: the channels that share a role (nearly always all of them)."""

    channels: tuple[int, ...]  # 0-based
    peaks: Peaks
    clipping: Clipping
    flat_tops: FlatTops
    loudness: Loudness
    levels: Levels
    activity: Activity
    stereo: Stereo | None  # for pairs only
    nature: Nature
    timecode: TimecodeTrack | None = None  # None: no frame of timecode can be read
    onsets: Onsets | None = None
    head: Head | None = None  # None: no first sound to compare, or nothing to compare it with
    chroma: Chroma | None = None
    ceiling: Ceiling | None = None
    side_delay: SideDelay | None = None  # for pairs only, neither side silent
    damage: Damage | None = None
    fingerprint: Fingerprint | None = None
    envelope: Envelope | None = None  # None: no frame in it
    hard_start: HardStart | None = None  # None: it starts softly, or as its later sounds do
    hard_end: HardEnd | None = None  # None: it never sounds


@dataclass(frozen=True, slots=True, kw_only=True)
class StemMeasures:
    """All that one pass over a stem taught."""

    frames: int  # decoded
    parts: tuple[PartMeasures, ...]
    bits_in_use: int | None  # significant bits of the PCM samples; None for float, lossy or silent files
    content_hash: str | None  # of the decoded samples, channels and rate; None for silence
    not_finite: int  # samples that are NaN or infinite (measured as silence)
    not_finite_at_frame: int | None
    md5_checked: bool | None  # None: the container stores no checksum
    scrambled: Scrambled | None = None
    distinct_values: int = 0  # of samples that leave the lowest bit alone, counted to 4096 (measure.bits)
