"""What to ask for again, as a list to mail: song by song, stem by stem, what is wrong and what is wanted."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from audit.evidence import SongEvidence
from audit.findings import Finding, Severity, ShowAudit, SongAudit
from audit.report.csv_text import csv_text
from audit.report.names import REBOUNCE_COLUMNS, REBOUNCE_HEADING
from audit.report.rebounce_code import NewStarts
from audit.report.rebounce_wanted import of_song, of_stem
from audit.report.words import searchable, visible
from audit.units import clock, count

SEND_AGAIN = frozenset({
    "unreadable-file", "empty-file", "truncated-file", "zero-filled-tail", "damaged-audio",
})  # fmt: skip
"""Perhaps only the copy is bad: the same file once more may do."""

BY_THE_CLICK = frozenset({"offset-from-click", "drift-from-click", "shifted-by-beats"})
"""Told of a whole song, these ask for its click."""

MUSIC, CREW = "Music", "Click, guide and timecode"
IF_TIME = "if there is time"


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One stem to ask for."""

    group: str
    song: str
    stem: str
    wrong: str
    wanted: str  # of this stem: format, level, repair
    with_all: str  # what the song's stems share: start and length
    places: str
    rules: tuple[str, ...]
    severity: Severity


def requests(audit: ShowAudit) -> list[Request]:
    """Music first, then click, guide and timecode; in the order of the show."""
    starts = NewStarts(audit)
    found = [request for song in audit.songs for request in _of_song(audit, song, starts)]
    return sorted(found, key=lambda request: request.group != MUSIC)


def rebounce_list(audit: ShowAudit, kind: str, *, made: str = "") -> str:
    """The list as `md`, `txt` or `csv`, with a line end at its end. made: the day, in words."""
    asked = requests(audit)
    if kind == "csv":
        return csv_text(
            REBOUNCE_COLUMNS,
            [
                (
                    r.group,
                    r.song,
                    r.stem,
                    searchable(r.wrong),
                    searchable(f"{r.wanted}; {r.with_all}"),
                    r.places,
                    ", ".join(r.rules),
                    r.severity.value,
                )
                for r in asked
            ],
        )
    return _markdown(audit, asked, made) if kind == "md" else _plain(audit, asked, made)


def _of_song(audit: ShowAudit, song: SongAudit, starts: NewStarts) -> list[Request]:
    # What is not there yet has no name: each by what is missing, or two of them would count as one.
    by_stem: dict[tuple[str | None, str], list[Finding]] = {}
    for finding in audit.findings_of(song):
        counts = finding.again and finding.severity is not Severity.NOTE and finding.waived is None
        if counts and starts.keeper(finding) != song.evidence.name:
            for name in _stems_of(finding, song.evidence):
                by_stem.setdefault((name, name or _not_there(finding)), []).append(finding)
    return [_request(audit, song, stem, findings, starts) for (stem, _), findings in by_stem.items()]


def _stems_of(finding: Finding, song: SongEvidence) -> list[str | None]:
    """The stems that a finding asks for; [None]: one that there is not yet."""
    if finding.stem is not None:
        return [finding.stem]
    own = {stem.name for stem in song.stems}
    files = finding.measured.get("files")
    named = [name for name in files if name in own] if isinstance(files, tuple) else []
    if named:
        return [name for name in named if isinstance(name, str)]
    return [_stem_of(finding, song)]


def _stem_of(finding: Finding, song: SongEvidence) -> str | None:
    if finding.stem is not None:
        return finding.stem
    if finding.rule.startswith("timecode-"):
        return next((stem.name for stem, _ in song.timecode_parts), None)
    return song.click_stem if finding.rule.startswith("click-") or finding.rule in BY_THE_CLICK else None


