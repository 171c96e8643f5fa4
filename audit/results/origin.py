"""What a part's sound is, and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """How far up a part's sound reaches, from its loud windows: where the spectrum breaks off, and whether it
    is mirrored at half of an older sampling rate (audit.measure.ceiling)."""

    edge_hz: float | None  # half way down its steepest fall; None: it falls nowhere from a filled height
    drop_db: float  # of the averaged spectrum there, over 700 Hz
    held_drop_db: float  # of the max-held spectrum
    breaks: int  # windows that fall by 30 dB and more there
    steady: float  # 0 … 1: their share of the windows that do so anywhere
    lines_db: (
        float  # mean over median power of the 10 Hz bins below it: 0 for noise, far more for single partials
    )
    windows: int  # loud ones that were looked at, 100 ms each, all channels
    mirror_hz: float | None  # half of the older rate at which the spectrum is mirrored most
    mirror: float  # 0 … 1: how far what lies above it is an image of what lies below
    mirror_beside: float  # the same about centres beside it


class Reading(str, Enum):
    """Another way to read a file's bytes than its header says."""

    REVERSED = "bytes in reverse order"
    SHIFTED = "bytes shifted"
    UNSIGNED = "unsigned samples"
    INTEGER_16 = "16-bit samples"
    INTEGER_24 = "24-bit samples"
    INTEGER_32 = "32-bit samples"
    FLOAT_32 = "32-bit float samples"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrambled:
    """What of a file's samples looks like bytes in the wrong places, or like no audio (measure.scrambled)."""

    windows: int  # that sound: 1024 frames every half second
    reading: Reading | None  # the way of reading that makes sense of them; None: none does, or none is needed
    readable: int  # windows that it makes smooth
    even: int  # windows whose samples have every value equally often, up to full scale
    first_at_frame: int | None  # of the first of those windows
    roughness: float  # of that window as it is: 2 for samples without any relation
    roughness_read: float  # and in that reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """What one channel's waveform looks like, apart from its name."""

    timecode_share: float  # 0 … 1: sounding time whose zero crossings keep a bi-phase mark pattern
    tick_share: float  # 0 … 1: how far the sound is made of short, evenly spaced ticks in silence
