"""What is broken inside a part."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Hole:
    """Sound that stops dead and goes on as suddenly, with one value in between."""

    at_frame: int
    frames: int
    value: float  # 0.0: silence; else the sample value that is held
    level_dbfs: float  # RMS of the sound before it
    channels: tuple[int, ...] = ()  # 0-based
    same_sound: bool = True  # full up to both edges, as loud and of the same kind on both sides


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A block of samples that was played again."""

    at_frame: int  # where the second copy begins
    frames: int  # of the block
    times: int  # how often it was played again
    lag_frames: int  # from copy to copy
    channels: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceClick:
    """A place that the sound around it cannot have made."""

    at_frame: int
    size_dbfs: float  # of the wrong sample, or of the jump
    above_db: float  # over what the sound around it leaves unforetold; held: of that over half a code
    channels: tuple[int, ...] = ()
    held_frames: int = 0  # so many samples hold one value; 0: a wrong sample or a jump
    at_full_scale: bool = False  # a sample within some 5 ms of it stands there


@dataclass(frozen=True, slots=True, kw_only=True)
class Damage:
    """What is damaged in a part: how much of each kind, and where: the longest MOST_PLACES holes and repeats
    and the first such many clicks (audit.measure.damage).
    """

    holes: tuple[Hole, ...] = ()
    hole_count: int = 0
    longest_hole_frames: int = 0
    repeats: tuple[Repeat, ...] = ()
    repeat_count: int = 0
    clicks: tuple[SpliceClick, ...] = ()
    click_count: int = 0