def _request(
    audit: ShowAudit, song: SongAudit, stem: str | None, findings: Sequence[Finding], starts: NewStarts
) -> Request:
    evidence = next((one for one in song.evidence.stems if one.name == stem), None)
    roles = findings[0].measured.get("roles")
    crew = (
        not evidence.audience
        if evidence is not None
        else isinstance(roles, tuple) and set(roles) <= {"click", "guide", "timecode"}
    )
    messages = list(dict.fromkeys(finding.message for finding in findings))
    told = messages[:3] + ([f"and {len(messages) - 3} more like it"] if len(messages) > 3 else [])
    places = [clock(finding.at_s) for finding in findings if finding.at_s is not None]
    only_copy = all(finding.rule in SEND_AGAIN for finding in findings)
    bounce = of_stem(audit, song.evidence, evidence, findings, starts)
    return Request(
        group=CREW if crew else MUSIC,
        song=song.evidence.name,
        stem=stem or _not_there(findings[0]),
        wrong="; ".join(told),
        wanted=f"the same file again; if it is so at its source too, a new bounce: {bounce}"
        if only_copy
        else bounce,
        with_all=of_song(song.evidence),
        places=", ".join(places[:8]) + (f" and {len(places) - 8} more" if len(places) > 8 else ""),
        rules=tuple(dict.fromkeys(finding.rule for finding in findings)),
        severity=min((finding.severity for finding in findings), key=lambda severity: severity.rank),
    )


def _not_there(finding: Finding) -> str:
    """What stands for a stem that there is not: `timecode, not there yet`."""
    missing = finding.measured.get("wanted")
    return f"{missing}, not there yet" if isinstance(missing, str) else "a stem that is not there yet"


def _grouped(asked: Sequence[Request]) -> dict[str, dict[str, list[Request]]]:
    groups: dict[str, dict[str, list[Request]]] = {}
    for request in asked:
        groups.setdefault(request.group, {}).setdefault(request.song, []).append(request)
    return groups


def _alike(stems: Sequence[Request]) -> list[tuple[list[str], Request]]:
    """A song's stems, those of which the same is said under one entry: who reads the mail reads it once."""
    found: dict[tuple[str, str, bool], tuple[list[str], Request]] = {}
    for request in stems:
        said = (request.wrong, request.wanted, request.severity is Severity.ERROR)
        found.setdefault(said, ([], request))[0].append(request.stem)
    return list(found.values())


def _name(audit: ShowAudit) -> str:
    return audit.evidence.settings.name or audit.evidence.show.name


def _opening(audit: ShowAudit, asked: Sequence[Request]) -> str:
    songs = len({request.song for request in asked})
    if not asked:
        return "Nothing: no stem of this show needs a new bounce."
    later = sum(request.severity is not Severity.ERROR for request in asked)
    spare = f", {'all' if later == len(asked) else later} of them {IF_TIME}" if later else ""
    return f"{count(len(asked), 'stem')} in {count(songs, 'song')}{spare}. Please keep the file names."


def _markdown(audit: ShowAudit, asked: Sequence[Request], made: str) -> str:
    lines = [f"# {REBOUNCE_HEADING}: {_md(_name(audit))}", "", _opening(audit, asked)]
    lines += ["", f"Checked {_md(made)}."] if made else []
    for group, songs in _grouped(asked).items():
        lines += ["", f"## {group}"]
        for song, stems in songs.items():
            lines += ["", f"### {_md(song)}", "", f"All of them {_md(stems[0].with_all)}.", ""]
            for names, request in _alike(stems):
                spare = "" if request.severity is Severity.ERROR else f", {IF_TIME}"
                lines += [
                    f"- {', '.join(f'**{_md(name)}**' for name in names)}{spare}",
                    f"  - wrong: {_md(request.wrong)}",
                    f"  - wanted: {_md(request.wanted)}",
                ]
    return "\n".join(lines) + "\n"


def _plain(audit: ShowAudit, asked: Sequence[Request], made: str) -> str:
    lines = [f"{REBOUNCE_HEADING}: {visible(_name(audit))}", "", _opening(audit, asked)]
    lines += ["", f"Checked {visible(made)}."] if made else []
    for group, songs in _grouped(asked).items():
        lines += ["", group.upper()]
        for song, stems in songs.items():
            lines += ["", visible(song), f"  All of them {visible(stems[0].with_all)}."]
            for names, request in _alike(stems):
                spare = "" if request.severity is Severity.ERROR else f", {IF_TIME}"
                lines += [
                    f"  {', '.join(visible(name) for name in names)}{spare}",
                    f"    wrong:  {visible(request.wrong)}",
                    f"    wanted: {visible(request.wanted)}",
                ]
    return "\n".join(lines) + "\n"


_MARKDOWN = re.compile(r"([\\`*_{}\[\]<>#|~&!])")


def _md(text: str) -> str:
    """Text that Markdown leaves as it is: no emphasis, link or tag comes of a name."""
    return _MARKDOWN.sub(r"\\\1", visible(text))
