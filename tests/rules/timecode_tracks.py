"""Timecode as it would be measured, built by hand: a healthy minute at 25 frames, one oddity at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import JumpKind, TimecodeJump, TimecodeRun, TimecodeTrack
from audit.timecode import FPS_25, FrameRate, Label, index_of, label_at
from tests.evidence import part, song, stem


def label(text: str) -> Label:
    return Label(*(int(number) for number in text.replace(";", ":").split(":")))


def track(
    start: str = "01:00:00:00",
    seconds: float = 60.0,
    rate: FrameRate = FPS_25,
    at_s: float = 0.0,
    **more: Any,
) -> TimecodeTrack:
    """Timecode that counts on from `start` for whole frames; `at_s`: where in the file it begins."""
    frames = round(seconds * rate.frames_per_s)
    first = label(start)
    last = label_at(index_of(first, rate) + frames - 1, rate)
    end_s = at_s + frames / float(rate.frames_per_s)
    healthy = TimecodeTrack(
        channel=0, frames=frames, first=first, last=last, start_s=at_s, end_s=end_s, rate=rate,
        frames_per_s=float(rate.frames_per_s), off_ppm=0.0, drop_flags=frames if rate.drop_frame else 0,
        dropped_minutes=0, plain_minutes=0, user_bits=(0,) * 8, user_bits_change=False, backward=False,
        level_dbfs=-12.0, lowest_level_dbfs=-12.1, lowest_level_at_s=at_s, edge_error=0.004, jumps=(),
        jump_count=0, runs=(TimecodeRun(first=first, last=last, start_s=at_s, end_s=end_s),),
    )  # fmt: skip
    return replace(healthy, **more)


def jump(kind: JumpKind, at_s: float = 20.0, frames: float = 1.0, **more: Any) -> TimecodeJump:
    return TimecodeJump(
        kind=kind, at_s=at_s, before=label("01:00:19:24"), after=label("01:00:20:01"), frames=frames, **more
    )


def jumping(*jumps: TimecodeJump) -> TimecodeTrack:
    return track(jumps=jumps, jump_count=len(jumps))


def ltc(found: TimecodeTrack | None = None, file: str = "LTC.wav", **more: Any) -> StemEvidence:
    """A stem of timecode; None: nothing of it can be read."""
    return stem(file, role="timecode", channels=1, timecode=found, **more)


def coded(name: str, found: TimecodeTrack | None = None, *others: StemEvidence, **more: Any) -> SongEvidence:
    """A song with timecode."""
    return song(name, ltc(found or track(), **more), *others)


def beside_click(found: TimecodeTrack | None, **more: Any) -> StemEvidence:
    """Click on the left, timecode on the right."""
    return stem(
        "Click+LTC.wav",
        parts=[
            part(Role.CLICK, channels=(0,)),
            part(Role.TIMECODE, channels=(1,), timecode=found, **more),
        ],
    )
