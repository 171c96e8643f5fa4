"""Version marks in the names of stems and folders: "v2", "FINAL", "2026-05-01", "mix 3", "rev B", "(1)"."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from audit.facts import VersionMark
from audit.folder.tokens import compose, fold

# A mark begins where a word begins, or at a capital after a small letter ("BassV2", "BassFinal").
_BEGIN = r"(?:(?<![^\W_])|(?-i:(?<=[a-z])(?=V\d|F(?:inal|INAL))))"
_END = r"(?![^\W_])"
_GAP = r"[\s_.-]*"

_YEAR, _MONTH, _DAY = r"(?P<y>20\d\d)", r"(?P<m>0?[1-9]|1[0-2])", r"(?P<d>0?[1-9]|[12]\d|3[01])"
_TIME = r"(?:[\sT_-]+\d\d[.:h_-]?\d\d(?:[.:_-]?\d\d)?)?"
_DATES = tuple(
    re.compile(_BEGIN + body + _TIME + _END)
    for body in (
        rf"{_YEAR}(?P<s>[-_. ]){_MONTH}(?P=s){_DAY}",
        rf"{_DAY}(?P<s>[-_. ]){_MONTH}(?P=s){_YEAR}",
        rf"{_DAY}(?P<s>[-_.]){_MONTH}(?P=s)(?P<y>[2-3]\d)",
        r"(?P<y>20[0-4]\d)(?P<m>0[1-9]|1[0-2])(?P<d>0[1-9]|[12]\d|3[01])",
        r"(?P<y>[2-3]\d)(?P<m>0[1-9]|1[0-2])(?P<d>0[1-9]|[12]\d|3[01])",
    )
)
# Two-digit years are read from 2020 to 2039, and only then is a run of six digits a date.

_NUMBERED = re.compile(
    rf"{_BEGIN}(?P<kind>v|ver|vers|version)[.\s_-]?(?P<n>\d{{1,3}}(?:\.\d{{1,2}})*)[a-z]?{_END}",
    re.IGNORECASE,
)
# "Rev L" and "Rev R" are the two sides of a reverb.
_REVISION = re.compile(
    rf"(?<![^\W_])(?P<kind>rev|revision|version)[.\s_-]?(?P<n>\d{{1,3}}|(?![lr]{_END})[a-z]){_END}",
    re.IGNORECASE,
)
_PRINT = re.compile(
    rf"(?<![^\W_])(?P<kind>mix|mx|bounce|bnc|render|export|print|master)[\s_.-]?(?P<n>\d{{1,3}}){_END}",
    re.IGNORECASE,
)
# What a numbered print is a print of: "Full Mix 3" keeps its "Mix" when the mark is taken off.
_WHAT_MIX = re.compile(
    r"(?<![^\W_])(?:full|stereo|main|rough|band|tv|cue|monitor|instrumental|final)[\s_.-]*$", re.IGNORECASE
)

_FINAL_WORDS = "final|latest|newest|current|approved"
_NEW_WORDS = (
    "new|edit|edited|fixed|fix|updated|update|revised|corrected|neu|nuevo|nueva|nouveau|novo|nuovo|nieuw"
)
_NOT_USED = r"do[\s_-]?not[\s_-]?use|don[’'_]?t[\s_-]?use|not[\s_-]used|unused|dnu"
_OLD_WORDS = (
    "old|older|alt|alternate|backup|bak|draft|wip|orig|original|previous|superseded|"
    rf"viejo|ancien|vecchio|velho|{_NOT_USED}"
)
_COPY_WORDS = "copy|kopie|copie|copia|cópia|kopia|kopi"
_MARK_WORDS = f"{_FINAL_WORDS}|{_NEW_WORDS}|{_OLD_WORDS}|{_COPY_WORDS}"
# Sides and formats may follow a mark: "Bass FINAL.L", "Bass_v2_48k".
_TRAILERS = (
    r"(?:(?<![^\W_])(?:l|r|lr|left|right|mono|stereo|st|\d\d(?:\.\d)?k(?:hz)?|(?:16|24|32)[\s_-]?bit)"
    + _END
    + ")"
)
_LAST = re.compile(
    rf"(?P<mark>{_BEGIN}(?:{_MARK_WORDS})(?:{_GAP}\d{{1,2}})?|\(\d{{1,3}}\)){_END}(?=(?:[\W_]|{_TRAILERS})*$)",
    re.IGNORECASE,
)
_BRACKETED = re.compile(rf"[(\[]\s*(?P<mark>(?:{_MARK_WORDS})(?:{_GAP}\d{{1,2}})?)\s*[)\]]", re.IGNORECASE)
_FIRST = re.compile(
    rf"^[\W_]*(?:(?P<mark>(?:{_MARK_WORDS}))\s*(?:_|-)|(?P<copy>(?:{_COPY_WORDS}) (?:of|von|de|di) ))",
    re.IGNORECASE,
)


_CALLED_OLD = re.compile(rf"{_BEGIN}(?:{_OLD_WORDS}){_END}", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Marked:
    """A name (NFC) with its version marks taken off: as long as the name, blank where the marks stood."""

    version: str | None
    rest: str
    readable: str  # the same, yet a numbered print keeps its word: the "Mix" of "Mix 3" names a role


def _is_date(match: re.Match[str]) -> date | None:
    year = int(match["y"])
    try:
        return date(year if year > 99 else 2000 + year, int(match["m"]), int(match["d"]))
    except ValueError:
        return None


def _blank(text: str, start: int, end: int) -> str:
    return text[:start] + " " * (end - start) + text[end:]


def has_letters(text: str) -> bool:
    return any(sign.isalpha() for sign in text)


@lru_cache(maxsize=20_000)
def take_off_marks(name: str, *, keep_a_name: bool = True) -> Marked:
    """The version marks of a name, as written, and what is left of the name (NFC).

    Marks next to each other are one ("FINAL v3"); marks apart are joined by a space. With `keep_a_name` a
    name that consists of marks and numbers alone keeps them: "Mix 3" is a stem, not the third of nothing.
    """
    text = rest = readable = compose(name)
    spans: list[tuple[int, int]] = []

    def take(start: int, end: int) -> None:
        nonlocal rest, readable
        spans.append((start, end))
        rest = _blank(rest, start, end)
        readable = _blank(readable, start, end)

    for pattern in _DATES:
        for match in pattern.finditer(rest):
            if _is_date(match):
                take(match.start(), match.end())
    for pattern in (_NUMBERED, _REVISION):
        for match in pattern.finditer(rest):
            take(match.start(), match.end())
    for match in _PRINT.finditer(rest):
        spans.append((match.start(), match.end()))
        what_mix = _WHAT_MIX.search(rest[: match.start()]) is not None
        rest = _blank(rest, match.start("n") if what_mix else match.start(), match.end())
    for match in _BRACKETED.finditer(rest):
        take(match.start("mark"), match.end("mark"))
    while last := _LAST.search(rest):
        take(last.start("mark"), last.end("mark"))
    first = _FIRST.match(rest)
    if first:
        take(*first.span("mark" if first["mark"] else "copy"))
    if not spans or (keep_a_name and not has_letters(rest)):
        return Marked(None, text, text)
    return Marked(_as_written(text, spans), rest, readable)


def _as_written(text: str, spans: list[tuple[int, int]]) -> str:
    parts: list[str] = []
    end_before = None
    for start, end in sorted(spans):
        together = end_before is not None and not any(sign.isalnum() for sign in text[end_before:start])
        if together:
            parts[-1] += text[end_before:start] + text[start:end]
        else:
            parts.append(text[start:end])
        end_before = end
    return " ".join(part.strip() for part in parts)


def read_mark(version: str | None) -> VersionMark:
    """What a mark, as written ("v2", "FINAL", "(1)", "Copy 2", "2026-05-01"), says of the order."""
    if not version:
        return VersionMark()
    text = compose(version)
    numbers = tuple(map(float, re.findall(r"\d+", text)))
    if _CALLED_OLD.search(text):
        return VersionMark(kind="old", numbers=numbers)
    if re.fullmatch(r"\(?\d{1,3}\)?", text):
        return VersionMark(kind="counted", numbers=numbers)
    if re.search(rf"{_BEGIN}(?:{_COPY_WORDS}){_END}", text, re.IGNORECASE):
        return VersionMark(kind="copy", numbers=numbers or (1.0,))
    age = read_age(text)
    if age.kind == "date":
        return VersionMark(kind="date", numbers=age.rank)
    if age.kind == "final":
        return VersionMark(kind="final", numbers=age.rank)
    if age.kind == "word":
        return VersionMark(
            kind="word", scheme=" ".join(re.findall(r"[^\W\d_]+", fold(text))), numbers=numbers
        )
    return VersionMark(kind="number", scheme=age.kind, numbers=age.rank)


@dataclass(frozen=True, slots=True, order=True)
class Age:
    """How new a version folder's name says it is; only ages of one `kind` can be compared."""

    kind: str
    rank: tuple[float, ...]


