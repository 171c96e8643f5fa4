"""From frames of timecode to its count: rate, drop-frame, clock, and every place where it leaves the count.

    FrameBook()   .add(frames), .track(rate_hz, channel) -> TimecodeTrack | None

Memory: nothing that grows with the length of the file. Of the frames only sums are kept, and of the places
where two neighbours do not follow each other the first MOST_JUMPS. What a jump means depends on how many
numbers a second has, which only the whole file tells; so neighbours are kept as they are until then.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from audit.measure.ltc_words import FRAME, Frames
from audit.results import JumpKind, TimecodeJump, TimecodeRun, TimecodeTrack
from audit.timecode import FPS_29_97_DROP, FRAME_RATES, FrameRate, Label, frames_per_day
from audit.units import to_db

MOST_JUMPS = 1000
MOST_SECONDS = 100
"""Ends of seconds that are kept for each count, in case that count turns out not to be the file's."""

RHYTHM = 0.1
"""Neighbours lie one frame apart within this share of a frame: eight bit cells, more than any wow moves a
frame, less than what a cut that fell inside a word would hide."""

SLIP = 0.25
"""Past a damaged stretch frames go on in their old rhythm within this share of a frame, or they slipped."""

GONE = 0.2
"""A gap with fewer than this share of the edges that its frames should have is silence, not garble."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """Two frames, neighbours in time."""

    one: np.void
    two: np.void

    @property
    def apart(self) -> float:
        """Frames from the start of one to the start of two, by the first one's length."""
        return float((self.two["start"] - self.one["start"]) / (self.one["end"] - self.one["start"]))


