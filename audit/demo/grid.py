"""Musical time: where every beat of a song lies in seconds and in frames, tempo changes included."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Metre:
    """Beats of a bar and how they group: 4/4 in twos, 6/8 in threes, 7/8 as 2 + 2 + 3."""

    beats: int = 4
    unit: int = 4
    groups: tuple[int, ...] = ()  # in eighths

    @property
    def text(self) -> str:
        return f"{self.beats}/{self.unit}"

    @property
    def step(self) -> float:
        """Length of an eighth in beats."""
        return 0.5 if self.unit == 4 else 1.0

    @property
    def eighths(self) -> int:
        return round(self.beats / self.step)

    @property
    def pulses(self) -> tuple[float, ...]:
        """Where the groups of a bar begin, in beats."""
        groups = self.groups or (2,) * (self.eighths // 2)
        return tuple(self.step * sum(groups[:number]) for number in range(len(groups)))


FOUR_FOUR = Metre()
SIX_EIGHT = Metre(beats=6, unit=8, groups=(3, 3))
SEVEN_EIGHT = Metre(beats=7, unit=8, groups=(2, 2, 3))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A run of beats at one tempo, or at one that changes steadily from `bpm` to `end_bpm`."""

    beats: float
    bpm: float
    end_bpm: float | None = None

    @property
    def slope(self) -> float:
        """Tempo change in bpm a beat."""
        return 0.0 if self.end_bpm is None else (self.end_bpm - self.bpm) / self.beats

    def after_s(self, beats: float) -> float:
        """Seconds from the stretch's start to a beat inside it."""
        if self.slope == 0.0:
            return 60.0 * beats / self.bpm
        return 60.0 / self.slope * math.log1p(self.slope * beats / self.bpm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """Beat 0 is bar 1, the count-in is negative. A beat is what the click counts (an eighth in 6/8)."""

    first_beat_s: float
    stretches: tuple[Stretch, ...]

    def at_s(self, beat: float) -> float:
        """Seconds from the file's start; before and after the stretches the tempo stays as it was there."""
        if beat < 0:
            return self.first_beat_s + 60.0 * beat / self.stretches[0].bpm
        start = self.first_beat_s
        for stretch in self.stretches:
            if beat <= stretch.beats:
                return start + stretch.after_s(beat)
            start += stretch.after_s(stretch.beats)
            beat -= stretch.beats
        last = self.stretches[-1]
        return start + 60.0 * beat / (last.end_bpm or last.bpm)

    def frame(self, beat: float, rate_hz: int) -> int:
        """The nearest frame."""
        return round(self.at_s(beat) * rate_hz)
