"""Rules on stems that sit beside the beat, slide away from it, or run at another rate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from statistics import median

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Drift, Phase
from audit.rules.arrangement import off_by_beats
from audit.rules.customs import Habit, habit
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule

MARKING = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP})
"""Roles that mark the beat."""

SLOW = frozenset({
    Role.PAD, Role.STRINGS, Role.LEAD_VOCAL, Role.BACKING_VOCALS, Role.CHOIR, Role.WOODWIND, Role.EFFECTS,
    Role.FULL_MIX, Role.OTHER,
})  # fmt: skip
"""Roles that swell, breathe, or hold anything."""

STEADY_MS = 8.0
"""Drums, percussion and loops whose onsets spread no more than this are steady: their limit does not move."""

RATIOS = {
    160 / 147: "44.1 kHz audio under a 48 kHz header (or 88.2 under 96)",
    147 / 160: "48 kHz audio under a 44.1 kHz header (or 96 under 88.2)",
    2.0: "audio of half the rate that the header claims",
    0.5: "audio of twice the rate that the header claims",
    320 / 147: "44.1 kHz audio under a 96 kHz header",
    147 / 320: "96 kHz audio under a 44.1 kHz header",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Judged:
    """One stem's place against its habit, and what is asked of it."""

    stem: StemEvidence
    phase: Phase
    habit: Habit | None
    off_ms: float  # past the habit (or from the others' pattern, without one)
    limit_ms: float


@rule(
    id="offset-from-click",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(
        value=10.0,
        unit="ms",
        more={
            "alone": 20.0,
            "alone_pitched": 50.0,
            "pitched": 17.0,
            "slow": 30.0,
            "near": 2.5,
            "onsets": 30,
            "confidence": 0.5,
            "together": 20.0,
            "together_warning": 70.0,
        },
    ),
    message="{early_late} by {size_ms:.1f} ms ({samples} samples): {off_ms:+.1f} ms {than}, limit "
    "{bound:.0f} ms; the single onsets spread over {iqr_ms:.1f} ms, {others} other stems agree (+ = plays "
    "after the click)",
    cure="{farther}Move it {samples} samples ({size_ms:.1f} ms) {cure_way}, or bounce it again from bar 1 "
    "of the current version.",
    means="The whole stem sits early or late against the click and against the song's other stems, by more "
    "than {limit:g} ms past what its role does in the show's other songs (late = plays after the click). "
    "Where the show has fewer than four songs with that role, only drums, percussion and loops are errors, "
    "from {alone:g} ms on; other roles are a warning from {alone_pitched:g} ms.",
    on_stage="The groove falls apart: flams between drums and bass, a band that plays to one stem and is "
    "off the rest.",
    measured="Median distance of the stem's onsets from the beat pattern that the song's other stems share "
    "(straight, swung, triplet), anchored to the click (audit.measure.alignment). Asked for: {onsets:g} "
    "onsets; at least two other stems that agree with each other and lie the same way from it; spread "
    "(interquartile range) below the displacement; three times the role's own spread over the show. Drums, "
    "percussion and loops may spread 8 ms before the limit moves; other instruments get their own spread "
    "on top and at least {pitched:g} ms, swelling and sung ones {slow:g} ms, as people lie back. Drums, "
    "percussion and loops within {near:g} ms of the limit are a warning. If all stems lie alike, the song "
    "is told once: a note from {together:g} ms, a warning from {together_warning:g} ms. An offset of a "
    "whole subdivision of the beat is not told by onsets.",
    source="Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98(5), 2524–2531: a displacement is heard from 6 "
    "ms or 2.5 % of the interval on; the limits: own judgement above that. Spreads of ensembles 30–50 ms: "
    "Rasch 1979 [memory].",
)
def offset_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    placed = _placed(song)
    if not placed:
        yield NotApplicable(reason="no click, or no stem with onsets to compare with it")
        return
    together = _together(placed, limit)
    if together is not None:
        yield together
    found: list[tuple[_Judged, Severity]] = []
    for stem, phase in placed:
        judged = _judge(stem, phase, song, show, limit)
        severity = _severity(judged, song, show, limit) if judged is not None else None
        # A stem that is off by whole beats is told so once, its place within the beat included.
        if judged is not None and severity is not None and not off_by_beats(stem, song):
            found.append((judged, severity))
    # One stem that is late makes the others look early: of two directions the farther one is the fault.
    farthest = max((judged.off_ms for judged, _ in found), key=abs, default=0.0)
    for judged, severity in found:
        if judged.off_ms * farthest > 0.0:
            yield _offset_hit(judged, severity)