class FrameBook:
    """Takes frames in the order of time and keeps what a TimecodeTrack needs."""

    def __init__(self) -> None:
        self._count = 0
        self._first: np.void | None = None
        self._last = np.zeros(0, dtype=FRAME)
        self._lowest: np.void | None = None
        self._sums: Counter[str] = Counter()
        self._levels = 0.0
        self._errors = 0.0
        self._top_number = 0
        self._user_bits_change = False
        # Neighbours that do not follow each other, and seconds that end at 23, 24 or 29, with their places.
        self._breaks: list[_Pair] = []
        self._lost_breaks = 0
        self._seconds: dict[int, list[_Pair]] = {24: [], 25: [], 30: []}
        self._second_counts: Counter[int] = Counter()
        # Least squares of start over number, within stretches without a break: Σ(x−x̄)², Σ(x−x̄)(t−t̄).
        self._fit = np.zeros(2)
        self._stretch = np.zeros(5)  # n, Σx, Σt, Σx², Σxt of the stretch that goes on
        self._origin = 0.0

    def add(self, frames: Frames) -> None:
        """Frames of one channel, in the order of time (audit.measure.ltc_words.FRAME)."""
        if len(frames) == 0:
            return
        if self._first is None:
            self._first = frames[0].copy()
            self._origin = float(frames["start"][0])
        rows = np.concatenate([self._last, frames])
        self._count += len(frames)
        self._levels += float(frames["level"].sum())
        self._errors += float((frames["edge_error"] ** 2).sum())
        self._sums["drop"] += int(frames["drop"].sum())
        self._sums["backward"] += int(frames["backward"].sum())
        self._top_number = max(self._top_number, int(frames["frames"].max()))
        self._user_bits_change |= bool((frames["user"] != self._first["user"]).any())
        lowest = frames[int(frames["level"].argmin())]
        if self._lowest is None or lowest["level"] < self._lowest["level"]:
            self._lowest = lowest.copy()
        follows = self._compare(rows)
        self._measure_clock(frames, follows if len(self._last) else np.concatenate([[True], follows]))
        self._last = rows[-1:].copy()

    def _compare(self, rows: Frames) -> npt.NDArray[np.bool_]:
        """For every row but the first whether it follows the one before it; keeps what does not."""
        one, two = rows[:-1], rows[1:]
        backward = one["backward"]
        early = np.where(backward, two, one)
        late = np.where(backward, one, two)
        second, next_second = _seconds_of(early), _seconds_of(late)
        inside = (second == next_second) & (late["frames"] == early["frames"] + 1)
        turns = (second + 1) % 86_400 == next_second
        number = early["frames"] + 1
        drops = (number == 30) & (late["frames"] == 2) & (late["seconds"] == 0) & (late["minutes"] % 10 != 0)
        ends = turns & np.isin(number, (24, 25, 30)) & ((late["frames"] == 0) | drops)
        apart = (two["start"] - one["start"]) / (one["end"] - one["start"])
        follows: npt.NDArray[np.bool_] = (
            (inside | ends) & (one["backward"] == two["backward"]) & (np.abs(apart - 1.0) < RHYTHM)
        )
        minute = follows & ends & (number == 30) & (late["seconds"] == 0) & (late["minutes"] % 10 != 0)
        self._sums["dropped"] += int((minute & drops).sum())
        self._sums["plain"] += int((minute & ~drops).sum())
        for place in np.flatnonzero(follows & ends):
            size = int(number[place])
            self._second_counts[size] += 1
            if len(self._seconds[size]) < MOST_SECONDS:
                self._seconds[size].append(_Pair(one[place].copy(), two[place].copy()))
        for place in np.flatnonzero(~follows):
            if len(self._breaks) < MOST_JUMPS:
                self._breaks.append(_Pair(one[place].copy(), two[place].copy()))
            else:
                self._lost_breaks += 1
        return follows

    def _measure_clock(self, frames: Frames, follows: npt.NDArray[np.bool_]) -> None:
        starts = frames["start"]
        begins = [0, *np.flatnonzero(~follows).tolist()]
        for number, begin in enumerate(begins):
            end = begins[number + 1] if number + 1 < len(begins) else len(frames)
            if number > 0 or not follows[0]:
                self._close_stretch()
                self._origin = float(starts[begin])
            t = starts[begin:end] - self._origin
            x = self._stretch[0] + np.arange(len(t))
            self._stretch += [len(t), x.sum(), t.sum(), (x * x).sum(), (x * t).sum()]

    def _close_stretch(self) -> None:
        self._fit += _spread(self._stretch)
        self._stretch[:] = 0.0

    def track(self, rate_hz: int, channel: int) -> TimecodeTrack | None:
        """What was read so far; None where that is nothing."""
        if self._first is None or self._lowest is None:
            return None
        first, last = self._first, self._last[0]
        squares, products = (self._fit + _spread(self._stretch)).tolist()
        length = products / squares if squares > 0.0 else float(last["end"] - last["start"])
        frames_per_s = rate_hz / length
        rate = self._rate(frames_per_s)
        jumps, runs = self._judged(rate, rate_hz)
        untold = self._lost_breaks + sum(
            self._second_counts[size] - len(places)
            for size, places in self._seconds.items()
            if size != rate.count
        )
        return TimecodeTrack(
            channel=channel,
            frames=self._count,
            first=_label(first),
            last=_label(last),
            start_s=max(0.0, float(first["start"])) / rate_hz,
            end_s=float(last["end"]) / rate_hz,
            rate=rate,
            frames_per_s=frames_per_s,
            off_ppm=1e6 * (frames_per_s / float(rate.frames_per_s) - 1.0),
            drop_flags=self._sums["drop"],
            dropped_minutes=self._sums["dropped"],
            plain_minutes=self._sums["plain"],
            user_bits=tuple(int(first["user"]) >> 4 * group & 15 for group in range(8)),
            user_bits_change=self._user_bits_change,
            backward=2 * self._sums["backward"] > self._count,
            level_dbfs=to_db(self._levels / self._count),
            lowest_level_dbfs=to_db(float(self._lowest["level"])),
            lowest_level_at_s=max(0.0, float(self._lowest["start"])) / rate_hz,
            edge_error=math.sqrt(self._errors / self._count),
            jumps=tuple(jumps[:MOST_JUMPS]),
            jump_count=len(jumps) + untold,
            runs=tuple(runs),
        )

    def _rate(self, frames_per_s: float) -> FrameRate:
        """The standard's rate that this is.

        How many numbers a second has decides, where a second ended; a file played too fast or too slowly is
        known by that. Among rates of one count, and where no second ended, the nearest.
        """
        counted = self._second_counts.most_common(1)
        dropped, plain = self._sums["dropped"], self._sums["plain"]
        flagged = 2 * self._sums["drop"] > self._count
        drops = flagged if dropped == plain else dropped > plain
        able = [
            rate
            for rate in FRAME_RATES
            if (rate.count == counted[0][0] if counted else rate.count > self._top_number)
            and not rate.drop_frame
        ]
        nearest = min(able, key=lambda rate: abs(math.log(frames_per_s / float(rate.frames_per_s))))
        return FPS_29_97_DROP if nearest.count == 30 and drops else nearest

    def _judged(self, rate: FrameRate, rate_hz: int) -> tuple[list[TimecodeJump], list[TimecodeRun]]:
        """Jumps and runs, now that the rate is known."""
        pairs = list(self._breaks)
        for size, places in self._seconds.items():
            if size != rate.count:
                pairs += places
        pairs.sort(key=lambda pair: float(pair.two["start"]))
        jumps: list[TimecodeJump] = []
        runs: list[TimecodeRun] = []
        assert self._first is not None
        begin = self._first
        place = 0
        while place < len(pairs):
            pair = pairs[place]
            place += 1
            jump = _judge(pair, rate, rate_hz)
            if jump is None:
                continue
            following = pairs[place] if place < len(pairs) else None
            if following is not None and following.one["start"] == pair.two["start"]:
                around = _judge(_Pair(pair.one, following.two), rate, rate_hz)
                if around is not None and around.kind is JumpKind.MISSING and around.frames == 1.0:
                    jumps.append(replace(around, kind=JumpKind.STRAY, after=_label(pair.two)))
                    place += 1
                    continue
            if _goes_on_repeating(jumps, jump, pair, pairs[place - 2] if place > 1 else None):
                jumps[-1] = replace(jumps[-1], frames=jumps[-1].frames + 1.0)
            else:
                jumps.append(jump)
            if jump.kind is not JumpKind.MISSING:
                runs.append(_run(begin, pair.one, rate_hz))
                begin = pair.two
        runs.append(_run(begin, self._last[0], rate_hz))
        return jumps, runs


