"""What a part plays: where sounds begin, which notes, and what it is known again by."""

from __future__ import annotations

from array import array
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    PackedFloats: TypeAlias = array[float]
    PackedInts: TypeAlias = array[int]
else:
    # A kept scan is read back by these annotations, and Python below 3.12 cannot evaluate array[int].
    PackedFloats = PackedInts = array


@dataclass(frozen=True, slots=True, kw_only=True)
class Onsets:
    """Where sounds begin in a part. Packed: a song has thousands."""

    times_s: PackedFloats  # "d", seconds from the file's first frame, ascending
    strengths_db: PackedFloats  # "f", by how much the level rises, all bands added; one each


@dataclass(frozen=True, slots=True, kw_only=True)
class HardStart:
    """A first sound that starts with a step."""

    at_s: float  # seconds from the file's first frame
    step_dbfs: float  # its height
    sharper: float  # times as sharp as anything in up to 40 s after it, for its level; 1000 at most


@dataclass(frozen=True, slots=True, kw_only=True)
class HardEnd:
    """How a part's last sound ends, and how its sounds before rests do. Hard: at the level that it had."""

    at_s: float  # just behind it, seconds from the file's first frame
    level_dbfs: float  # RMS of the 50 ms before
    fall_db: float  # how much lower its last 8 ms are than what was before; inf for a tick
    stops: int  # earlier ends with a rest of 10 ms and more after them
    hard_stops: int  # of these, hard ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """How a part's first sound compares with later ones, from their beginning and from inside them."""

    at_s: float  # where it begins, seconds from the file's first frame
    start_db: float  # level of its first 3 ms over the highest of its first 100 ms; swells are low
    like_beginning_db: float  # RMS difference from the beginning of the later sound that is most like it
    like_inside_db: float  # and from the inside of the third most like it
    missing_ms: float  # how long those had sounded there
    agreed: bool  # whether the three say the same place


@dataclass(frozen=True, slots=True, kw_only=True)
class Chroma:
    """Which pitch classes sound when. Packed: hop k is centred on k · hop_s from the file's first frame."""

    hop_s: float
    classes: PackedInts  # "B", twelve a hop, C first, around the stem's own tuning; the strongest is 255
    levels: PackedInts  # "B", one a hop, of its tones together: half dB above −120 dBFS; 0: none
    tonal: float  # 0 … 1: share of what sounds that is tones; drums and noise are low
    tuning_cents: float | None  # against A = 440 Hz, −50 … 50; None: its tones agree on none
    tuning_agreed: float  # 0 … 1: how far they agree


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """What is heard, without its level: which of 32 bands from 40 to 2800 Hz rise when. Packed: bit b of word
    k is set where band b rises by 1 dB from hop k − 1 to hop k, which is centred on k · hop_s."""

    hop_s: float
    words: PackedInts  # "I", one a hop, the lowest band in the lowest bit
    spectrum_db: tuple[float, ...]  # each band's part of the whole, lowest first; empty for silence
