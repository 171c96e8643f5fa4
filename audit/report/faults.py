"""Faults in words: a headline with the place, what was measured against which limit, the cure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from audit.findings import Finding, Severity, ShowAudit
from audit.report.first import urgency
from audit.report.grouping import Alike, group_alike
from audit.report.hear_line import put_hear_line
from audit.report.page import Page
from audit.report.verdict import tonights_songs
from audit.report.words import listed
from audit.units import clock, count

LOUD_RULES = frozenset(
    {
        "not-finite", "full-scale-noise", "damaged-audio", "sample-clipping", "crew-level-jump",
        "song-loudness-outlier", "role-level-outlier", "dc-offset", "splice-click",
        "timecode-level", "timecode-bleed", "click-bleed", "loudness-step",
    }
)  # fmt: skip
"""Faults that may startle or hurt whoever goes and listens to them."""

CAUTION = (
    "Caution: turn monitors and in-ears down before you listen to these places. A level in a file says "
    "nothing of the sound pressure at an ear; local hearing rules and qualified crew decide."
)

SEVERITY_STYLE = {Severity.ERROR: "bold red", Severity.WARNING: "bold", Severity.NOTE: "dim"}
"""The word says it; the colour only repeats it."""

LABEL_CELLS = 9  # "warning" and two cells
MANY_SONGS = 4
"""What so many songs have word for word is said once, with their names."""

PLACES_SHOWN = 8
"""How many places of one fault stand in the report; the rest is counted. Eight fill a third of a screen."""


def put_faults(page: Page, audit: ShowAudit, severities: Sequence[Severity], *, every_place: bool) -> bool:
    """All faults of these severities: the show's and what many songs share word for word, then each song's,
    worst first. False: there is none."""
    common = [] if every_place else _in_many_songs(audit, severities)
    folded = set(map(id, common))
    sections = [("The whole show", [*audit.show_findings, *common], True)]
    sections += [
        (song.evidence.name, [f for f in song.findings if id(f) not in folded], False) for song in audit.songs
    ]
    tonight = tonights_songs(audit)
    loud = False
    found = False
    for heading, findings, name_songs in sections:
        faults = [f for f in findings if f.waived is None and f.severity in severities]
        if not faults:
            continue
        found = True
        loud = loud or any(fault.rule in LOUD_RULES for fault in faults)
        page.blank()
        elsewhere = audit.evidence.order is not None and not name_songs and heading not in tonight
        page.put((heading, "bold"), (", not tonight" if elsewhere else "", "dim"))
        for group in group_alike(sorted(faults, key=urgency)):
            _put_group(page, group, name_songs, every_place)
            for finding in group.findings if every_place else group.findings[:1]:
                put_hear_line(page, audit.evidence, finding, indent=2 + LABEL_CELLS)
    if loud:
        page.blank()
        page.put(CAUTION)
    return found


def _in_many_songs(audit: ShowAudit, severities: Sequence[Severity]) -> list[Finding]:
    """What stands in the same words in so many songs that it is a matter of the show."""
    alike: dict[tuple[str, str, str], list[tuple[str, Finding]]] = {}
    for song in audit.songs:
        for fault in song.findings:
            if fault.waived is None and fault.severity in severities and fault.at_s is None:
                key = (fault.rule, fault.message, fault.advice)
                alike.setdefault(key, []).append((song.evidence.name, fault))
    many = [found for found in alike.values() if len({name for name, _ in found}) >= MANY_SONGS]
    return [fault for found in many for _, fault in found]


def place(finding: Finding, *, name_songs: bool) -> str:
    """`Bass.wav at 1:01.250`; with its songs in front where the heading does not name them."""
    songs = listed(finding.songs) if name_songs else ""
    words = ", ".join(word for word in (songs, finding.stem) if word)
    at = f"at {clock(finding.at_s)}" if finding.at_s is not None else ""
    return " ".join(word for word in (words, at) if word)


def places(findings: Iterable[Finding], *, name_songs: bool) -> list[str]:
    """The places of several findings, those in one stem drawn together: `Bass.wav at 0:01.000, 0:07.250`."""
    by_stem: dict[tuple[tuple[str, ...], str | None], list[Finding]] = {}
    for finding in findings:
        by_stem.setdefault((finding.songs, finding.stem), []).append(finding)
    return [
        ", ".join(
            [
                place(group[0], name_songs=name_songs),
                *(clock(finding.at_s) for finding in group[1:] if finding.at_s is not None),
            ]
        )
        for group in by_stem.values()
    ]


def _put_group(page: Page, group: Alike, name_songs: bool, every_place: bool) -> None:
    first = group.first
    shown = group.findings if every_place else group.findings[:PLACES_SHOWN]
    style = SEVERITY_STYLE[first.severity]
    label = first.severity.value
    if group.same_words:
        where = places(shown, name_songs=name_songs)
        number = f"{len(group.findings)} places: " if len(group.findings) > 3 else ""
        words = f" in {number}{('; ' if name_songs else ', ').join(where)}" if any(where) else ""
        page.put((first.rule, "bold"), words, label=label, style=style, indent=2, hang=LABEL_CELLS)
        page.put(first.message, indent=2, hang=LABEL_CELLS)
    else:
        several = len({(finding.songs, finding.stem) for finding in group.findings}) == len(group.findings)
        words = f" in {count(len(group.findings), 'stem' if several and first.stem else 'place')}"
        page.put((first.rule, "bold"), words, label=label, style=style, indent=2, hang=LABEL_CELLS)
        for finding in shown:
            at = place(finding, name_songs=name_songs)
            page.put(f"{at}: {finding.message}" if at else finding.message, indent=2, hang=LABEL_CELLS)
    if len(shown) < len(group.findings):
        more = f"and {len(group.findings) - len(shown)} more (--verbose shows all)"
        page.put((more, "dim"), indent=2, hang=LABEL_CELLS)
    page.put(("Cure: ", "dim"), first.advice, indent=2, hang=LABEL_CELLS)
