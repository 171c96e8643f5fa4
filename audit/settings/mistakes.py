"""Mistakes in a settings file: gathered, each with its line and key, and told all at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches

from audit.errors import SettingsError
from audit.settings.lines import Path

ALIKE = 0.6
"""Likeness from which on a name may have been meant."""


@dataclass(slots=True)
class Mistakes:
    """What is wrong with one file. `file`: its name as shown to people."""

    file: str
    lines: Mapping[Path, int] = field(default_factory=dict)
    found: list[tuple[int, str]] = field(default_factory=list)

    def line(self, path: Path) -> int:
        """The line of a key, or of the nearest table around it; 1 for want of any."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def add(self, path: Path, text: str) -> None:
        key = ".".join(part for part in path if isinstance(part, str))
        self.add_at(self.line(path), f"{clean(key)}: {text}" if key else text)

    def add_at(self, line: int, text: str) -> None:
        self.found.append((line, text))

    def tell(self) -> None:
        """Raises SettingsError with one line a mistake, in the order of the file; silent without any."""
        if self.found:
            ordered = sorted(dict.fromkeys(self.found), key=lambda entry: entry[0])
            raise SettingsError("\n".join(f"{self.file}:{line}: {text}" for line, text in ordered))


@dataclass(frozen=True, slots=True)
class Spot:
    """One value's place in the document, where its mistakes are noted."""

    path: Path
    mistakes: Mistakes

    def inside(self, key: str | int) -> Spot:
        return Spot((*self.path, key), self.mistakes)

    def wrong(self, text: str) -> None:
        self.mistakes.add(self.path, text)

    @property
    def line(self) -> int:
        return self.mistakes.line(self.path)


def clean(text: str, most: int = 80) -> str:
    """A name or value from the file as it may be shown: nothing that steers a terminal, and not endless."""
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)
    return shown if len(shown) <= most else shown[: most - 1] + "…"


def quoted(value: object) -> str:
    """A value as the user wrote it, more or less: text in quotes."""
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{clean(value)}"' if isinstance(value, str) else clean(str(value))


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The valid name that is most like this one, if any is like it."""
    by_plain = {other.casefold().replace("_", "-"): other for other in known}
    near = get_close_matches(name.casefold().replace("_", "-"), by_plain, n=1, cutoff=ALIKE)
    return by_plain[near[0]] if near else None


def offer(name: str, known: Iterable[str]) -> str:
    """`did you mean "bpm"? ` for the nearest valid name, or nothing."""
    near = nearest(name, known)
    return f'did you mean "{clean(near)}"? ' if near is not None else ""


def either(words: Iterable[str]) -> str:
    """`a, b or c`."""
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last
