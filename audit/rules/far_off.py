"""Stems that lie a quarter of a beat or more off by their chords and strokes together, while their strokes
alone fit where they stand.

    far_off(asked, song, show, told_ms) -> the stems that are, each with how far
    far_hit(far, limit)                 -> how that is told
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.alignment_words import Judged, why_another_limit
from audit.rules.beat_habits import ALIKE, STRUCK
from audit.rules.half_beats import by_chords_and_strokes
from audit.rules.harmony_place import Lies, by_both
from audit.rules.parts import listed
from audit.rules.phases import MARKING
from audit.rules.rule import Hit, Limit

LEAST_MS, LEAST_BEATS, MOST_BEATS, SPREADS = 60.0, 0.15, 0.7, 3.0
"""What is nearer, strokes tell by themselves; and it has to lie so many times farther than its role's place
is uncertain by."""

SURELY = 5.0
"""Natural logarithm of how much likelier its lag is than the next, where nothing else says that it is off."""

MANY_TO_ONE = 2
"""So many times more other stems say so than say that it lies as usual."""

TOLD = STRUCK - {Role.GUITAR}
"""Guitars answer, push and chop: own measurement, clean ones lie half a beat off too often."""

CHOPS = -0.6
"""Strokes between the beats and hardly any on them."""

SHORTEST_BEAT_MS = 300.0
"""In shorter ones attacks are too large a part of the beat."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Far:
    judged: Judged
    off_ms: float
    lies: Lies
    witnesses: tuple[str, ...]


def far_off(
    asked: Sequence[tuple[Judged, Lies | None]],
    song: SongEvidence,
    show: ShowEvidence,
    told_ms: Mapping[str, float],
) -> list[Far]:
    """asked: stems of which nothing is said, with the place of their harmony; told_ms: what others are told
    to be off by. One that is late makes those that it is laid against look early: those that most others
    speak against come first, and nobody is told to be off the other way. What may be meant so is not told."""
    found = [
        Far(judged=judged, off_ms=off_ms, lies=lies, witnesses=lies.saying_so)
        for judged, lies in asked
        if lies is not None
        and judged.stem.role in TOLD
        and _is_sure(lies)
        and (off_ms := _off_ms(judged, lies)) is not None
    ]
    ways = dict(told_ms)
    told = []
    for far in sorted(found, key=lambda far: (-len(far.witnesses) / _others(far, song), -far.lies.fit)):
        if all(off_ms * far.off_ms > 0.0 for off_ms in ways.values()):
            ways[far.judged.stem.name] = far.off_ms
            if not _may_be_meant(far, song, show):
                told.append(far)
    return [far for judged, _ in asked for far in told if far.judged is judged]


def _is_sure(lies: Lies) -> bool:
    """Whether other songs say what is usual, and many more of the stems here that it lies beside it."""
    return lies.habit_songs > 0 and len(lies.saying_so) > MANY_TO_ONE * lies.as_usual


def _others(far: Far, song: SongEvidence) -> int:
    return sum(one.role not in MARKING and one is not far.judged.stem for one in song.stems)


def _off_ms(judged: Judged, lies: Lies) -> float | None:
    both_ms = by_both(judged.phase, judged.off_ms, lies, surely=SURELY)
    least_ms = max(LEAST_MS, LEAST_BEATS * lies.beat_ms)
    if (
        lies.beat_ms < SHORTEST_BEAT_MS
        or both_ms is None
        or abs(both_ms) < max(least_ms, SPREADS * lies.spread_ms)
    ):
        return None
    # Who lies with the band is not off, wherever its like lies in other songs.
    beside = abs(lies.beside_ms) >= least_ms and lies.beside_ms * both_ms > 0.0
    far = abs(both_ms) <= MOST_BEATS * lies.beat_ms and both_ms != judged.off_ms
    return both_ms if beside and far else None


def _may_be_meant(far: Far, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether it chops between the beats, or may: such chords lie half a beat late wherever they stand. Or it
    may be another's echo."""
    judged, on_beat = far.judged, far.judged.phase.on_beat
    chops = judged.stem.role in ALIKE and on_beat is not None and on_beat <= CHOPS
    return (
        far.lies.another_there
        or chops
        or by_chords_and_strokes(judged.stem, song, show, judged.off_ms, far.lies) is None
    )


def far_hit(far: Far, limit: Limit) -> Hit:
    judged, off_ms = far.judged, far.off_ms
    rate_hz = judged.stem.format.sample_rate_hz if judged.stem.format is not None else 48_000
    late = off_ms > 0.0
    return Hit(
        stem=judged.stem.name,
        value=off_ms,
        limit=round(judged.limit_ms, 1),
        severity=Severity.WARNING,
        confidence=0.7,
        message="{early_late} by about {size_ms:.0f} ms ({samples} samples, {beats:.2f} beat): moved by that "
        "its chords and its notes go with {with_them}; as it stands only its notes do (limit {limit:g} "
        "ms{why})",
        cure="Listen to it with {first}. If it is off, move it {samples} samples ({size_ms:.0f} ms) "
        "{cure_way}, or bounce it again from bar 1 of the current version.",
        again="about {size_ms:.0f} ms {cure_way} ({samples} samples), from bar 1 of the current version",
        facts={
            "early_late": "late" if late else "early",
            "cure_way": "earlier" if late else "later",
            "size_ms": abs(off_ms),
            "beats": abs(off_ms) / far.lies.beat_ms,
            "samples": round(abs(off_ms) * rate_hz / 1000.0),
            "with_them": listed(far.witnesses, 4),
            "first": far.witnesses[0],
            "why": why_another_limit(judged, judged.limit_ms, limit),
            "offset_ms": judged.phase.offset_ms,
            "off_ms": judged.off_ms,
            "agreeing": far.witnesses,
            "places_ms": (off_ms,),
            "told_by": "harmony",
        },
    )