def _placed(song: SongEvidence) -> list[tuple[StemEvidence, Phase]]:
    return [
        (stem, stem.alignment.phase)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.phase is not None and not stem.silent
    ]


def _together(placed: list[tuple[StemEvidence, Phase]], limit: Limit) -> Hit | None:
    """All stems alike off the click: the click or all of them."""
    offsets = [phase.offset_ms for _, phase in placed if phase.onsets >= limit["onsets"]]
    if len(offsets) < 3:
        return None
    middle = median(offsets)
    alike = all(abs(offset - middle) <= limit.value for offset in offsets)
    if not alike or abs(middle) < limit["together"]:
        return None
    loud = abs(middle) >= limit["together_warning"]
    return Hit(
        value=middle,
        limit=limit["together_warning"] if loud else limit["together"],
        severity=Severity.WARNING if loud else Severity.NOTE,
        message="all {stems} stems play {value:+.1f} ms from the click, alike (+ = after it): the click or "
        "all stems",
        cure="Listen to the click with the drums. If it is the click that is off, move the click; if the "
        "band means it, leave it.",
        facts={"stems": len(offsets)},
    )


def _judge(
    stem: StemEvidence, phase: Phase, song: SongEvidence, show: ShowEvidence, limit: Limit
) -> _Judged | None:
    """The stem against the bound that its role and spread ask for; None where it cannot be judged."""
    if phase.onsets < limit["onsets"] or phase.confidence < limit["confidence"]:
        return None
    usual = habit(show, stem.role, without=song.name)
    off_ms = phase.from_others_ms - (usual.usual_ms if usual else 0.0)
    if stem.role in MARKING:
        bound = (limit.value if usual else limit["alone"]) + max(0.0, phase.iqr_ms - STEADY_MS)
    elif usual is None:
        bound = limit["alone_pitched"]
    else:
        least = limit["slow"] if stem.role in SLOW else limit["pitched"]
        bound = max(least, limit.value + phase.iqr_ms)
    if usual is not None:
        bound = max(bound, 3.0 * usual.spread_ms)
    return _Judged(stem=stem, phase=phase, habit=usual, off_ms=off_ms, limit_ms=bound)


def _severity(judged: _Judged, song: SongEvidence, show: ShowEvidence, limit: Limit) -> Severity | None:
    size, marking = abs(judged.off_ms), judged.stem.role in MARKING
    near = limit["near"] if marking else 0.0
    if size <= judged.limit_ms - near or judged.phase.iqr_ms >= size:
        return None
    if len(_agreeing(judged, song, show, limit)) < 2 or not _off_the_click(judged, song, limit):
        return None
    if size <= judged.limit_ms or (judged.habit is None and not marking):
        return Severity.WARNING
    return Severity.ERROR


def _agreeing(judged: _Judged, song: SongEvidence, show: ShowEvidence, limit: Limit) -> list[str]:
    """The other stems that this one lies off from in the same direction, and that agree with each other.

    What the two roles differ by in other songs is allowed for.
    """
    roles = {stem.name: stem.role for stem in song.stems}
    own = judged.habit.usual_ms if judged.habit else 0.0
    distances: dict[str, float] = {}
    for against in judged.phase.against:
        their = habit(show, roles[against.stem], without=song.name)
        distances[against.stem] = against.lag_ms - own + (their.usual_ms if their else 0.0)
    same_way = {
        name: off
        for name, off in distances.items()
        if off * judged.off_ms > 0.0 and abs(off) >= 0.6 * abs(judged.off_ms)
    }
    if len(same_way) < 2 or 2 * len(same_way) <= len(distances):
        return []
    middle = median(same_way.values())
    return [name for name, off in same_way.items() if abs(off - middle) <= limit.value]


