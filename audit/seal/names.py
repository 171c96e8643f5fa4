"""One name on three systems: Unicode forms, letter case, separators, refused letters; and one time."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

FAT_STEP_NS = 2_000_000_000
"""FAT counts times in steps of 2 s (Microsoft, FAT32 File System Specification, 2000)."""

QUARTER_HOUR_NS = 15 * 60 * 1_000_000_000
DAY_NS = 24 * 3600 * 1_000_000_000
"""FAT keeps local time: another time zone or a changed clock shifts all times by quarters of an hour."""

# Letters that exFAT and NTFS refuse (Microsoft, "Naming Files, Paths, and Namespaces"), and the private ones
# that macOS and Samba put in their place [memory].
_REFUSED = re.compile('["*:<>?|\x01-\x1f\uf001-\uf07f]')

Old = TypeVar("Old")
New = TypeVar("New")
Named = TypeVar("Named")


def exact(path: str) -> str:
    return path.replace("\\", "/")


def composed(path: str) -> str:
    """Macs may keep names decomposed; others keep them as they come."""
    return unicodedata.normalize("NFC", exact(path))


def folded(path: str) -> str:
    """Without letter case."""
    return unicodedata.normalize("NFC", composed(path).casefold())


def loose(path: str) -> str:
    """As a drive leaves it that refuses some letters, and dots and spaces at a name's end."""
    parts = folded(path).split("/")
    return "/".join(_REFUSED.sub("_", part).rstrip(". ") for part in parts)


WAYS: tuple[Callable[[str], str], ...] = (exact, composed, folded, loose)
"""From strict to lenient."""


def paired(
    olds: Sequence[Old], news: Sequence[New], name: Callable[[Old | New], str]
) -> list[tuple[Old, New]]:
    """Those that bear the same name, each at most once; strict ways first, then lenient ones."""
    pairs: list[tuple[Old, New]] = []
    left_old, left_new = list(olds), list(news)
    for way in WAYS:
        by_old, by_new = _by(left_old, name, way), _by(left_new, name, way)
        found = [
            (by_old[key][0], by_new[key][0])
            for key in by_old
            if len(by_old[key]) == 1 and len(by_new.get(key, ())) == 1
        ]
        pairs += found
        done_old, done_new = {id(old) for old, _ in found}, {id(new) for _, new in found}
        left_old = [one for one in left_old if id(one) not in done_old]
        left_new = [one for one in left_new if id(one) not in done_new]
    return pairs


def _by(
    items: Iterable[Named], name: Callable[[Named], str], way: Callable[[str], str]
) -> dict[str, list[Named]]:
    found: dict[str, list[Named]] = {}
    for one in items:
        found.setdefault(way(name(one)), []).append(one)
    return found


def times_agree(one_ns: int, other_ns: int) -> bool:
    """Whether two times can be one that two systems kept: within FAT's step, beside quarters of an hour."""
    apart = abs(one_ns - other_ns)
    if apart > DAY_NS + FAT_STEP_NS:
        return False
    beside = apart % QUARTER_HOUR_NS
    return min(beside, QUARTER_HOUR_NS - beside) <= FAT_STEP_NS


def shown(name: str) -> str:
    """The name in a message of one line: control characters and bytes that are no text as escapes."""
    return "".join(sign if sign.isprintable() else _escaped(sign) for sign in name)


def _escaped(sign: str) -> str:
    if "\udc80" <= sign <= "\udcff":  # a byte that was no UTF-8 (PEP 383)
        return f"\\x{ord(sign) - 0xDC00:02x}"
    return sign.encode("unicode_escape").decode()


def path_of(folder: str, file: str) -> str:
    """A stem's path from the show's folder, "/" between parts."""
    return exact(file if folder in (".", "") else f"{folder}/{file}")
