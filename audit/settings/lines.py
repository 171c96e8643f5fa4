"""Where each key of a TOML document stands: the line numbers that a parser does not give.

The document has been parsed already and is valid, so this scanner only has to follow it, not to judge it.
Source: TOML v1.0.0 (toml.io/en/v1.0.0): keys, tables, arrays of tables, strings.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from audit.settings.toml import parse

Path = tuple["str | int", ...]
"""("songs", 1, "bpm"): the key `bpm` of the second [[songs]]."""

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_GAP = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_PLAIN_VALUE = re.compile(r"[^,\]}#\r\n]*")
_STRINGS = (
    re.compile(r'"""(?:\\.|[^\\])*?"{3,5}(?!")', re.DOTALL),
    re.compile(r"'''.*?'{3,5}(?!')", re.DOTALL),
    re.compile(r'"(?:\\.|[^"\\\n])*"'),
    re.compile(r"'[^'\n]*'"),
)


def lines_of(text: str) -> Mapping[Path, int]:
    """The line (from 1) of every key, table header and element of an array in a valid TOML document."""
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._counted_to = 0
        self._line = 1
        self._found: dict[Path, int] = {}
        self._tables: dict[Path, int] = {}  # array of tables -> how many so far

    def run(self) -> Mapping[Path, int]:
        table: Path = ()
        self._skip(_GAP)
        while self._at < len(self._text):
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
            self._skip(_GAP)
        return self._found

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self._text, self._at)
        if match is None:
            return ""
        self._at = match.end()
        return match.group()

    def _mark(self, path: Path) -> None:
        self._line += self._text.count("\n", self._counted_to, self._at)
        self._counted_to = self._at
        self._found.setdefault(path, self._line)

    def _header(self) -> Path:
        is_array = self._text.startswith("[[", self._at)
        start = self._at
        self._at += 2 if is_array else 1
        key = self._key()
        path: Path = ()
        for place, part in enumerate(key):
            path += (part,)
            last = place == len(key) - 1
            if last and is_array:
                self._tables[path] = self._tables.get(path, 0) + 1
            if path in self._tables:
                path += (self._tables[path] - 1,)
        end = self._at
        self._at = start
        for length in range(1, len(path) + 1):
            self._mark(path[:length])
        self._at = end + (2 if is_array else 1)
        return path

    def _key(self) -> list[str]:
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            if self._text[self._at] in "\"'":
                raw = self._string()
                parts.append(next(iter(parse(f"{raw} = 0"))))
            else:
                parts.append(self._skip(_BARE_KEY))
            self._skip(_SPACE)
            if not self._text.startswith(".", self._at):
                return parts
            self._at += 1

    def _pair(self, table: Path) -> None:
        start = self._at
        key = self._key()
        end = self._at
        self._at = start
        path = table
        for part in key:
            path += (part,)
            self._mark(path)
        self._at = end + 1  # past the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        first = self._text[self._at]
        if first in "\"'":
            self._string()
        elif first == "[":
            self._at += 1
            for index in range(len(self._text)):
                self._skip(_GAP)
                if self._text[self._at] == "]":
                    break
                self._mark((*path, index))
                self._value((*path, index))
                self._skip(_GAP)
                self._at += self._text[self._at] == ","
            self._at += 1
        elif first == "{":
            self._at += 1
            while True:
                self._skip(_GAP)
                if self._text[self._at] == "}":
                    break
                self._pair(path)
                self._skip(_GAP)
                self._at += self._text[self._at] == ","
            self._at += 1
        else:
            self._skip(_PLAIN_VALUE)

    def _string(self) -> str:
        for pattern in _STRINGS:
            text = self._skip(pattern)
            if text:
                return text
        raise AssertionError("the document was parsed, so its strings end")
