"""Which song or folder a mistyped name may have meant, in words."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping, Sequence
from difflib import SequenceMatcher, get_close_matches
from pathlib import Path

from audit.folder.shown import shown
from audit.folder.tokens import compose

NEAR = 0.7
"""Likeness from which on a name may have been meant: one or two letters of a short one differ."""

LEAST_PART = 3
"""Letters of a part of a name by which it may have been meant."""

MOST_OFFERED = 3
MOST_LOOKED_AT = 2000
"""Names in a folder that are held beside the mistyped one."""

MOST_NAMED = 8
"""Songs that are named where none is like the one asked for."""

_NUMBER = re.compile(r"\W*(\d+)\b")


def nearest_songs(called: Mapping[str, Sequence[str]], wanted: str) -> str:
    """`did you mean 02 - Fennel and Iron?`: by a slip in its name or in a part of it, or by its number alone;
    else which songs there are."""
    by_plain = {_plain(way): name for name, ways in called.items() for way in ways}
    typed = _plain(wanted)
    near: Iterable[str] = (
        get_close_matches(typed, by_plain, n=MOST_OFFERED, cutoff=NEAR)
        or [way for way in by_plain if len(typed) >= LEAST_PART and typed in way]
        or [way for way in by_plain if _is_its_number(typed, way)]
        or sorted(
            (way for way in by_plain if _likeness(typed, way) >= NEAR),
            key=lambda way: -_likeness(typed, way),
        )
    )
    meant = list(dict.fromkeys(by_plain[way] for way in near))[:MOST_OFFERED]
    if meant:
        return f"did you mean {' or '.join(map(shown, meant))}?"
    names = list(map(shown, called))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"it holds {', '.join(names[:MOST_NAMED])}{more}"


def _is_its_number(typed: str, way: str) -> bool:
    number = _NUMBER.match(way)
    return typed.isdecimal() and number is not None and int(number[1]) == int(typed)


def _likeness(typed: str, way: str) -> float:
    """Of the typed words to as many of the name's that stand together: "umbrela" to "umbrella weather"."""
    words, wide = way.split(), max(1, len(typed.split()))
    parts = [" ".join(words[first : first + wide]) for first in range(max(1, len(words) - wide + 1))]
    if len(typed) < LEAST_PART:
        return 0.0
    return max((SequenceMatcher(None, typed, part).ratio() for part in parts), default=0.0)


def nearest_folder(path: Path) -> str:
    """`did you mean "Autumn Run"?`; empty where no folder there is called nearly so."""
    there, missing = path, list[str]()
    while not os.path.isdir(there) and there != there.parent:
        missing.append(there.name)
        there = there.parent
    if not missing:
        return ""
    try:
        with os.scandir(there) as entries:
            names = [
                entry.name for entry, _ in zip(entries, range(MOST_LOOKED_AT), strict=False) if entry.is_dir()
            ]
    except OSError:
        return ""
    by_plain = {_plain(name): name for name in sorted(names)}
    near = get_close_matches(_plain(missing[-1]), by_plain, n=1, cutoff=NEAR)
    return f'did you mean "{shown(str(there / by_plain[near[0]]))}"?' if near else ""


def _plain(name: str) -> str:
    return compose(name).casefold()
