"""Timecode, as it was read."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from audit.timecode import FrameRate, Label


class JumpKind(str, Enum):
    """How timecode leaves its count."""

    MISSING = "missing"  # frames cannot be read, or are not there, while the count goes on
    STRAY = "stray"  # one frame with another number between two that follow each other
    REPEATED = "repeated"
    FORWARD = "forward"  # the numbers move on by more than the time
    HELD = "held"  # by less: the code was stopped and went on
    BACKWARD = "backward"
    SLIPPED = "slipped"  # the count goes on, its frames do not lie in the rhythm of those before
    TURNED = "turned"  # the tape changes its direction


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeJump:
    """A place where timecode is not what it should be after the frame before."""

    kind: JumpKind
    at_s: float  # end of the last good frame
    before: Label
    after: Label  # of the next good frame
    frames: float  # how many are missing, repeated, passed over or gone back; a fraction where SLIPPED
    silent: bool = False  # MISSING, and the signal itself is gone


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeRun:
    """Frames that count on from first to last (a few may be missing). In the order of time."""

    first: Label
    last: Label
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeTrack:
    """Linear timecode as it was read (IEC 60461). Seconds from the file's first frame."""

    channel: int  # 0-based
    frames: int  # that were read
    first: Label
    last: Label
    start_s: float  # first edge of the first frame
    end_s: float  # end of the last
    rate: FrameRate  # the standard's rate that it is; drop-frame as it counts, else as its flag says
    frames_per_s: float  # by the clock of the file
    off_ppm: float  # from that rate; positive = fast
    drop_flags: int  # frames that carry the drop-frame flag
    dropped_minutes: int  # minutes whose first two numbers were left out, as drop-frame counting does
    plain_minutes: int  # minutes that drop-frame counting would have shortened and that were not
    user_bits: tuple[int, ...]  # the eight binary groups of the first frame, group 1 first
    user_bits_change: bool
    backward: bool  # most frames are played backwards
    level_dbfs: float  # peak of the square wave, mean of all frames, without DC
    lowest_level_dbfs: float  # of a single frame
    lowest_level_at_s: float
    edge_error: float  # rms distance of the ones' middle edges from mid-cell, share of a bit cell
    jumps: tuple[TimecodeJump, ...]  # the first MOST_JUMPS of them (audit.measure.ltc_counting)
    jump_count: int
    runs: tuple[TimecodeRun, ...]
