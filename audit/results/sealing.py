"""What a seal knows of a stem's sound, and what is said of a stem that differs from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True, slots=True, kw_only=True)
class SideSketch:
    """One side of a stereo stem, or half of what both add up to: its highest samples, as in Sketch."""

    crest_at: bytes  # "u2"
    crests: bytes  # "f2"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sketch:
    """A stem in few numbers, one of each kind for every chunk of a quarter second. Packed, little-endian."""

    rate_hz: int
    channels: int
    frames: int
    chunk_frames: int
    hashes: bytes  # "u4": of the chunk's samples to the bit
    crest_at: bytes  # "u4": the frame of the chunk's highest sample, counted from the chunk's first
    crests: bytes  # "f4": that sample, with its sign; the sides are added with unlike weights
    levels: bytes  # "u1": the chunk's RMS, half dB above −127.5 dBFS
    flips: bytes = b""  # "u4": exclusive or of the bits of all the chunk's samples; empty in older seals
    sides: tuple[SideSketch, ...] = ()  # left, right, half their sum; only of two channels


class ChangeKind(str, Enum):
    """One way in which a stem differs from what it was."""

    METADATA = "metadata"  # the file's bytes differ, its audio does not
    STORED = "stored"  # the same audio in another container, or with another word length
    GAIN = "gain"
    POLARITY = "polarity"
    SHIFT = "shift"
    LENGTH = "length"
    EDITED = "edited"
    FADED_IN = "faded in"
    FADED_OUT = "faded out"
    RIDDEN = "ridden"  # its level was changed along the way; value: the most
    MUTED = "muted"  # silent where it sounded
    SAMPLE = "sample"  # one sample differs, `frames` from the first
    DIFFERS = "differs"  # as edited, where nobody saved the file
    SIDES = "sides"  # what became of left and right, in words
    CODED = "coded"  # by a lossy codec
    BROKEN_OFF = "broken off"  # the file ends before its header says; from_s of to_s is there
    DAMAGED = "damaged"  # the container tells of damage inside one of the two
    LOWEST_BITS = "lowest bits"
    RATE = "rate"
    CHANNELS = "channels"
    SILENT = "silent"
    SOUNDS = "sounds"  # it was silent
    PROCESSED = "processed"  # heard alike, and not one sample as it was
    OTHER = "other"  # nothing in common
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True, kw_only=True)
class AudioChange:
    """What was done to a stem. `value` in `unit`; + is louder, later, longer."""

    kind: ChangeKind
    value: float | None = None
    unit: str | None = None
    frames: int | None = None  # of a shift or a length; of a sample, its place
    bars: int | None = None  # of a length, where it is whole bars
    from_s: float | None = None  # where, in the new audio; of a length with `to_s`: somewhere in between
    to_s: float | None = None
    placed: bool = True  # False: nobody looked where
    was: str | None = None  # in words
    now: str | None = None


class DeltaState(str, Enum):
    """How a stem stands to the sealed one."""

    CHANGED = "changed"
    DECAYED = "decayed"  # same size and time, other content
    MISSING = "missing"
    NEW = "new"
    MOVED = "moved"  # the same audio under another name, or in another folder


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """Which of two copies is the damaged one."""

    of_old: bool | None  # None: the two do not tell
    why: str = ""  # what shows it


@dataclass(frozen=True, slots=True, kw_only=True)
class StemDelta:
    """One stem that is not as it was. Paths are relative to the show's folder, "/" between parts."""

    state: DeltaState
    path: str  # as it is now; as it was where it is missing
    song: str  # as it is called now, where it is there
    stem: str  # within the song's folder
    was: str | None = None  # the path it had, where that differs
    was_song: str | None = None  # the song it lay in, where that is another one
    same_as: str | None = None  # of a new one: the sealed stem that holds the same audio
    changes: tuple[AudioChange, ...] = ()
    audio_differs: bool = True  # False: it sounds the same to the bit
    suspect: Suspect | None = None  # of one that broke off or rotted


@dataclass(frozen=True, slots=True, kw_only=True)
class SealCheck:
    """A show compared with its seal."""

    sealed_at: str  # ISO 8601, UTC
    stems: int  # in the seal
    deltas: tuple[StemDelta, ...]  # in the seal's order, new ones last
    not_read: int = 0  # stems taken as unchanged by name, size and time
    could_not_read: tuple[tuple[str, str], ...] = ()  # (path, reason): neither the same nor different
    songs_gone: tuple[tuple[str, int], ...] = ()  # (song, stems) of which nothing is left
    songs_moved: tuple[
        tuple[str, str], ...
    ] = ()  # (was, is): folders with all their stems under another name
    anew: tuple[tuple[str, str], ...] = ()  # (song, when): sealed by themselves after the rest
