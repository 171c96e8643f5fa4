"""Damage inside a stem: dropouts, repeated blocks, splice clicks.

    DamageMeter(rate_hz, channels, bits=…, is_float=…)   .add(block), .result(channels) -> Damage

All three need to see what stands before and after a place. The meter lays the blocks into one buffer and
hands out chunks that begin at multiples of CHUNK frames of the file, so what is found does not depend on the
blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from audit.measure import repeats
from audit.measure.dropouts import DropoutFinder
from audit.measure.held import LONGEST_S, HeldFinder
from audit.measure.repeats import RepeatFinder
from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.splices import SpliceFinder
from audit.measure.steps import part_channels
from audit.results import Damage, Hole, Repeat, SpliceClick

CHUNK = 1 << 15
CONTEXT_S = 0.06
"""What a place needs before and after it, whatever finds it; repeats need more at most rates."""

MOST_PLACES = 16
SAME_FRAMES = 64
"""A fault of the file begins on all its channels within so many samples."""

Place = TypeVar("Place", Hole, Repeat, SpliceClick)
Long = TypeVar("Long", Hole, Repeat)
Finders = tuple[DropoutFinder, RepeatFinder, SpliceFinder, HeldFinder]


class DamageMeter:
    """bits: valid bits of a PCM sample, None for lossy codecs. Memory: 310 kB a channel at 48 kHz."""

    def __init__(self, rate_hz: int, channels: int, *, bits: int | None, is_float: bool) -> None:
        check_rate(rate_hz)
        from audit.measure.silence_kernel import is_silent

        self._is_silent = is_silent
        context = round(CONTEXT_S * rate_hz)
        self._behind = -(-max(repeats.BEHIND, context) // 64) * 64
        self._ahead = -(-max(repeats.AHEAD, context) // 64) * 64
        length = self._behind + CHUNK + self._ahead
        self._buffer = np.zeros((channels, length), dtype=np.float32)
        self._filled = self._behind
        self._first = -self._behind  # the file's frame that stands first in the buffer
        kinds = (np.int64, np.uint32, np.uint32)
        self._room = tuple(np.zeros(CHUNK + 8, dtype=kind) for kind in kinds)
        self._ended: list[Finders] | None = None
        self._least_hole = round(LONGEST_S * rate_hz)  # below it, one is told as a click
        self._finders: list[Finders] = [
            (
                DropoutFinder(rate_hz, bits=bits, is_float=is_float),
                RepeatFinder(rate_hz, bits=bits, is_float=is_float),
                SpliceFinder(rate_hz, bits=bits, is_float=is_float),
                HeldFinder(rate_hz, bits=bits, is_float=is_float),
            )
            for _ in range(channels)
        ]

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, len(self._finders))
        self._ended = None
        taken, length = 0, self._buffer.shape[1]
        while taken < len(block):
            count = min(length - self._filled, len(block) - taken)
            self._buffer[:, self._filled : self._filled + count] = block[taken : taken + count].T
            self._filled += count
            taken += count
            if self._filled == length:
                self._look(self._finders, self._buffer, self._first)
                self._buffer[:, : length - CHUNK] = self._buffer[:, CHUNK:].copy()
                self._filled -= CHUNK
                self._first += CHUNK

    def _look(self, finders: Sequence[Finders], buffer: Samples, first: int) -> None:
        start, stop = self._behind, self._behind + CHUNK
        for (dropouts, copies, splices, held), wave in zip(finders, buffer, strict=True):
            if self._is_silent(wave):  # stems rest for minutes, and nothing in a rest is damaged
                continue
            dropouts.look(wave, start, stop, first)
            held.look(wave, start, stop, first)
            copies.look(wave, start, stop, first, self._room)
            seams, brightness = splices.look(wave, start, stop, first)
            bright = brightness >= repeats.BRIGHT
            copies.look_dithered(wave, start, stop, seams, first, self._room, bright=bright)

    def _finished(self) -> list[Finders]:
        """The finders after what still waits in the buffer, as if silence followed."""
        finders = [(a.branch(), b.branch(), c.branch(), d.branch()) for a, b, c, d in self._finders]
        end = self._first + self._filled
        buffer, first = self._buffer.copy(), self._first
        buffer[:, self._filled :] = 0.0
        while first + self._behind < end:
            self._look(finders, buffer, first)
            buffer[:, :-CHUNK] = buffer[:, CHUNK:].copy()
            buffer[:, -CHUNK:] = 0.0
            first += CHUNK
        return finders

    def result(self, channels: tuple[int, ...] | None = None) -> Damage:
        """What is damaged in the given channels (None: all). One place on several channels is one place."""
        part = part_channels(channels, len(self._finders))
        if self._ended is None:
            self._ended = self._finished()
        ended = [(channel, self._ended[channel]) for channel in part]
        holes = _merged([(channel, finders[0].holes()) for channel, finders in ended])
        copies = _merged([(channel, finders[1].repeats()) for channel, finders in ended])
        clicks = _merged([(channel, _clicks(finders[2], finders[3])) for channel, finders in ended])
        # The edge of a hole and the seam of a copy click as well: one fault is told once.
        spans = [
            (hole.at_frame, hole.at_frame + hole.frames) for hole in holes if hole.frames >= self._least_hole
        ]
        spans += [(copy.at_frame, copy.at_frame + copy.times * copy.frames) for copy in copies]
        clicks = [
            click
            for click in clicks
            if not any(begin - SAME_FRAMES <= click.at_frame <= end + SAME_FRAMES for begin, end in spans)
        ]
        return Damage(
            holes=_longest(holes),
            hole_count=len(holes),
            longest_hole_frames=max((hole.frames for hole in holes), default=0),
            repeats=_longest(copies),
            repeat_count=len(copies),
            clicks=_first(clicks),
            click_count=len(clicks),
        )


def _clicks(splices: SpliceFinder, held: HeldFinder) -> list[SpliceClick]:
    """Of one channel. Where a value is held, its ends are no other clicks."""
    runs = [replace(run, at_full_scale=splices.is_at_full_scale(run.at_frame)) for run in held.clicks()]
    others = [
        click
        for click in splices.clicks()
        if all(abs(click.at_frame - run.at_frame) > run.held_frames + SAME_FRAMES for run in runs)
    ]
    return sorted(runs + others, key=lambda click: click.at_frame)


def _first(clicks: Sequence[SpliceClick]) -> tuple[SpliceClick, ...]:
    """The first MOST_PLACES; those at full scale, which clipping may make by the hundred, last."""
    first = sorted(clicks, key=lambda click: (click.at_full_scale, click.at_frame))[:MOST_PLACES]
    return tuple(sorted(first, key=lambda click: click.at_frame))


def _longest(places: Sequence[Long]) -> tuple[Long, ...]:
    """The longest MOST_PLACES in the order of time: what is not among them is no longer than what is."""
    longest = sorted(places, key=lambda place: -place.frames)[:MOST_PLACES]
    return tuple(sorted(longest, key=lambda place: place.at_frame))


def _merged(found: Sequence[tuple[int, Sequence[Place]]]) -> list[Place]:
    """Places of several channels in the order of time, those within SAME_FRAMES as one."""
    merged: list[Place] = []
    places = [(place.at_frame, channel, place) for channel, some in found for place in some]
    for frame, channel, place in sorted(places, key=lambda one: one[:2]):
        if not merged or frame - merged[-1].at_frame > SAME_FRAMES:
            merged.append(replace(place, channels=(channel,)))
        elif channel not in merged[-1].channels:
            both = replace(merged[-1], channels=(*merged[-1].channels, channel))
            if isinstance(both, SpliceClick) and isinstance(place, SpliceClick):
                both = replace(both, at_full_scale=both.at_full_scale and place.at_full_scale)
            merged[-1] = both
    return merged
