"""What people type into a set list beside the songs' names: bullets, counts, times, keys, remarks, headings.

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
_BULLET = re.compile(r"(?:(?:[•◦‣⁃∙·●○▪▫■□◆◇▶►★☆☐☑✓✔]|\[[ xX✓✔]?\]|[-–—*+>](?=\s))\s*)+(?=\S)")
"""Marks of a list, and boxes to tick or ticked ones. A cross may say that a song is off, so it is none."""

_APART = r"(?<!\s)(?:\s+[-–—|/]\s+|\s*[,;|\t]\s*)"
_MODE = r"(?:\s*-?\s*(?:m|min|maj|minor|major|moll|dur|Dur|Moll)\b)"
_KEY_WORDS = (
    r"(?:(?:in|key(?:\s+of)?:?)\s+)?"
    rf"(?:(?:[A-H](?:[#b♯♭]|\s(?:sharp|flat))?|[CDFG]is|[CDG]es|Es|As){_MODE}?"
    rf"|(?:[a-h][#b♯♭]?|[cdfg]is|[cdg]es|es|as){_MODE})"
)
_TEMPO_WORDS = (
    r"(?:(?:[♩=@~]|ca\.)\s*)*\d{2,3}(?:[.,]\d{1,3})?\s*(?i:bpm)|(?i:bpm)[\s:=]*\d{2,3}|♩\s*=\s*\d{2,3}"
)
_KEY = re.compile(rf"{_APART}{_KEY_WORDS}\s*$")
_TEMPO = re.compile(rf"(?<![\s\-–—,;|/])[\s\-–—,;|/]+(?:{_TEMPO_WORDS})\s*$")
_BARE_TEMPO = re.compile(r"(?<!\s)\s*[,;|]\s*\d{2,3}(?:[.,]\d{1,3})?\s*$")
"""A number by itself counts as one only behind a sign: "Plan B, A, 140"; "Route, 66" still goes first."""

_TIME_BEFORE = re.compile(r"\d{1,2}[:h]\d{2}(?:\s*[-–—|]\s*|\s+)(?=\w)")
_SHOUT = re.compile(r"(?<![\s!?.…])\s*[!?.…]+$")

_MORE_WORDS = re.compile(r"(?<!\s)(?:\s+(?:[-–—>/|+&]|->|→|into)\s+|\s*[,;:]\s+)")

_NOTE = re.compile(
    rf"(?:{_KEY_WORDS}|{_TEMPO_WORDS}|#?\d{{1,3}}(?:[.,]\d+)?[.):]?"
    r"|[(\[]?\d{1,2}[:'′]\d{2}[\"″]?[)\]]?|[\W_]*)"
)
"""All of a column that is no name: a key, a tempo, a number, a time, a mark."""

_COLUMNS = re.compile(r"\t|(?<!\S)\|(?!\S)")
"""Between the columns of a line that comes from a table."""

_BLANKS = re.compile(r"(?<!\s)\s{2,}")
"""Between the columns of one that somebody set with the space bar."""

_COLUMN_HEAD = re.compile(
    r"(?:no|nr|num(?:ber)?|pos(?:ition)?|#|songs?|title|name|key|tempo|bpm|time|length|duration|dur|notes?|"
    r"remarks?|artist|tuning|capo)\.?",
    re.IGNORECASE,
)

_ORDINAL = (
    r"(?:\d{1,2}(?:st|nd|rd|th)?|one|two|three|four|first|second|third|fourth|last|main|early|late|"
    r"[ivx]{1,4})"
)
_PART = re.compile(
    rf"(?:{_ORDINAL}\s+)?(?:encores?|sets?|parts?|acts?|half|intermission|interval|break|pause|"
    r"changeover|doors(?:\s+open)?|stage(?:\s+time)?|show\s*time|sound\s*check|line\s*check|load[\s-]*(?:in|out)|curfew)"
    rf"(?:\s*#?\s*{_ORDINAL}|\s+of\s+{_ORDINAL})?"
)
_LENGTH = re.compile(
    r"(?<![\s,:;–—-])[\s,:;–—-]*(?:[(\[]\s*)?(?:(?:ca\.?|about|~)\s*)?"
    r"\d{1,3}\s*(?:min|mins|minutes|m|'|′)\.?\s*[)\]]?$",
    re.IGNORECASE,
)
_MAYBE = re.compile(r"\s*\((?:if|only|when|as|time|maybe|or)\b[^()]*\)$", re.IGNORECASE)
"""Behind a heading: "Encore (if time)"."""

_LENGTH_BEFORE = re.compile(r"\d{1,3}\s*[-–]?\s*(?:mins?|minutes?|m|'|′)\.?\s+(?=\w)", re.I)
_COUNT_BEFORE = re.compile(r"\d{1,3}\s*[.):]\s*(?=\D)")
_HEADED = re.compile(r"(?P<heading>[^:]{1,40}):\s*(?P<name>\S.*)")
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
    """Whether it but names a part of a show: "Encore!", "Set 1 (60 min)", "[Interval]", "2. Break"."""
    return len(line) <= LONGEST and _PART.fullmatch(part_words(line).casefold()) is not None


def part_words(line: str) -> str:
    """A heading without its bullet, count, brackets, length and exclamation marks."""
    if len(line) > LONGEST:
        return line
    words = _BULLET.sub("", line.strip(), count=1) if _BULLET.match(line.strip()) else line.strip()
    words = _COUNT_BEFORE.sub("", words, count=1) if _COUNT_BEFORE.match(words) else words
    words = _LENGTH_BEFORE.sub("", words, count=1) if _LENGTH_BEFORE.match(words) else words
    words = _LENGTH.sub("", _without_time(_MAYBE.sub("", words))).rstrip("!.… ")
    bracketed = _BRACKETED.fullmatch(words)
    return _LENGTH.sub("", bracketed["words"] if bracketed else words).strip()


def after_heading(line: str) -> str | None:
    """`Low Tide` of "Encore: Low Tide"; None where no word for a part of a show stands before the song."""
    found = _HEADED.fullmatch(line.strip()) if len(line) <= LONGEST else None
    return found["name"] if found and is_part_of_show(found["heading"]) else None


def heads_columns(line: str) -> bool:
    """Whether a line but names the columns of a table: "No", "Song", "Key"."""
    columns = [column.strip() for column in _COLUMNS.split(line) if column.strip()]
    return len(line) <= LONGEST and len(columns) > 1 and all(map(is_column_head, columns))


def is_column_head(cell: str) -> bool:
    """Whether it names a column of a table: "No", "Song", "Key"."""
    return _COLUMN_HEAD.fullmatch(cell) is not None


MOST_PARTS = 8
"""So many times and remarks stand behind a name at most."""


def shorter_names(written: str, *, songs: int = 0) -> tuple[str, ...]:
    """The name without its bullet, then without the times, keys, tempi or bracketed remarks after it, then
    also without a number before it. Of a line in columns it is the first that is not all such; several blanks
    part columns where nothing else does.

    songs: how many the list has: a number past them and past `MOST_COUNT` counts nothing.
    """
    if len(written) > LONGEST:
        return ()
    ways = [written]
    for bare in (without_bullet(written), after_heading(written), _name_column(written, _COLUMNS)):
        if bare is not None and bare != ways[-1]:
            ways.append(bare)
    while len(ways) <= MOST_PARTS and (short := _one_less(ways[-1])) is not None:
        ways.append(short)
    most = max(songs, MOST_COUNT)
    counted = [
        without_bullet(name) or name for way in ways if (name := _without_count(way, most)) is not None
    ]
    apart = [name for way in (*ways, *counted) if (name := _name_column(way, _BLANKS)) is not None]
    apart += [name for way in apart if (name := _without_count(way, most)) is not None]
    return tuple(dict.fromkeys([*ways[1:], *counted, *apart]))


def first_words(written: str) -> tuple[str, ...]:
    """What stands before the signs that part a name from more words, the longest first: "Tin Roof" of
    "2. Tin Roof - new intro". Another song may well be called so in full, so it is but what may be meant.
    """
    name = without_bullet(written) or written
    name = _without_count(name, MOST_COUNT) or name
    cuts = [found.start() for found in _MORE_WORDS.finditer(name)] if len(name) <= LONGEST else []
    return tuple(name[:cut] for cut in reversed(cuts) if cut)


def is_note(cell: str) -> bool:
    """Whether it is but a key, a tempo, a number, a time or a mark beside a song."""
    return _NOTE.fullmatch(cell) is not None


def without_bullet(name: str) -> str | None:
    found = _BULLET.match(name)
    return name[found.end() :] if found and re.search(r"\w", name[found.end() :]) else None


def _name_column(line: str, between: re.Pattern[str]) -> str | None:
    """The song's column of a line in columns; None without any. Where all are like notes, a song is called
    so: the first that is no number."""
    apart = between.split(line)
    columns = [column.strip() for column in apart if re.search(r"\w", column)]
    if len(apart) < 2 or not columns:
        return None
    named = [column for column in columns if _NOTE.fullmatch(column) is None]
    lettered = [column for column in columns if re.search(r"[^\W\d_]", column)]
    name = next(iter(named or lettered or columns))
    return without_bullet(name) or name


def _one_less(name: str) -> str | None:
    for short in (
        _without_time(name),
        *(found.sub("", name) for found in (_REMARK, _KEY, _TEMPO, _BARE_TEMPO, _TIME_BEFORE, _SHOUT)),
    ):
        if short != name and re.search(r"\w", short):
            return short
    return None


def _without_time(name: str) -> str:
    return _TIME.sub("", name)


def _without_count(name: str, most: int) -> str | None:
    found = _COUNT.match(name)
    return name[found.end() :] if found and 1 <= int(found["count"]) <= most else None
