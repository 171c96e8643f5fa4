"""Words for the reader: hostile names made visible, typography for any terminal, numbers, lists."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable

ASCII_INSTEAD = {
    "−": "-", "–": "-", "—": "-", "…": "...", "→": "->", "·": "-", "×": "x", "±": "+/-", "≥": ">=", "≤": "<=",
    "‘": "'", "’": "'", "“": '"', "”": '"', "°": " deg", "µ": "u", "─": "-", "√": "sqrt", "♪": "8th",
    "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " ",
}  # fmt: skip
"""What stands in for our own typography where the terminal cannot show it."""

_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Unicode categories that show nothing, move the cursor or turn the line round: controls, format characters
(among them the right-to-left overrides), surrogates, private and unassigned characters, line separators."""

_SURROGATE = re.compile("[\ud800-\udfff]")


def visible(text: str) -> str:
    r"""The text with every character that hides or steers written as an escape: `\n`, `\x1b`, `\u202e`.

    A byte of a file name that was no UTF-8 (Python keeps it as a lone surrogate) shows as `\xNN`.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escape(char) if unicodedata.category(char) in _HIDDEN else char for char in text)


def valid(text: str) -> str:
    r"""The text without lone surrogates, so that it is valid UTF-8: bytes that were none become `\xNN`."""
    return _SURROGATE.sub(lambda match: _escape(match[0]), text)


_IN_NUMBER = re.compile("(?<=\\d)\N{NO-BREAK SPACE}(?=\\d{3})")


def searchable(text: str) -> str:
    """The text for machines and tables, in whose numbers the groups stand apart by plain spaces."""
    return _IN_NUMBER.sub(" ", text)


def encodable(text: str, encoding: str) -> str:
    """The text in characters that `encoding` has: our typography in ASCII, letters it lacks as escapes."""
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        fitting = "".join(c if _has(encoding, c) else ASCII_INSTEAD.get(c, c) for c in text)
        return fitting.encode(encoding, "backslashreplace").decode(encoding)
    return text


def shorten(text: str, width: int, measure: Callable[[str], int] = len, ellipsis: str = "…") -> str:
    """The text in at most `width` cells: the middle of a long one goes, as names differ at their ends.

    measure: how many cells a text takes on the screen.
    """
    if measure(text) <= width:
        return text
    room = width - measure(ellipsis)
    if room < 1:
        return ellipsis[: max(0, width)]
    head = tail = ""
    for char in reversed(text):
        if measure(char + tail) > room // 2:
            break
        tail = char + tail
    for char in text:
        if measure(head + char) > room - measure(tail):
            break
        head += char
    return head + ellipsis + tail


def signed(value: float, digits: int = 1) -> str:
    """A number with a real minus sign; never "−0.0"."""
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        return text.lstrip("-")
    return text.replace("-", "−")


def span(seconds: float) -> str:
    """A long stretch of time as people say it: `45 s`, `7 min`, `1 h 32 min`."""
    if seconds < 60:
        return f"{round(seconds)} s"
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours else f"{minutes} min"


def listed(words: Iterable[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    items = list(words)
    return ", ".join(items[:-1]) + " and " + items[-1] if len(items) > 1 else "".join(items)


def _escape(char: str) -> str:
    code = ord(char)
    named = {"\n": r"\n", "\r": r"\r", "\t": r"\t"}.get(char)
    if named:
        return named
    if 0xDC80 <= code <= 0xDCFF:  # one byte that was no UTF-8 (PEP 383)
        return f"\\x{code - 0xDC00:02x}"
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _has(encoding: str, char: str) -> bool:
    try:
        char.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True
