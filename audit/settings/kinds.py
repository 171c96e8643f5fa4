"""Kinds of values in show.toml: what each takes, in words, and how it is read.

`read` gives the value, or notes at its spot what is wrong and gives None.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any, Protocol

from audit.facts import Role
from audit.settings.mistakes import Spot, either, offer, quoted
from audit.timecode import FRAME_RATES, FrameRate, Label


class Kind(Protocol):
    """What a key takes."""

    @property
    def takes(self) -> str:
        """In words that follow "give": `a whole number from 1 to 64`."""

    def read(self, value: Any, spot: Spot) -> Any:
        """The value as the model wants it; None where it is wrong, which is noted."""


@dataclass(frozen=True, slots=True)
class Text:
    """Text that is not empty."""

    takes: str = "text in quotes"

    def read(self, value: Any, spot: Spot) -> str | None:
        if isinstance(value, str) and value.strip():
            return value
        spot.wrong(
            f"{quoted(value)} is no text: give {self.takes}"
            if value != ""
            else f"is empty: give {self.takes}"
        )
        return None


@dataclass(frozen=True, slots=True)
class Flag:
    takes: str = "true or false"

    def read(self, value: Any, spot: Spot) -> bool | None:
        if isinstance(value, bool):
            return value
        spot.wrong(f"{quoted(value)} is neither: give {self.takes}, without quotes")
        return None


@dataclass(frozen=True, slots=True)
class Number:
    """A number from `low` to `high`, both included; any finite one where they are infinite."""

    low: float
    high: float
    unit: str = ""
    whole: bool = False

    @property
    def takes(self) -> str:
        what = "a whole number" if self.whole else "a number"
        if self.low == -math.inf:
            return f"{what}{' of ' + self.unit if self.unit else ''}"
        return f"{what} from {self.low:g} to {self.high:g}{' ' + self.unit if self.unit else ''}"

    def read(self, value: Any, spot: Spot) -> Any:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            hint = ", without quotes" if isinstance(value, str) else ""
            spot.wrong(f"{quoted(value)} is no number: give {self.takes}{hint}")
            return None
        if (self.whole and not isinstance(value, int)) or not math.isfinite(value):
            spot.wrong(f"{quoted(value)} does not do: give {self.takes}")
            return None
        if not self.low <= value <= self.high:
            meant = value * 1000
            hint = (
                f"did you mean {meant:.0f}? " if self.low >= 1000 and self.low <= meant <= self.high else ""
            )
            spot.wrong(f"{quoted(value)} is out of range; {hint}give {self.takes}")
            return None
        return value if self.whole else float(value)


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words or numbers."""

    values: tuple[str | int, ...]

    @property
    def takes(self) -> str:
        return either(quoted(value) for value in self.values)

    def read(self, value: Any, spot: Spot) -> Any:
        if value in self.values and not isinstance(value, bool) and not isinstance(value, float):
            return value
        near = offer(value, [v for v in self.values if isinstance(v, str)]) if isinstance(value, str) else ""
        spot.wrong(f"{quoted(value)} is none of these; {near}give {self.takes}")
        return None


