"""What people type into a set list beside the songs' names: counts, times, keys, remarks, headings.

Nothing here knows the disk. Whoever lays a list over it asks first for the line as it stands, as a song may
well be called "99 Miles" or "7 Tides (Live)", and then for `shorter_names`, what least is taken off first.
"""

from __future__ import annotations

import re

MOST_COUNT = 40
"""No list counts its songs further, unless it is longer itself: own judgement. "70 Miles" is a name."""

LONGEST = 300
"""Characters of a line: no folder's name is longer, and none such is taken apart."""

# Each run of blanks is entered at its beginning only: else a long one is tried from each of its places.
_TIME = re.compile(r"(?<![\s\-–—,;|/])[\s\-–—,;|/]*[(\[]?\b\d{1,2}[:'′]\d{2}\b[\"″]?\s*[)\]]?\s*$")
_REMARK = re.compile(r"(?<!\s)\s*(?:\([^()]*\)|\[[^\[\]]*\]|\{[^{}]*\})\s*$")
_COUNT = re.compile(r"[\W_]*(?P<count>\d{1,3})(?:[\s._)\]:–—-]+)(?=.*[^\W\d_])")

_ORDINAL = (
    r"(?:\d{1,2}(?:st|nd|rd|th)?|one|two|three|four|first|second|third|fourth|last|main|early|late|"
    r"[ivx]{1,4})"
)
_PART = re.compile(
    rf"(?:{_ORDINAL}\s+)?(?:encores?|sets?|parts?|acts?|half|intermission|interval|break|pause)"
    rf"(?:\s*#?\s*{_ORDINAL}|\s+of\s+{_ORDINAL})?(?:[\s,]*\d{{1,3}}\s*(?:min|mins|minutes|m|'|′)\.?)?"
)
_BRACKETED = re.compile(r"[\[(<](?P<words>[^\[\]()<>]*)[\])>]")
_DASHED = re.compile(r"(?P<sign>[-–—=_*~]+)\s*(?P<words>\w.*?)\s*[-–—=_*~]+")


def dashed_words(line: str) -> str | None:
    """`Encore` of "-- Encore --" and "=== Encore ==="; None where the line is not between dashes.

    Between single ones only the word for a part of a show: "*Low Tide*" is a song with a mark.
    """
    found = _DASHED.fullmatch(line.strip()) if len(line) <= LONGEST else None
    if found is None or (len(found["sign"]) < 2 and not is_part_of_show(found["words"])):
        return None
    return found["words"]


def is_part_of_show(line: str) -> bool:
    """Whether it is but a word for a part of a show: "Encore", "Set 1", "[Interval]", "Break 20 min"."""
    if len(line) > LONGEST:
        return False
    words = _without_time(line.strip())
    bracketed = _BRACKETED.fullmatch(words)
    return _PART.fullmatch((bracketed["words"] if bracketed else words).strip().casefold()) is not None


MOST_PARTS = 8
"""So many times and remarks stand behind a name at most."""


def shorter_names(written: str, *, songs: int = 0) -> tuple[str, ...]:
    """The name without the time or the bracketed remarks after it, then also without a number before it.

    songs: how many the list has: a number past them and past `MOST_COUNT` counts nothing.
    """
    if len(written) > LONGEST:
        return ()
    ways = [written]
    while len(ways) <= MOST_PARTS and (short := _one_less(ways[-1])) is not None:
        ways.append(short)
    counted = [name for way in ways if (name := _without_count(way, max(songs, MOST_COUNT))) is not None]
    return tuple(dict.fromkeys([*ways[1:], *counted]))


def _one_less(name: str) -> str | None:
    for short in (_without_time(name), _REMARK.sub("", name)):
        if short != name and re.search(r"\w", short):
            return short
    return None


def _without_time(name: str) -> str:
    return _TIME.sub("", name)


def _without_count(name: str, most: int) -> str | None:
    found = _COUNT.match(name)
    return name[found.end() :] if found and 1 <= int(found["count"]) <= most else None
