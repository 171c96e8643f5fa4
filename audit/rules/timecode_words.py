"""Timecode that does not go on as it should, in words."""

from __future__ import annotations

from audit.results import JumpKind
from audit.timecode import FrameRate, Label
from audit.units import count

JUMP_WORDS = {
    JumpKind.MISSING: "{stretch} cannot be read between {before} and {after}",
    JumpKind.STRAY: "one frame says {after} after {before}, then the count goes on",
    JumpKind.REPEATED: "{before} comes {frames} too often",
    JumpKind.HELD: "the numbers fall {stretch} behind the time: {after} follows {before}",
    JumpKind.BACKWARD: "the numbers go back by {stretch}: {after} follows {before}",
    JumpKind.SLIPPED: "the frames shift by {shift:+.2f} of a frame between {before} and {after}",
    JumpKind.TURNED: "the code changes its direction after {before}",
}
GONE_WORDS = "{stretch} missing: the signal is gone after {before} and back at {after}"


def hour_words(hour: int, rate: FrameRate | None) -> str:
    """An hour's first number: `05:00:00:00`, drop-frame `05:00:00;00`."""
    return Label(hour).text(rate) if rate is not None else f"{hour:02d}:00:00:00"


def frames_words(frames: float) -> str:
    """`1 frame`, `12 frames`."""
    return count(round(frames), "frame")


def stretch_words(frames: float, rate: FrameRate) -> str:
    """Frames as a time, once they are a second: `12 frames`, `10 s (250 frames)`, `1 h (90 000 frames)`."""
    words, whole = frames_words(frames), round(frames)
    if whole < rate.count:
        return words
    minutes, rest = divmod(whole, 60 * rate.count)
    hours, minutes = divmod(minutes, 60)
    parts = [f"{hours} h"] if hours else []
    parts += [f"{minutes} min"] if minutes else []
    parts += [f"{rest / rate.count:.1f}".removesuffix(".0") + " s"] if rest else []
    return f"{' '.join(parts)} ({words})"
