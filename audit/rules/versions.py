"""Versions of one stem, and sets of all stems, that lie side by side: which belong together, which counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from audit.facts import Role, Song, Stem


def version_groups(stems: Iterable[Stem]) -> Iterator[list[Stem]]:
    """The groups of stems that differ by a version mark only, two or more each."""
    groups: dict[tuple[str, Role], list[Stem]] = {}
    for stem in stems:
        if stem.version_key:
            groups.setdefault((stem.version_key, stem.role), []).append(stem)
    for group in groups.values():
        if len({stem.version for stem in group}) < 2 or all(stem.mark.kind == "counted" for stem in group):
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
    alike = bool(one.title_key) and one.title_key == other.title_key and one.title_mark != other.title_mark
    return alike and not one.title_mark.kind == other.title_mark.kind == "counted"


def _tier(stem: Stem) -> int:
    """Old < plain < any other mark."""
    return {"old": 0, "plain": 1}.get(stem.mark.kind, 2)


def newest_by_mark(stems: Sequence[Stem]) -> Stem | None:
    """The one whose mark stands above all others'; None where the marks do not tell (`v2` beside `FINAL`)."""
    top = max(map(_tier, stems))
    best = sorted(
        (stem for stem in stems if _tier(stem) == top), key=lambda stem: stem.mark.numbers, reverse=True
    )
    if len(best) == 1:
        return best[0]
    if len({(stem.mark.kind, stem.mark.scheme) for stem in best}) > 1:
        return None
    return best[0] if best[0].mark.numbers > best[1].mark.numbers else None


def newest_by_date(stems: Sequence[Stem]) -> Stem | None:
    """The one that was saved last; None where two share the last date, as after a careless copy."""
    ranked = sorted(stems, key=lambda stem: stem.modified_ns, reverse=True)
    return ranked[0] if ranked[0].modified_ns > ranked[1].modified_ns else None


def which_is_newer(stems: Sequence[Stem]) -> tuple[Stem | None, str]:
    """The newest and, in words, why; None where neither marks nor dates tell."""
    wanted = [stem for stem in stems if stem.is_wanted]
    if len(wanted) == 1:
        return wanted[0], "the settings name {newest} as current"
    by_mark, by_date = newest_by_mark(stems), newest_by_date(stems)
    if by_mark is None and by_date is None:
        return None, "which is newer cannot be told from marks or dates"
    if by_mark is None:
        return by_date, "by its date the newest is {newest}"
    if by_date is None or by_date is by_mark:
        return by_mark, "by its mark the newest is {newest}"
    return by_mark, "by its mark the newest is {newest}, though {saved_last} was saved later"