def read_age(name: str) -> Age:
    """The age that a folder's name tells: "v2" < "v10" < "FINAL" < "FINAL2"; dates by the calendar.

    That "FINAL" comes after every number is common practice, and so is how rarely it is final.
    """
    text = compose(name)
    for pattern in _DATES:
        match = pattern.search(text)
        day = _is_date(match) if match else None
        if match and day:
            # What follows the day, or the year where that comes last: a time, a count of the same day.
            later = [float(n) for n in re.findall(r"\d+", text[max(match.end("d"), match.end("y")) :])]
            return Age("date", (float(day.toordinal()), *later))
    finals = len(re.findall(rf"{_BEGIN}(?:{_FINAL_WORDS})", text, re.IGNORECASE))
    for pattern in (_NUMBERED, _REVISION, _PRINT):
        match = pattern.search(text)
        if match:
            kind = "v" if pattern is _NUMBERED else "rev" if pattern is _REVISION else fold(match["kind"])
            steps = [float(n) if n.isdigit() else float(ord(fold(n)[0])) for n in match["n"].split(".")]
            return Age(kind, (*steps, float(finals)))
    counted = re.search(r"\d+", text)
    if finals:
        return Age("final", (float(finals), float(counted.group()) if counted else 1.0))
    return Age("word", ())


