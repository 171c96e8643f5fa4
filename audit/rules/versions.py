"""Versions of one stem, and sets of all stems, that lie side by side: which belong together, which counts."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from audit.facts import Role, Song, Stem

NOT_USED = re.compile(r"(?:do ?not|don ?t|not) ?use(?:d)?|unused|dnu")
OLD_WORDS = frozenset(
    {"old", "alt", "alternate", "backup", "bak", "draft", "wip", "orig", "original", "previous"}
    | {"viejo", "ancien", "vecchio", "velho"}
)
"""Marks of what is not the current one ("alt" is old in German, the second choice in English)."""

COPY_WORDS = frozenset({"copy", "kopie", "copie", "copia", "cópia", "kopia", "kopi"})
NUMBERED = re.compile(r"\(?\d{1,3}\)?")


def version_groups(stems: Iterable[Stem]) -> Iterator[list[Stem]]:
    """The groups of stems that differ by a version mark only, two or more each."""
    groups: dict[tuple[str, Role], list[Stem]] = {}
    for stem in stems:
        if stem.version_key:
            groups.setdefault((stem.version_key, stem.role), []).append(stem)
    for group in groups.values():
        marks = {stem.version for stem in group}
        if len(marks) < 2 or all(mark and NUMBERED.fullmatch(mark) for mark in marks):
            continue  # "Vox (1)" beside "Vox (2)" without a "Vox" are two voices, not two versions
        yield group


def stem_sets(stems: Iterable[Stem]) -> list[dict[str, list[Stem]]]:
    """Folders of one song that hold the same stems ("48k", "44k1"); a group has two or more: folder -> stems.

    Two folders are sets of the same stems if two names at least, and half of the larger one's, are in both.
    """
    folders: dict[str, dict[tuple[str, Role], Stem]] = {}
    for stem in stems:
        top = stem.file.partition("/")[0] if "/" in stem.file else ""
        if stem.version_key:
            folders.setdefault(top, {})[stem.version_key, stem.role] = stem
    groups: list[dict[str, dict[tuple[str, Role], Stem]]] = []
    for top, own in folders.items():
        for group in groups:
            first = next(iter(group.values()))
            common = len(first.keys() & own.keys())
            if common >= 2 and 2 * common >= max(len(first), len(own)):
                group[top] = own
                break
        else:
            groups.append({top: own})
    return [{top: list(own.values()) for top, own in group.items()} for group in groups if len(group) > 1]


def are_versions(one: Song, other: Song) -> bool:
    """Whether two songs are one by their names but for a version mark; "Rain (1)" and "Rain (2)" are not."""
    marks = (one.title_version, other.title_version)
    alike = bool(one.title_key) and one.title_key == other.title_key and marks[0] != marks[1]
    return alike and not all(mark and NUMBERED.fullmatch(mark) for mark in marks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What a version mark says of the order. `kind`: old < plain < number or word."""

    kind: str
    numbers: tuple[int, ...] = ()

    @property
    def tier(self) -> int:
        return {"old": 0, "plain": 1}.get(self.kind, 2)


def read_mark(version: str | None) -> Mark:
    """`v2` and `(1)` are numbers, `2025-03-14` a date, `FINAL` a word, `old` is older than anything."""
    if not version:
        return Mark(kind="plain")
    words = re.findall(r"[^\W\d_]+", version.casefold())
    if OLD_WORDS & set(words) or NOT_USED.search(" ".join(words)):
        return Mark(kind="old")
    numbers = tuple(map(int, re.findall(r"\d+", version)))
    if COPY_WORDS & set(words) or NUMBERED.fullmatch(version):
        return Mark(kind="copy", numbers=numbers or (1,))
    if not numbers:
        return Mark(kind="word")
    if words:
        return Mark(kind="number", numbers=numbers)
    year_last = len(numbers) == 3 and numbers[-1] >= 2000
    return Mark(kind="date", numbers=numbers[::-1] if year_last else numbers)


def newest_by_mark(stems: Sequence[Stem]) -> Stem | None:
    """The one whose mark stands above all others'; None where the marks do not tell (`v2` beside `FINAL`)."""
    marks = [(read_mark(stem.version), stem) for stem in stems]
    top = max(mark.tier for mark, _ in marks)
    best = [(mark, stem) for mark, stem in marks if mark.tier == top]
    if len(best) == 1:
        return best[0][1]
    if len({mark.kind for mark, _ in best}) > 1:
        return None
    ranked = sorted(best, key=lambda item: item[0].numbers, reverse=True)
    return ranked[0][1] if ranked[0][0].numbers > ranked[1][0].numbers else None


def newest_by_date(stems: Sequence[Stem]) -> Stem | None:
    """The one that was saved last; None where two share the last date, as after a careless copy."""
    ranked = sorted(stems, key=lambda stem: stem.modified_ns, reverse=True)
    return ranked[0] if ranked[0].modified_ns > ranked[1].modified_ns else None


def which_is_newer(stems: Sequence[Stem]) -> tuple[Stem | None, str]:
    """The newest and, in words, why; None where neither marks nor dates tell."""
    by_mark, by_date = newest_by_mark(stems), newest_by_date(stems)
    if by_mark is None and by_date is None:
        return None, "which is newer cannot be told from marks or dates"
    if by_mark is None:
        return by_date, "by its date the newest is {newest}"
    if by_date is None or by_date is by_mark:
        return by_mark, "by its mark the newest is {newest}"
    return by_mark, "by its mark the newest is {newest}, though {saved_last} was saved later"