def _off_the_click(judged: _Judged, song: SongEvidence, limit: Limit) -> bool:
    """Whether it lies off the click too, in the same direction.

    Where the other stems together lie off the click, the click does not tell which stem is right: the
    others do.
    """
    others = [phase.offset_ms for stem, phase in _placed(song) if stem.name != judged.stem.name]
    band_ms = median(others) if others else 0.0
    if abs(band_ms) > 1.5 * limit.value:
        return True
    usual = judged.habit.usual_ms if judged.habit else 0.0
    off = judged.phase.offset_ms - usual
    return off * judged.off_ms > 0.0 and abs(off) >= 0.6 * abs(judged.off_ms)


def _offset_hit(judged: _Judged, severity: Severity) -> Hit:
    rate_hz = judged.stem.format.sample_rate_hz if judged.stem.format is not None else 48_000
    late = judged.off_ms > 0.0
    farther = (
        "Onsets tell its place within the beat only: listen whether it is off by eighths or beats as well. "
        if abs(judged.off_ms) > 30.0
        else ""
    )
    than = (
        f"from the {judged.stem.role.value} of the show's other songs"
        if judged.habit
        else "from the song's other stems"
    )
    return Hit(
        stem=judged.stem.name,
        value=judged.off_ms,
        limit=round(judged.limit_ms, 1),
        severity=severity,
        confidence=judged.phase.confidence,
        facts={
            "early_late": "late" if late else "early",
            "cure_way": "earlier" if late else "later",
            "size_ms": abs(judged.off_ms),
            "off_ms": judged.off_ms,
            "samples": round(abs(judged.off_ms) * rate_hz / 1000.0),
            "than": than,
            "farther": farther,
            "bound": judged.limit_ms,
            "offset_ms": judged.phase.offset_ms,
            "iqr_ms": judged.phase.iqr_ms,
            "onsets": judged.phase.onsets,
            "others": len(judged.phase.against),
        },
    )


