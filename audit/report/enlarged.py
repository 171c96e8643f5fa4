"""Which places of faults are shown enlarged, and how wide."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Finding, Severity, ShowAudit
from audit.report.grouping import group_alike
from audit.results import ClickTrack, Envelope, Place
from audit.rules.catalogue import RULES

DAMAGE_SPAN_S = 0.012
"""Where single samples matter: about 580 of them at 48 kHz."""

SPANS_S = {
    "dropout": DAMAGE_SPAN_S, "repeated-block": 0.04, "splice-click": DAMAGE_SPAN_S,
    "sample-clipping": 0.004, "flattened-peaks": DAMAGE_SPAN_S, "true-peak-over": 0.004,
    "not-finite": DAMAGE_SPAN_S, "full-scale-noise": DAMAGE_SPAN_S, "damaged-audio": 0.2,
    "timecode-jump": 0.12, "timecode-level": 0.02, "click-gap": 6.0, "click-extra": 3.0, "click-bleed": 3.0,
    "timecode-bleed": 1.0, "dc-offset": 2.0, "cut-head": 0.5,
}  # fmt: skip
USUAL_SPAN_S = 1.0

MOST_SPAN_S = 8.0
PLACES_A_GROUP = 4
MOST_PLACES = 400
"""Of a whole page: some 3 kB each."""


BOTH_SIDES = frozenset({"opposite-polarity", "silent-channel", "channel-imbalance"})
"""Faults of the whole stem that show where it is loudest."""

SIDES_SPAN_S = 0.02

BESIDE_CLICK = frozenset({"offset-from-click", "shifted-by-beats"})
"""Faults of the whole stem that show beside the click."""

LEAST_BESIDE_S = 0.25

OF_TIMECODE = frozenset(rule.id for rule in RULES if rule.family == "timecode")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """What is shown of a finding. `moment_s`: what the line stands at; `size_s`: how much the fault takes
    from there, below zero to the left of it; None: no line. `beside`: the same stretch of the click."""

    place: Place
    moment_s: float | None
    size_s: float = 0.0
    beside: Place | None = None


def shown_of(finding: Finding, song: SongEvidence | None = None) -> Shown | None:
    """The stretch to enlarge; None where nothing in one stem of one song tells it.

    song: its evidence, for faults of a whole stem, whose best place it tells.
    """
    if finding.stem is None or len(finding.songs) != 1:
        return None
    longest_s = finding.measured.get("longest_at_s")
    at_s = float(longest_s) if isinstance(longest_s, (int, float)) else finding.at_s
    if at_s is not None:
        size_s = length_s(finding) or 0.0
        span_s = max(SPANS_S.get(finding.rule, USUAL_SPAN_S), 3.0 * size_s)
        return Shown(place=_around(finding, at_s + size_s / 2, span_s), moment_s=at_s, size_s=size_s)
    stem = next((one for one in song.stems if one.name == finding.stem), None) if song is not None else None
    part = stem.main_part if stem is not None else None
    if song is None or stem is None or part is None:
        return None
    if finding.rule in BOTH_SIDES:
        loudest_s = part.measures.peaks.true_at_s
        return Shown(place=_around(finding, loudest_s, SIDES_SPAN_S), moment_s=None)
    if finding.rule in BESIDE_CLICK and song.click is not None and song.click_stem is not None:
        return _beside_click(finding, stem, part, song.click, song.click_stem)
    return None


def place_of(finding: Finding, song: SongEvidence | None = None) -> Place | None:
    """The stretch around a finding's place; None where it has none in one stem of one song."""
    shown = shown_of(finding, song)
    return shown.place if shown is not None else None


def _around(finding: Finding, middle_s: float, span_s: float) -> Place:
    span_s = min(span_s, MOST_SPAN_S)
    assert finding.stem is not None
    return Place(
        song=finding.songs[0], stem=finding.stem, first_s=round(middle_s - span_s / 2, 6), span_s=span_s
    )


