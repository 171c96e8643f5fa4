"""Plain conversions: decibels, frames and seconds, words for the reader. No numpy, no files."""

from __future__ import annotations

import math

SILENCE_DB = -math.inf

NO_BREAK = "\N{NO-BREAK SPACE}"


def to_db(ratio: float) -> float:
    """Amplitude ratio in dB; -inf for zero and below."""
    return 20.0 * math.log10(ratio) if ratio > 0.0 else SILENCE_DB


def power_to_db(ratio: float) -> float:
    """Power ratio in dB; -inf for zero and below."""
    return 10.0 * math.log10(ratio) if ratio > 0.0 else SILENCE_DB


def from_db(level_db: float) -> float:
    """Amplitude ratio of a level in dB; 0.0 for -inf."""
    return float(10.0 ** (level_db / 20.0)) if level_db > SILENCE_DB else 0.0


def clock(seconds: float, *, millis: bool = True) -> str:
    """A place in a song as a musician reads it: `3:07.250`, or `3:07` without milliseconds.

    Hours appear only where they are needed (`1:02:03`). Negative times carry a leading minus.
    """
    sign = "-" if seconds < 0 else ""
    unit = 1000 if millis else 1
    total = round(abs(seconds) * unit)
    whole, rest = divmod(total, unit)
    minutes, secs = divmod(whole, 60)
    hours, mins = divmod(minutes, 60)
    text = f"{hours}:{mins:02d}:{secs:02d}" if hours else f"{mins}:{secs:02d}"
    return sign + (f"{text}.{rest:03d}" if millis else text)


def khz(rate_hz: float) -> str:
    """A sample rate as people say it: `48 kHz`, `44.1 kHz`."""
    return f"{rate_hz / 1000:g} kHz"


def grouped(number: float, digits: int = 0) -> str:
    """Thousands apart, as in print: `48 000`, `−90 000`; four figures stay together. Between the groups
    stands a no-break space: half a number at a line's end is another one."""
    text = f"{number:.{digits}f}"
    return f"{number:,.{digits}f}".replace(",", NO_BREAK) if abs(number) >= 10_000 else text


def duration(milliseconds: float) -> str:
    """A short length of time: `25 ms`, `2.5 ms`; from a second on `11.273 s`."""
    if abs(milliseconds) >= 1000.0:
        return f"{milliseconds / 1000.0:.3f}".rstrip("0").rstrip(".") + " s"
    return f"{milliseconds:.2f}".rstrip("0").rstrip(".") + " ms"


def count(number: int, singular: str, plural: str | None = None) -> str:
    """`1 stem`, `3 stems`: numbers with the right ending."""
    return f"{grouped(number)} {singular if number == 1 else (plural or singular + 's')}"