@rule(
    id="drift-from-click",
    family="timing",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=50.0, unit="ppm", more={"slide": 10.0, "near": 40.0, "near_low": 25.0, "onsets": 30}),
    message="slides against the click by {value:+.0f} ppm ({low:.0f} to {high:.0f}, limit {limit:.0f}): "
    "{ms_per_minute:+.1f} ms a minute, {slide_ms:+.0f} ms over the song (+ = later and later)",
    cure="Bounce it again from the session at its own sample rate and tempo; if that session is gone, "
    "stretch the stem by {cure_ppm:+.0f} ppm. Look for a recorder on its own clock or a rate conversion "
    "that was off.",
    means="The stem plays a little too slowly or too fast: its distance from the click grows steadily, by "
    "more than {limit:g} ppm (1 ppm is 0.06 ms a minute) and more than {slide:g} ms over the song.",
    on_stage="In time at bar 1, beside the beat at the last chorus; nothing a fader can mend.",
    measured="A robust line through the distances of the stem's onsets from the song's beat pattern "
    "(audit.measure.slide), from at least {onsets:g} onsets. An error if the lower 95 % bound passes the "
    "limit, both halves slide the same way, and at least two other stems keep to the click; a warning from "
    "{near:g} ppm with a lower bound above {near_low:g}. If all slide alike it is said once: the click or "
    "all stems.",
    source="Own judgement: {limit:g} ppm is what ordinary crystals differ by (common practice ±10 to ±50 ppm "
    "[memory]).",
)
def drift_from_click(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    drifts = [
        (stem, stem.alignment.drift)
        for stem in song.stems
        if stem.alignment is not None and stem.alignment.drift is not None and not stem.silent
    ]
    if not drifts:
        yield NotApplicable(reason="no click, or no stem with onsets enough over 20 s to tell a slope")
        return
    sliding = [(stem, drift) for stem, drift in drifts if _slides(drift, limit)]
    steady = [drift for _, drift in drifts if _keeps(drift, limit)]
    if len(sliding) >= 3 and not steady and _alike([drift for _, drift in sliding]):
        worst = max((drift for _, drift in sliding), key=lambda drift: abs(drift.ppm))
        yield Hit(
            value=worst.ppm,
            severity=Severity.WARNING,
            message="all {stems} stems slide alike against the click, by {value:+.0f} ppm (limit "
            "{limit:.0f}): the click or all stems",
            cure="Bounce the click and the stems again from one session at one sample rate.",
            facts={"stems": len(sliding)},
        )
        return
    for stem, drift in sliding:
        if sum(_tell_apart(other, drift) for other in steady) >= 2:
            yield Hit(
                stem=stem.name,
                value=drift.ppm,
                severity=Severity.ERROR if _nearest_zero(drift) > limit.value else Severity.WARNING,
                facts={
                    "low": drift.low_ppm,
                    "high": drift.high_ppm,
                    "slide_ms": drift.slide_ms,
                    "ms_per_minute": 0.06 * drift.ppm,
                    "cure_ppm": -drift.ppm,
                    "onsets": drift.onsets,
                },
            )


def _nearest_zero(drift: Drift) -> float:
    """The bound that lies nearest to no drift, as a size; 0.0 where the bounds hold zero."""
    if drift.low_ppm <= 0.0 <= drift.high_ppm:
        return 0.0
    return min(abs(drift.low_ppm), abs(drift.high_ppm))


def _slides(drift: Drift, limit: Limit) -> bool:
    steady = all(half * drift.ppm > 0.0 for half in (drift.first_half_ppm, drift.second_half_ppm))
    sure = _nearest_zero(drift) > limit.value or (
        abs(drift.ppm) >= limit["near"] and _nearest_zero(drift) > limit["near_low"]
    )
    return sure and steady and abs(drift.slide_ms) > limit["slide"] and drift.onsets >= limit["onsets"]


def _keeps(drift: Drift, limit: Limit) -> bool:
    return (
        not _slides(drift, limit)
        and min(abs(drift.low_ppm), abs(drift.high_ppm), abs(drift.ppm)) < limit.value
    )


def _tell_apart(other: Drift, drift: Drift) -> bool:
    """Whether the other stem's bounds leave out this one's slope."""
    return not other.low_ppm <= drift.ppm <= other.high_ppm


def _alike(drifts: list[Drift]) -> bool:
    middle = median(drift.ppm for drift in drifts)
    return all(abs(drift.ppm - middle) <= max(20.0, 0.2 * abs(middle)) for drift in drifts)


@rule(
    id="wrong-rate-header",
    family="format",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=30, unit="onsets"),
    message="its onsets meet the song's others only after their times are multiplied by {ratio:.4f} "
    "({fit:.0f} % then, {as_is:.0f} % as it is): {kind}",
    cure="Put the right rate into the header (no conversion), then convert it properly to the show's rate; "
    "or bounce it again.",
    means="The file's header claims another sample rate than its audio was made at: it plays at the wrong "
    "speed and pitch. Judged from {limit:g} onsets on.",
    on_stage="The stem runs away from the click from the first bar, a semitone and more out of tune.",
    measured="Onsets laid against the click and the other stems at 160/147, 2, 320/147 and their inverses "
    "(audit.measure.alignment).",
    source="The ratios of 44.1, 48, 88.2 and 96 kHz; how sure it has to be: own measurement.",
)
def wrong_rate_header(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if all(stem.alignment is None for stem in song.stems):
        yield NotApplicable(reason="no click to tell by")
        return
    for stem in song.stems:
        wrong = stem.alignment.wrong_rate if stem.alignment is not None else None
        if wrong is not None and wrong.onsets >= limit.value:
            yield Hit(
                stem=stem.name,
                value=float(wrong.onsets),
                facts={
                    "ratio": wrong.ratio,
                    "fit": 100.0 * wrong.fit,
                    "as_is": 100.0 * wrong.fit_as_is,
                    "kind": RATIOS.get(wrong.ratio, "another sample rate"),
                },
            )


RULES = (offset_from_click, drift_from_click, wrong_rate_header)