@dataclass(frozen=True, slots=True)
class RoleName:
    takes: str = "a role (README lists them), in quotes"

    def read(self, value: Any, spot: Spot) -> Role | None:
        known = [role.value for role in Role]
        wanted = (
            " ".join(value.casefold().replace("_", " ").replace("-", " ").split())
            if isinstance(value, str)
            else ""
        )
        if wanted in known:
            return Role(wanted)
        near = offer(wanted, known)
        spot.wrong(f"{quoted(value)} is no role; {near}give one of: {', '.join(known)}")
        return None


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list, of `least` and more; a single value without brackets is a list of one where `or_one`."""

    kind: Kind
    what: str  # "roles", "names"
    least: int = 1
    or_one: bool = False

    @property
    def takes(self) -> str:
        return f"a list of {self.what} in square brackets" + (", or one alone" if self.or_one else "")

    def read(self, value: Any, spot: Spot) -> tuple[Any, ...] | None:
        if self.or_one and not isinstance(value, (list, dict)):
            one = self.kind.read(value, spot)
            return None if one is None else (one,)
        if not isinstance(value, list):
            spot.wrong(f"{quoted(value)} is no list: give {self.takes}")
            return None
        if len(value) < self.least:
            spot.wrong(f"the list is empty: give {self.takes}, or leave the key out")
            return None
        read = [self.kind.read(item, spot.inside(place)) for place, item in enumerate(value)]
        return None if any(item is None for item in read) else tuple(read)


def _rate_key(text: str) -> str:
    return re.sub(r"[\s_-]+|fps$", "", text.casefold()).replace("dropframe", "df").replace("nondf", "ndf")


_RATES: Mapping[str, FrameRate] = {_rate_key(rate.text): rate for rate in FRAME_RATES}
RATE_WORDS = tuple(rate.text for rate in FRAME_RATES)


@dataclass(frozen=True, slots=True)
class FrameRateName:
    takes: str = either(f'"{word}"' for word in RATE_WORDS)

    def read(self, value: Any, spot: Spot) -> FrameRate | None:
        text = f"{value:g}" if isinstance(value, (int, float)) and not isinstance(value, bool) else value
        if isinstance(text, str) and _rate_key(text) in _RATES:
            return _RATES[_rate_key(text)]
        near = offer(text, RATE_WORDS) if isinstance(text, str) else ""
        if text in ("29.97", "29.970"):
            near = "drop-frame (DF) or not (NDF)? "
        spot.wrong(f"{quoted(value)} is no timecode rate; {near}give {self.takes}")
        return None


_METRE = re.compile(r"([1-9]|[12]\d|3[0-2])/(1|2|4|8|16|32)")


@dataclass(frozen=True, slots=True)
class Metre:
    takes: str = 'beats of a bar and their note value, such as "4/4" or "6/8"'

    def read(self, value: Any, spot: Spot) -> str | None:
        if isinstance(value, str) and _METRE.fullmatch(value.replace(" ", "")):
            return value.replace(" ", "")
        spot.wrong(f"{quoted(value)} is no metre: give {self.takes}")
        return None


_LABEL = re.compile(r"(\d{2}):(\d{2}):(\d{2})[:;.](\d{2})")


@dataclass(frozen=True, slots=True)
class TimecodeLabel:
    """Whether its frame exists is known with the frame rate only: `read.py` looks."""

    takes: str = 'hours, minutes, seconds, frames, such as "01:00:00:00"'

    def read(self, value: Any, spot: Spot) -> Label | None:
        match = _LABEL.fullmatch(value) if isinstance(value, str) else None
        if match is not None:
            label = Label(*map(int, match.groups()))
            if label.hours < 24 and label.minutes < 60 and label.seconds < 60 and label.frames < 30:
                return label
        spot.wrong(f"{quoted(value)} is no timecode: give {self.takes}")
        return None


_CLOCK = re.compile(r"([01]?\d|2[0-3])[:.]([0-5]\d)")


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A time of day, in minutes after midnight."""

    takes: str = 'a time of day such as "20:30"'

    def read(self, value: Any, spot: Spot) -> int | None:
        if isinstance(value, time):
            return 60 * value.hour + value.minute
        match = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
        if match is not None:
            return 60 * int(match[1]) + int(match[2])
        spot.wrong(f"{quoted(value)} is no time of day: give {self.takes}")
        return None


@dataclass(frozen=True, slots=True)
class Day:
    takes: str = "a date such as 2026-12-31"

    def read(self, value: Any, spot: Spot) -> date | None:
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value):
            with suppress(ValueError):  # the 31st of November: said below
                return date.fromisoformat(value)
        spot.wrong(f"{quoted(value)} is no day: give {self.takes}")
        return None


@dataclass(frozen=True, slots=True)
class OutputNumbers:
    """One output, or a left and a right one."""

    most: int = 1024

    @property
    def takes(self) -> str:
        return f"one output (3) or a pair ([1, 2]), counted from 1 to {self.most}"

    def read(self, value: Any, spot: Spot) -> tuple[int, ...] | None:
        numbers: Sequence[Any] = value if isinstance(value, list) else [value]
        whole = all(isinstance(n, int) and not isinstance(n, bool) and 1 <= n <= self.most for n in numbers)
        if not whole or len(numbers) not in (1, 2):
            spot.wrong(f"{quoted(value)} is no output: give {self.takes}")
            return None
        if len(set(numbers)) < len(numbers):
            spot.wrong(f"{quoted(value)} names one output twice: give {self.takes}")
            return None
        return tuple(numbers)


@dataclass(frozen=True, slots=True)
class Halves:
    """The songs of a set: a list of names, or a list of such lists where there is an interval."""

    takes: str = 'a list of song names, or one list for each half: [["A", "B"], ["C"]]'
    _name: Text = field(default_factory=lambda: Text("a song's name in quotes"))

    def read(self, value: Any, spot: Spot) -> tuple[tuple[tuple[str, int], ...], ...] | None:
        """(name, line) of each song, half by half."""
        if not isinstance(value, list) or not value:
            spot.wrong(f"{quoted(value)} is no list of songs: give {self.takes}")
            return None
        nested = [isinstance(item, list) for item in value]
        whole = any(nested) is all(nested)
        if not whole:
            spot.wrong(f"names and lists of names are mixed: give {self.takes}")
        halves = [(spot.inside(i), item) for i, item in enumerate(value) if nested[i]] or [(spot, value)]
        for i, item in enumerate(value):
            if any(nested) and not nested[i]:
                self._name.read(item, spot.inside(i))
        read: list[tuple[tuple[str, int], ...]] = []
        for place, half in halves:
            if not half:
                place.wrong("this half has no songs: name some, or leave it out")
                whole = False
            named = [
                (self._name.read(name, place.inside(i)), place.inside(i).line) for i, name in enumerate(half)
            ]
            whole = whole and all(name is not None for name, _ in named)
            read.append(tuple((name, line) for name, line in named if name is not None))
        return tuple(read) if whole else None