def _spread(sums: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Σ(x−x̄)² and Σ(x−x̄)(t−t̄) from n, Σx, Σt, Σx², Σxt."""
    n, x, t, xx, xt = sums
    return np.array([xx - x * x / n, xt - x * t / n]) if n > 1 else np.zeros(2)


def _seconds_of(frames: Frames) -> npt.NDArray[np.int64]:
    seconds: npt.NDArray[np.int64] = (
        frames["hours"].astype(np.int64) * 3600 + frames["minutes"] * 60 + frames["seconds"]
    )
    return seconds


def _label(frame: np.void) -> Label:
    return Label(*(int(frame[name]) for name in ("hours", "minutes", "seconds", "frames")))


def _run(first: np.void, last: np.void, rate_hz: int) -> TimecodeRun:
    return TimecodeRun(
        first=_label(first),
        last=_label(last),
        start_s=max(0.0, float(first["start"])) / rate_hz,
        end_s=float(last["end"]) / rate_hz,
    )


def _index(label: Label, rate: FrameRate) -> int:
    """`timecode.index_of`, for labels that the rate may not have as well."""
    minutes = 60 * label.hours + label.minutes
    index = (60 * minutes + label.seconds) * rate.count + label.frames
    return index - 2 * (minutes - minutes // 10) if rate.drop_frame else index


def _judge(pair: _Pair, rate: FrameRate, rate_hz: int) -> TimecodeJump | None:
    """What is wrong between two neighbours; None where, at this rate, nothing is."""
    before, after = _label(pair.one), _label(pair.two)
    day = frames_per_day(rate)
    counted = _index(after, rate) - _index(before, rate)
    if pair.one["backward"]:
        counted = -counted
    counted = (counted + day // 2) % day - day // 2
    apart = pair.apart
    passed = round(apart)
    silent = False
    if pair.one["backward"] != pair.two["backward"]:
        kind, frames = JumpKind.TURNED, float(abs(counted))
    elif counted == passed == 1 and abs(apart - 1.0) < RHYTHM:
        return None
    elif counted == passed and (passed == 1 or abs(apart - passed) >= SLIP):
        kind, frames = JumpKind.SLIPPED, counted - apart
    elif counted == passed:
        kind, frames = JumpKind.MISSING, float(passed - 1)
        edges = int(pair.two["first_edge"] - pair.one["last_edge"])
        silent = edges < GONE * 80 * (passed - 1)
    elif counted == 0 and passed == 1:
        kind, frames = JumpKind.REPEATED, 1.0
    elif counted < 0:
        kind, frames = JumpKind.BACKWARD, float(-counted)
    elif counted > passed:
        kind, frames = JumpKind.FORWARD, float(counted - passed)
    else:
        kind, frames = JumpKind.HELD, float(passed - counted)
    return TimecodeJump(
        kind=kind,
        at_s=float(pair.one["end"]) / rate_hz,
        before=before,
        after=after,
        frames=frames,
        silent=silent,
    )


def _goes_on_repeating(
    jumps: list[TimecodeJump], jump: TimecodeJump, pair: _Pair, previous: _Pair | None
) -> bool:
    """Whether the same number stands there once more: one jump, however often."""
    return (
        jump.kind is JumpKind.REPEATED
        and bool(jumps)
        and jumps[-1].kind is JumpKind.REPEATED
        and previous is not None
        and bool(previous.two["start"] == pair.one["start"])
    )