def _beside_click(
    finding: Finding, stem: StemEvidence, part: PartEvidence, click: ClickTrack, click_stem: str
) -> Shown | None:
    """A beat that the stem should strike: where it rises most clearly, by its own displacement beside it."""
    size_s = _displacement_s(finding)
    if size_s is None or part.measures.envelope is None or not click.beats_s:
        return None
    first = part.measures.activity.first_sound_frame
    if finding.rule == "shifted-by-beats" and first is not None and stem.format is not None:
        sound_s = first / stem.format.sample_rate_hz - size_s
        beat_s = min(click.beats_s, key=lambda beat: abs(beat - sound_s))
    else:
        envelope = part.measures.envelope
        beat_s = max(click.beats_s, key=lambda beat: _rise(envelope, beat + size_s))
    span_s = max(LEAST_BESIDE_S, 3.0 * abs(size_s))
    place = _around(finding, beat_s + size_s / 2, span_s)
    return Shown(place=place, moment_s=beat_s, size_s=size_s, beside=replace(place, stem=click_stem))


def _displacement_s(finding: Finding) -> float | None:
    """How late the whole stem is; below zero: early."""
    if finding.value is None:
        return None
    if finding.rule == "offset-from-click":
        return finding.value / 1000.0
    seconds = finding.measured.get("seconds")
    return math.copysign(float(seconds), finding.value) if isinstance(seconds, (int, float)) else None


def _rise(envelope: Envelope, at_s: float) -> int:
    """How much higher a stem stands after a moment than before it, in half decibels."""
    at = round(at_s / envelope.bin_s)
    before, after = envelope.peaks[max(0, at - 2) : max(0, at - 1)], envelope.peaks[max(0, at) : at + 2]
    return max(after, default=0) - max(before, default=240)


def length_s(finding: Finding) -> float | None:
    """How long the fault itself lasts, where the finding tells."""
    if finding.rule == "dropout" and finding.unit == "ms" and finding.value is not None:
        return finding.value / 1000.0
    length_ms = finding.measured.get("length_ms")
    if finding.rule == "repeated-block" and isinstance(length_ms, (int, float)):
        return float(length_ms) / 1000.0
    return None


def places_of(audit: ShowAudit) -> list[Place]:
    """The places worth reading again, worst faults first, the first few of each group."""
    found: list[Place] = []
    for severity in (Severity.ERROR, Severity.WARNING):
        for song in audit.songs:
            faults = [f for f in song.findings if f.waived is None and f.severity is severity]
            for group in group_alike(faults):
                for finding in group.findings[:PLACES_A_GROUP]:
                    shown = shown_of(finding, song.evidence)
                    if shown is not None:
                        found += [shown.place, *([shown.beside] if shown.beside is not None else [])]
    return list(dict.fromkeys(found))[:MOST_PLACES]


MOST_CLIPS = 40
"""In a page: 8 s each, some 0.3 to 0.8 MB."""


def clips_of(audit: ShowAudit) -> list[tuple[Place, float]]:
    """The places worth hearing with their second in the stem: the first of each group, errors first."""
    found: dict[Place, float] = {}
    for severity in (Severity.ERROR, Severity.WARNING):
        for song in audit.songs:
            faults = [f for f in song.findings if f.waived is None and f.severity is severity]
            for group in group_alike(faults):
                place = place_of(group.first)
                stem = next((s for s in song.evidence.stems if place and s.name == place.stem), None)
                if place is None or stem is None or not worth_hearing(stem, group.first):
                    continue
                if group.first.at_s is not None:
                    found.setdefault(place, group.first.at_s)
    return list(found.items())[:MOST_CLIPS]


def worth_hearing(stem: StemEvidence, finding: Finding) -> bool:
    """Whether an ear learns anything of a fault at its place: of timecode it hears a buzz."""
    return finding.rule not in OF_TIMECODE and set(stem.roles) != {Role.TIMECODE}
