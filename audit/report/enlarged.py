"""Which places of faults are shown enlarged, and how wide."""

from __future__ import annotations

from audit.findings import Finding, Severity, ShowAudit
from audit.report.grouping import group_alike
from audit.results import Place

DAMAGE_SPAN_S = 0.012
"""Where single samples matter: about 580 of them at 48 kHz."""

SPANS_S = {
    "dropout": DAMAGE_SPAN_S, "repeated-block": 0.04, "splice-click": DAMAGE_SPAN_S,
    "sample-clipping": DAMAGE_SPAN_S, "flattened-peaks": DAMAGE_SPAN_S, "true-peak-over": 0.004,
    "not-finite": DAMAGE_SPAN_S, "full-scale-noise": DAMAGE_SPAN_S, "damaged-audio": 0.2,
    "timecode-jump": 0.2, "timecode-level": 0.02, "click-gap": 6.0, "click-extra": 3.0, "click-bleed": 3.0,
    "timecode-bleed": 1.0, "dc-offset": 2.0, "cut-head": 0.5,
}  # fmt: skip
USUAL_SPAN_S = 1.0

MOST_SPAN_S = 8.0
PLACES_A_GROUP = 4
MOST_PLACES = 400
"""Of a whole page: some 3 kB each."""


def place_of(finding: Finding) -> Place | None:
    """The stretch around a finding's place; None where it has none in one stem of one song."""
    if finding.stem is None or finding.at_s is None or len(finding.songs) != 1:
        return None
    span_s = SPANS_S.get(finding.rule, USUAL_SPAN_S)
    size_s = length_s(finding)
    if size_s is not None:
        span_s = max(span_s, 3.0 * size_s)
    span_s = min(span_s, MOST_SPAN_S)
    middle_s = finding.at_s + (size_s or 0.0) / 2
    return Place(
        song=finding.songs[0], stem=finding.stem, first_s=round(middle_s - span_s / 2, 6), span_s=span_s
    )


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
                places = (place_of(finding) for finding in group.findings[:PLACES_A_GROUP])
                found += [place for place in places if place is not None]
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
                if place is not None and group.first.at_s is not None:
                    found.setdefault(place, group.first.at_s)
    return list(found.items())[:MOST_CLIPS]
