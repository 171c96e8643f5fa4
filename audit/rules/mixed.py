"""Whether a song's current stems are of one version."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Stem, VersionMark
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.rules.versions import version_groups, which_is_newer
from audit.units import count

_UNFINISHED = "“{newer}” is newer than “{current}”, which is judged, but holds only a part of its stems"
_DROPPED = "the current version ({current}) has nothing for {listed} of the version before"
_FOLDERS = "the song's stems come from the version folders {folders}"
_NEWER = "{listed} {is_are} marked {found}, {others} {asked}: {it_they} {is_are} newer than the rest"


@rule(
    id="mixed-versions",
    family="files",
    severity=Severity.ERROR,
    scope="song",
    limit=Limit(value=3.0, unit="stems"),
    message="{listed} {is_are} marked {found}, {others} {asked}",
    cure="Ask for the missing stems of the version that is meant, or name that version in the settings; "
    "put the "
    "others aside.",
    again="in the same version as the song's other stems",
    means="A song's current stems come from different versions: by the marks in their names, where at least "
    "{limit:g} stems and most of those marked share one, or by their folders. A stem that is newer than "
    "the rest is "
    "a warning, and so is a stem of the version before that the current one has nothing for.",
    on_stage="One part plays the old arrangement, or another mix, under the new one.",
    measured="Version marks of one kind and scheme (v2 and v3, two dates), in the names of the stems that "
    "are "
    "current; marks such as (1) count voices and say nothing. Which version is current: the settings, "
    "else the "
    "newest that is complete.",
    source="common practice",
)
def mixed_versions(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    facts = song.song
    folders = {folder.rpartition("/")[2].casefold() for folder in facts.version_folders}
    if len(folders) > 1:
        yield Hit(
            message=_FOLDERS,
            facts={"folders": listed(facts.version_folders), "versions": facts.version_folders},
        )
    if facts.unfinished_version is not None and facts.version is not None:
        yield Hit(
            severity=Severity.WARNING,
            message=_UNFINISHED,
            cure="Ask whether the newer version is finished: if it is, name it in the settings (version), "
            "if not, "
            "fetch the rest of it before the show.",
            facts={"newer": facts.unfinished_version, "current": facts.version},
        )
    if facts.dropped_stems:
        yield Hit(
            severity=Severity.WARNING,
            message=_DROPPED,
            cure="Ask whether the part was meant to go: if not, have it bounced again in the current "
            "version. If it was, name that version in the settings, and nothing more is said.",
            facts={"listed": listed(facts.dropped_stems), "current": facts.version},
        )
    marked = [stem for stem in _current(song) if stem.mark.kind in ("number", "date")]
    if not marked:
        yield NotApplicable(reason="no version marks in the stems' names")
    schemes = dict.fromkeys((stem.mark.kind, stem.mark.scheme) for stem in marked)
    for scheme in schemes:
        alike = [stem for stem in marked if (stem.mark.kind, stem.mark.scheme) == scheme]
        usual = _usual(alike, limit)
        if usual is None:
            continue
        odd: dict[tuple[float, ...], list[Stem]] = {}
        for stem in alike:
            if stem.mark.numbers != usual.numbers:
                odd.setdefault(stem.mark.numbers, []).append(stem)
        for numbers, stems in odd.items():
            newer = numbers > usual.numbers and not any(stem.is_wanted for stem in alike)
            yield _odd(stems, alike, usual, newer=newer)


def _current(song: SongEvidence) -> list[Stem]:
    """The song's stems without those that a newer version of the same stem lies beside."""
    stems = [evidence.stem for evidence in song.stems]
    older = {
        stem.file
        for group in version_groups(stems)
        if (newest := which_is_newer(group)[0]) is not None
        for stem in group
        if stem is not newest
    }
    return [stem for stem in stems if stem.file not in older]


def _usual(stems: list[Stem], limit: Limit) -> VersionMark | None:
    """The mark that the settings name, or that enough stems and most of them share."""
    wanted = next((stem.mark for stem in stems if stem.is_wanted), None)
    if wanted is not None:
        return wanted
    (mark, agree), *_ = Counter(stem.mark for stem in stems).most_common(1)
    return mark if agree >= limit.value and 3 * agree > 2 * len(stems) else None


def _odd(stems: list[Stem], alike: list[Stem], usual: VersionMark, *, newer: bool) -> Hit:
    names = tuple(stem.file for stem in stems)
    rest = [stem for stem in alike if stem.mark == usual]
    return Hit(
        stem=names[0] if len(names) == 1 else None,
        severity=Severity.WARNING if newer else None,
        message=_NEWER if newer else None,
        facts={
            "listed": listed(names),
            "is_are": "is" if len(names) == 1 else "are",
            "it_they": "it" if len(names) == 1 else "they",
            "found": stems[0].version,
            "asked": rest[0].version,
            "others": count(len(rest), "other stem"),
            "files": names,
        },
    )


RULES = (mixed_versions,)
