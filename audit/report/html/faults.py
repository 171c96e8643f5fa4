"""Faults as the page shows them: words, marks, the place enlarged, something to hear."""

from __future__ import annotations

import base64
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.evidence import SongEvidence
from audit.findings import Finding, Severity, ShowAudit
from audit.report.enlarged import PLACES_A_GROUP, length_s, place_of
from audit.report.faults import LOUD_RULES
from audit.report.figures import figure, sentence, title_of
from audit.report.grouping import Alike, group_alike
from audit.report.hear_line import hear_command
from audit.report.html.pictures import highest, wave, whole
from audit.report.words import listed, signed
from audit.results import Excerpt, Place, Sound
from audit.rules.catalogue import RULES
from audit.rules.texts import fill
from audit.units import clock, to_db

PLACES_SHOWN = 12
RULE_BY_ID = {rule.id: rule for rule in RULES}
NO_WORDS = ("", "", "")
_MODULE = re.compile(r" \(audit\.[\w.]+\)")
"""Where a measure lives says nothing to whoever reads the page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One picture of a place: a channel's samples."""

    channel: int  # 1-based
    path: str
    filled: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Enlarged:
    """The place, large."""

    rows: tuple[Row, ...]
    caption: str
    edge: str  # what the upper edge stands for: `−12.3 dBFS`
    at_pct: float | None  # where the fault is, in percent of the width
    wide_pct: float  # how much of it the fault takes; 0: a point
    full_scale_y: float | None  # the height of full scale, 0 … 100 from above; None: off the picture
    beats_pct: tuple[float, ...]


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
    groups = group_alike(sorted(chosen, key=lambda finding: finding.severity.rank))
    return [
        _fault(audit, group, song, f"{prefix}f{number}", extras)
        for number, group in enumerate(groups, start=1)
    ]


def waived_of(audit: ShowAudit) -> list[tuple[str, str, str]]:
    """What somebody has looked at and set aside: (fault, message, reason)."""
    return [
        (
            ", ".join(word for word in (listed(f.songs), f.stem, title_of(f.rule)) if word),
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
        title=title_of(first.rule),
        severity=first.severity.value,
        where=", ".join(word for word in (songs, _few(stems)) if word),
        message=sentence(first.message) if group.same_words else "",
        cure=first.advice,
        means=fill(texts[0], limit),
        on_stage=fill(texts[1], limit),
        measured=_MODULE.sub("", fill(texts[2], limit)),
        source=fill(rule.source, limit) if rule else "",
        spots=tuple(_spot(audit, f, song, number, extras) for number, f in enumerate(shown)),
        more=len(group.findings) - len(shown),
        strip=_strip(group, song),
        loud=first.rule in LOUD_RULES,
        marks_pct=_marks(group, song),
        waived="",
    )


def _reason(waived: Mapping[str, str | None]) -> str:
    until = waived.get("until")
    return (waived.get("reason") or "") + (f" (until {until})" if until else "")


def _few(stems: Sequence[str]) -> str:
    return listed(stems) if len(stems) <= 3 else f"{len(stems)} stems"


def _spot(audit: ShowAudit, finding: Finding, song: SongEvidence | None, number: int, extras: Extras) -> Spot:
    place = place_of(finding) if number < PLACES_A_GROUP else None
    excerpt = extras.excerpts.get(place) if place else None
    sound = extras.sounds.get(place) if place else None
    at = f"at {clock(finding.at_s)}" if finding.at_s is not None else ""
    names = listed(finding.songs) if song is None else ""
    where = " ".join(word for word in (", ".join(w for w in (names, finding.stem) if w), at) if word)
    command = hear_command(audit.evidence, finding)
    return Spot(
        where=where,
        message=finding.message,
        figures=_figures(finding),
        hear=f"stemaudit hear {command[1]} {command[0]}" if command else "",
        enlarged=_enlarged(finding, excerpt, song) if excerpt else None,
        heard=_heard(sound) if sound else None,
    )


def _figures(finding: Finding) -> str:
    if finding.value is None or math.isnan(finding.value):
        return ""
    words = f"measured {figure(finding.value, finding.unit)}"
    if finding.limit is not None and not math.isnan(finding.limit):
        words += f", limit {figure(finding.limit, finding.unit)}"
    return words


def _enlarged(finding: Finding, excerpt: Excerpt, song: SongEvidence | None) -> Enlarged:
    top = max(highest(excerpt.traces) * 1.08, 1e-5)
    size_s = length_s(finding) or 0.0
    at_s = finding.at_s or 0.0
    beats = song.click.beats_s if song is not None and song.click is not None else ()
    end_s = excerpt.first_s + excerpt.span_s
    near = [beat for beat in beats if excerpt.first_s <= beat <= end_s] if excerpt.span_s >= 0.3 else []
    drawn = "one dot a sample" if excerpt.column_frames == 1 else f"{excerpt.column_frames} samples a column"
    many = (
        f", channels {listed(str(t.channel + 1) for t in excerpt.traces)}" if len(excerpt.traces) > 1 else ""
    )
    return Enlarged(
        rows=tuple(
            Row(channel=trace.channel + 1, path=wave(trace, top), filled=trace.lows != trace.highs)
            for trace in excerpt.traces
        ),
        caption=f"{span_words(excerpt.span_s)} around {clock(at_s)}{many}, {drawn}"
        + ("; the ticks are the click’s beats" if near else ""),
        edge=f"{signed(to_db(top))} dBFS",
        at_pct=percent((at_s - excerpt.first_s) / excerpt.span_s),
        wide_pct=percent(min(size_s, excerpt.span_s) / excerpt.span_s) or 0.0,
        full_scale_y=round(50.0 - 50.0 / top, 1) if top >= 1.0 else None,
        beats_pct=tuple(round(100.0 * (beat - excerpt.first_s) / excerpt.span_s, 2) for beat in near),
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
    if stem is None or stem.format is None or not stem.parts:
        return None
    part = next((one for one in stem.parts if one.audience), stem.parts[0])
    peaks, levels = whole(part.measures.envelope, stem.format.duration_s, song.duration_s)
    if not peaks:
        return None
    return Strip(peaks=peaks, levels=levels, at_pct=_marks(group, song))


def _marks(group: Alike, song: SongEvidence | None) -> tuple[float, ...]:
    if song is None or song.duration_s <= 0.0:
        return ()
    shares = (f.at_s / song.duration_s for f in group.findings if f.at_s is not None)
    # Half a percent apart at least: nearer marks lie on each other.
    return tuple(sorted({round(200.0 * share) / 2.0 for share in shares if 0.0 <= share <= 1.0}))


def percent(share: float) -> float | None:
    """A share of the picture's width; None outside."""
    return round(100.0 * share, 2) if 0.0 <= share <= 1.0 else None


def span_words(seconds: float) -> str:
    return f"{1000.0 * seconds:.3g} ms" if seconds < 1.0 else f"{seconds:.3g} s"
