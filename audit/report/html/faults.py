"""Faults as the page shows them: words, marks, the place enlarged, something to hear."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.evidence import SongEvidence
from audit.findings import Finding, Severity, ShowAudit
from audit.report.enlarged import PLACES_A_GROUP, shown_of
from audit.report.faults import LOUD_RULES
from audit.report.figures import below_headline, headline_of, measured_words, sentence
from audit.report.first import urgency
from audit.report.grouping import Alike, group_alike
from audit.report.hear_line import hear_command
from audit.report.html.enlargement import Enlarged, enlarge
from audit.report.html.pictures import whole
from audit.report.words import listed
from audit.results import Excerpt, Place, Sound
from audit.rules.catalogue import RULES
from audit.rules.texts import fill
from audit.units import clock

PLACES_SHOWN = 12
NAMES_SHOWN = 8
RULE_BY_ID = {rule.id: rule for rule in RULES}
NO_WORDS = ("", "", "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """A clip within the page."""

    url: str
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One place of a fault."""

    where: str  # `Bass.wav at 0:14.587`
    message: str
    figures: str  # `measured 20.0 ms, limit 2 ms`; empty without numbers
    hear: str  # the command that lets one hear it; empty where there is none
    enlarged: Enlarged | None
    heard: Heard | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """A whole stem over its song's length, with the places marked."""

    peaks: str
    levels: str
    at_pct: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Findings that one cure answers."""

    anchor: str
    rule: str
    title: str
    severity: str
    where: str
    message: str
    cure: str
    means: str
    on_stage: str
    measured: str
    source: str
    spots: tuple[Spot, ...]
    more: int  # places that are not shown
    strip: Strip | None
    loud: bool
    marks_pct: tuple[float, ...]  # over the song, in percent of its length
    whole: bool  # a finding of it has no place: it is about a whole stem, or the song
    waived: str  # why it does not count; empty where it does


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """What was read and cut for the page beyond findings."""

    excerpts: Mapping[Place, Excerpt]
    sounds: Mapping[Place, Sound]


def faults_of(
    audit: ShowAudit,
    findings: Sequence[Finding],
    song: SongEvidence | None,
    prefix: str,
    extras: Extras,
    severities: Sequence[Severity],
) -> list[Fault]:
    """The findings of these severities as faults, worst first. song: None for the show's own."""
    chosen = [f for f in findings if f.severity in severities and f.waived is None]
    groups = group_alike(sorted(chosen, key=urgency))
    return [
        _fault(audit, group, song, f"{prefix}f{number}", extras)
        for number, group in enumerate(groups, start=1)
    ]


def waived_of(audit: ShowAudit) -> list[tuple[str, str, str]]:
    """What somebody has looked at and set aside: (fault, message, reason)."""
    return [
        (
            ", ".join(word for word in (listed(f.songs), f.stem, headline_of(f)) if word),
            f.message,
            _reason(f.waived),
        )
        for f in audit.all_findings()
        if f.waived is not None
    ]


def _fault(audit: ShowAudit, group: Alike, song: SongEvidence | None, anchor: str, extras: Extras) -> Fault:
    first = group.first
    rule = RULE_BY_ID.get(first.rule)
    texts = (rule.means, rule.on_stage, rule.measured) if rule else NO_WORDS
    limit = rule.limit if rule else None
    shown = group.findings[:PLACES_SHOWN]
    stems = list(dict.fromkeys(f.stem for f in group.findings if f.stem))
    songs = listed(dict.fromkeys(name for f in group.findings for name in f.songs)) if song is None else ""
    return Fault(
        anchor=anchor,
        rule=first.rule,
        title=headline_of(first),
        severity=first.severity.value,
        where=", ".join(word for word in (songs, _few(stems)) if word),
        message=sentence(below_headline(first)) if group.same_words else "",
        cure=first.advice,
        means=fill(texts[0], limit),
        on_stage=fill(texts[1], limit),
        measured=fill(texts[2], limit),
        source=fill(rule.source, limit) if rule else "",
        spots=tuple(_spot(audit, f, song, number, extras) for number, f in enumerate(shown)),
        more=len(group.findings) - len(shown),
        strip=_strip(group, song),
        loud=first.rule in LOUD_RULES,
        marks_pct=_marks(group, song),
        whole=any(finding.at_s is None for finding in group.findings),
        waived="",
    )


def _reason(waived: Mapping[str, str | None]) -> str:
    until = waived.get("until")
    return (waived.get("reason") or "") + (f" (until {until})" if until else "")


def _few(stems: Sequence[str]) -> str:
    """Their names; of very many the first, and how many more."""
    if len(stems) <= NAMES_SHOWN:
        return listed(stems)
    return f"{', '.join(stems[:NAMES_SHOWN])} and {len(stems) - NAMES_SHOWN} more"


def _spot(audit: ShowAudit, finding: Finding, song: SongEvidence | None, number: int, extras: Extras) -> Spot:
    shown = shown_of(finding, song) if number < PLACES_A_GROUP else None
    sound = extras.sounds.get(shown.place) if shown else None
    at = f"at {clock(finding.at_s)}" if finding.at_s is not None else ""
    names = listed(finding.songs) if song is None else ""
    where = " ".join(word for word in (", ".join(w for w in (names, finding.stem) if w), at) if word)
    command = hear_command(audit.evidence, finding)
    return Spot(
        where=where,
        message=finding.message,
        figures=measured_words(finding),
        hear=" ".join(["stemaudit hear", *command]) if command else "",
        enlarged=enlarge(finding, shown, extras.excerpts, song) if shown else None,
        heard=_heard(sound) if sound else None,
    )


def _heard(sound: Sound) -> Heard:
    quiet = f", turned down by {sound.down_db:.0f} dB" if sound.down_db >= 0.5 else ""
    return Heard(
        url=f"data:{sound.media_type};base64,{base64.b64encode(sound.data).decode('ascii')}",
        caption=f"Four soft beeps count to the place, at second {sound.place_s:g}{quiet} ({sound.why}).",
    )


def _strip(group: Alike, song: SongEvidence | None) -> Strip | None:
    """Of a group in a single stem."""
    names = {finding.stem for finding in group.findings}
    if song is None or len(names) != 1 or group.first.stem is None:
        return None
    stem = next((one for one in song.stems if one.name == group.first.stem), None)
    if stem is None or stem.format is None or stem.main_part is None:
        return None
    peaks, levels = whole(stem.main_part.measures.envelope, stem.format.duration_s, song.duration_s)
    if not peaks:
        return None
    return Strip(peaks=peaks, levels=levels, at_pct=_marks(group, song))


def _marks(group: Alike, song: SongEvidence | None) -> tuple[float, ...]:
    if song is None or song.duration_s <= 0.0:
        return ()
    shares = (f.at_s / song.duration_s for f in group.findings if f.at_s is not None)
    # Half a percent apart at least: nearer marks lie on each other.
    return tuple(sorted({round(200.0 * share) / 2.0 for share in shares if 0.0 <= share <= 1.0}))
