"""Names as people type them, and patterns: `*` stands for anything, `?` for one character.

Letter case, Unicode form and what stands between words ("Night_Ferry", "night-ferry") make no difference. No
other character is special: "[Old] Pad*" has brackets.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

_PLAIN_SIGNS = str.maketrans(
    {"‘": "'", "’": "'", "“": '"', "”": '"', "…": "...", "&": " and ", **dict.fromkeys("_-‐‑–—", " ")}
)


def plain(name: str) -> str:
    """A name for comparison: composed, without letter case; its words with one space between them.

    Spaces, underscores and dashes separate words, whichever somebody chose; "&" is "and". Quotes are plain
    ones: a set list is often typed in a program that curls them.
    """
    folded = unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())
    return " ".join(folded.translate(_PLAIN_SIGNS).split())


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> re.Pattern[str]:
    wild = {"*": ".*", "?": "."}
    return re.compile("".join(wild.get(sign, re.escape(sign)) for sign in plain(pattern)), re.DOTALL)


def fits(pattern: str, names: Iterable[str]) -> bool:
    """Whether the pattern fits one of the names from end to end."""
    compiled = _compiled(pattern)
    return any(compiled.fullmatch(plain(name)) for name in names)


def fits_any(patterns: Iterable[str], names: Iterable[str]) -> bool:
    """Whether one of the patterns fits one of the names."""
    known = tuple(names)
    return any(fits(pattern, known) for pattern in patterns)


def stem_names(file: str) -> tuple[str, ...]:
    """The ways in which a pattern may name a stem: with and without folders, with and without extension."""
    base = file.rpartition("/")[2]
    return tuple(dict.fromkeys(way for name in (file, base) for way in (name, _without_extension(name))))


def _without_extension(name: str) -> str:
    stem, dot, extension = name.rpartition(".")
    return stem if dot and stem and "/" not in extension else name
