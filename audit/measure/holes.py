"""Which cuts of a sound are holes in it, and which are its own: rests, chops, choked and other sounds.

    holes_among(cuts, runs, rate_hz=…, tolerance=…) -> [Hole]
    evenly_spaced(frames, slack) -> for each place whether it is one of three at even distances

`dropouts.py` finds the cuts.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field

from audit.results import Hole
from audit.units import to_db

LONGEST_S = 1.0
SHORT_S = 0.03

FADED = 0.05
KEPT = 0.5
"""Amplitude just before the hole over what was expected there: below FADED no cut, at one edge KEPT at least.
A fade of 3 ms leaves 0.5, one of 5 ms 0.3; a voice between two pulses of its throat and a bell's beating can
be as low in sound that goes on."""

TURNS, PULSES = 60.0, 16.0
"""A held value in sound of fewer tolerances (16 bits: −47 dBFS) is the turn of a low wave that dies away.
Where it is zero, and samples of the run differ, fewer than the second (−58 dBFS) are a soft voice between two
pulses of its throat, or its echo. Own measurement: seven of those in four songs at 6 to 10."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a hole up to a certain length must be like: the longer, the more like a rest, the stricter."""

    longest_s: float
    kept: float  # at the softer edge
    louder_db: float  # what starts so much louder than what stopped is an attack
    unlike: float  # residual of one side under the other side's model, over that under its own


BRIEF_S = 0.012
KINDS = (
    Kind(longest_s=BRIEF_S, kept=FADED, louder_db=20.0, unlike=math.inf),
    Kind(longest_s=0.06, kept=KEPT, louder_db=16.0, unlike=math.inf),
    Kind(longest_s=0.03, kept=0.2, louder_db=16.0, unlike=8.0),
    Kind(longest_s=0.06, kept=0.25, louder_db=12.0, unlike=4.0),
    Kind(longest_s=LONGEST_S, kept=0.45, louder_db=6.0, unlike=4.0),
)
STEEPEST_DB = 30.0
"""Sound that rose from nothing within 40 ms of the hole is no sound that a hole could interrupt."""

OTHER_SOUND = 300.0
"""So much worse foretold by the other side, two sounds share nothing: a note that is cut off and another one,
struck a few ms later. Own measurement: two sounds of a synthetic kit 29 000; both sides of 434 holes of 2 to
120 ms cut into stems 51 at most, 95 in 100 below 3."""

SAME_KEPT, SAME_STEP_DB, SAME_UNLIKE = 0.7, 6.0, 1.9
"""What holds for both sides where one sound goes on; words of a voice end and begin otherwise."""

CHOKED, CHOKED_S = 6, 10.0
"""A stem in which so many other runs, hard at both edges and no holes, lie so near has sounds that are choked
dead: one more, longer than SHORT_S, is a rest of the same kind."""

RUNS_A_SECOND = 8
BRIEF_NEARBY, LONGER_NEARBY, NEARBY_S = 8, 2, 1.0
EVEN_S = 0.0005
"""More runs in a second, or more cuts within NEARBY_S, are the sound of the stem; so are three longer ones at
even distances."""


@dataclass(frozen=True, slots=True)
class Cut:
    """A hole between two cuts, and how the sound on both sides compares."""

    at_frame: int
    frames: int
    value: float
    equal: bool  # every sample of it is that value, exactly
    level: float  # RMS of the 20 ms before it
    kept: float  # of the more damped edge
    kept_most: float  # of the other
    step_db: float  # level after over level before
    slope_db: float  # steepest change of level within 40 ms on either side
    unlike: float  # how much worse each side's model foretells the other: 1 for the same sound


@dataclass(slots=True)
class Runs:
    """How many runs of one value there are, hard at both edges, bin by bin."""

    bin_frames: int
    counts: array[int] = field(default_factory=lambda: array("H"))

    def count(self, frame: int) -> None:
        place = max(0, frame // self.bin_frames)
        if place >= len(self.counts):
            self.counts.extend([0] * (place + 1 - len(self.counts)))
        self.counts[place] = min(self.counts[place] + 1, 65_535)

    def around(self, frame: int, bins: int) -> int:
        """So many bins to either side."""
        place = frame // self.bin_frames
        return sum(self.counts[max(0, place - bins) : place + bins + 1])


def holes_among(cuts: Sequence[Cut], runs: Runs, *, rate_hz: int, tolerance: float) -> list[Hole]:
    """The holes that are no part of the sound, in order. tolerance: within which samples are one value."""
    brief = [cut for cut in cuts if cut.frames <= BRIEF_S * rate_hz]
    longer = [cut for cut in cuts if cut.frames > BRIEF_S * rate_hz]
    even = evenly_spaced([cut.at_frame for cut in longer], round(EVEN_S * rate_hz))
    told = [
        cut
        for cut in brief
        if _is_fault(cut, rate_hz, tolerance) and _alone(cut, brief, runs, rate_hz, BRIEF_NEARBY)
    ]
    told += [
        cut
        for cut, regular in zip(longer, even, strict=True)
        if not regular
        and _is_fault(cut, rate_hz, tolerance)
        and _alone(cut, longer, runs, rate_hz, LONGER_NEARBY)
    ]
    return [
        Hole(
            at_frame=cut.at_frame, frames=cut.frames, value=cut.value, level_dbfs=to_db(cut.level),
            same_sound=_is_same_sound(cut),
        )
        for cut in sorted(told, key=lambda cut: cut.at_frame)
        if cut.frames <= SHORT_S * rate_hz or not _is_choked(cut, told, runs, rate_hz)
    ]  # fmt: skip


def _is_fault(cut: Cut, rate_hz: int, tolerance: float) -> bool:
    # The turn of a wave this small stays within the tolerance for as long as a hole lasts.
    turns = TURNS if cut.value != 0.0 else 0.0 if cut.equal else PULSES
    if cut.level < turns * tolerance or cut.unlike > OTHER_SOUND:
        return False
    return any(
        cut.frames <= kind.longest_s * rate_hz
        and cut.kept >= kind.kept
        and cut.kept_most >= KEPT
        and cut.step_db <= kind.louder_db
        and cut.slope_db <= STEEPEST_DB
        and cut.unlike <= kind.unlike
        for kind in KINDS
    )


def _alone(cut: Cut, others: Sequence[Cut], runs: Runs, rate_hz: int, most: int) -> bool:
    near = NEARBY_S * rate_hz
    return (
        runs.around(cut.at_frame, 5) <= RUNS_A_SECOND
        and sum(abs(other.at_frame - cut.at_frame) <= near for other in others) <= most
    )


def _is_choked(cut: Cut, told: Sequence[Cut], runs: Runs, rate_hz: int) -> bool:
    reach, place = round(CHOKED_S * rate_hz) // runs.bin_frames, cut.at_frame // runs.bin_frames
    holes = sum(abs(one.at_frame // runs.bin_frames - place) <= reach for one in told)
    return runs.around(cut.at_frame, reach) - holes >= CHOKED


def _is_same_sound(cut: Cut) -> bool:
    kept = cut.kept >= SAME_KEPT and cut.unlike <= SAME_UNLIKE
    return kept and abs(cut.step_db) <= SAME_STEP_DB


def evenly_spaced(frames: list[int], slack: int) -> list[bool]:
    """For each place whether it is one of three neighbours with the same distance between them."""
    even = [False] * len(frames)
    for i in range(2, len(frames)):
        if abs(frames[i] - 2 * frames[i - 1] + frames[i - 2]) <= slack:
            even[i - 2 : i + 1] = [True] * 3
    return even