def replaces_unmarked(name: str) -> bool:
    """Whether a version folder's name says that something came before it: "v2", "FINAL", "Mix 3", a date.

    "v1" does not, nor does what is called old, a draft or a copy.
    """
    text = compose(name)
    if _CALLED_OLD.search(text):
        return False
    age = read_age(text)
    if age.kind in ("date", "final"):
        return True
    if age.kind == "word":
        return re.search(rf"{_BEGIN}(?:{_NEW_WORDS}){_END}", text, re.IGNORECASE) is not None
    first = ord("a") if age.kind == "rev" and age.rank[0] >= ord("a") else 1
    return age.rank[0] > first or age.rank[-1] > 0 or len(age.rank) > 2


def newest_by_name(names: list[str]) -> str | None:
    """The newest of several version folders where their names tell; None where they do not.

    A folder that is called old, draft or backup in its language is never newer than one that is not.
    """
    fresh = [name for name in names if not _CALLED_OLD.search(compose(name))]
    if fresh and len(fresh) < len(names):
        return newest_by_name(fresh)
    if len(names) == 1:
        return names[0]
    ages = {name: read_age(name) for name in names}
    numbered = {age.kind for age in ages.values()} - {"final"}
    if len(numbered) > 1 or "word" in numbered:
        return None
    finals = [name for name in names if ages[name].kind == "final"]
    newest = max(finals or names, key=lambda name: ages[name].rank)
    alike = [name for name in names if ages[name] == ages[newest]]
    return newest if len(alike) == 1 else None
