"""Stems that lie a quarter of a beat or more off by their chords and strokes together, while their strokes
alone fit where they stand.

    far_off(every, song, show, told_ms) -> the stems that are, each with how far
    far_hit(far)                        -> how that is told
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Phase
from audit.rules.beat_habits import ALIKE, STRUCK
from audit.rules.half_beats import by_chords_and_strokes
from audit.rules.harmony_place import Lies, by_both
from audit.rules.parts import listed
from audit.rules.phases import MARKING
from audit.rules.rule import Hit

LEAST_MS, LEAST_BEATS, MOST_BEATS, SPREADS = 60.0, 0.15, 0.7, 2.0
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
class Asked:
    """A stem of which nothing is said by its strokes alone."""

    stem: StemEvidence
    phase: Phase
    past_ms: float  # its role's place, as its strokes say it within the beat
    lies: Lies | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Far:
    asked: Asked
    lies: Lies
    off_ms: float
    least_ms: float


def far_off(
    every: Sequence[Asked], song: SongEvidence, show: ShowEvidence, told_ms: Mapping[str, float]
) -> list[Far]:
    """told_ms: what other stems are told to be off by. One that is late makes those that it is laid against
    look early: those that most others speak against come first, and nobody is told to be off the other way.
    What may be meant so is not told."""
    found = [far for asked in every if (far := _far(asked)) is not None]
    ways = dict(told_ms)
    told = []
    for far in sorted(found, key=lambda far: (-len(far.lies.saying_so) / _others(far, song), -far.lies.fit)):
        if all(off_ms * far.off_ms > 0.0 for off_ms in ways.values()):
            ways[far.asked.stem.name] = far.off_ms
            if not _may_be_meant(far, song, show):
                told.append(far)
    return [far for asked in every for far in told if far.asked is asked]


def _is_sure(lies: Lies) -> bool:
    """Whether many more of the song's stems say that it lies beside its usual place than that it does not."""
    return len(lies.saying_so) > MANY_TO_ONE * lies.as_usual


def _others(far: Far, song: SongEvidence) -> int:
    return sum(one.role not in MARKING and one.name != far.asked.stem.name for one in song.stems)


def _far(asked: Asked) -> Far | None:
    lies = asked.lies
    if lies is None or asked.stem.role not in TOLD or not _is_sure(lies) or lies.beat_ms < SHORTEST_BEAT_MS:
        return None
    off_ms = by_both(asked.phase, asked.past_ms, lies, surely=SURELY)
    least_ms = max(LEAST_MS, LEAST_BEATS * lies.beat_ms, SPREADS * lies.spread_ms)
    if off_ms is None or off_ms == asked.past_ms or not least_ms <= abs(off_ms) <= MOST_BEATS * lies.beat_ms:
        return None
    # Who lies with the band is not off, wherever its like lies in other songs.
    beside = (
        abs(lies.beside_ms) >= max(LEAST_MS, LEAST_BEATS * lies.beat_ms) and lies.beside_ms * off_ms > 0.0
    )
    return Far(asked=asked, lies=lies, off_ms=off_ms, least_ms=least_ms) if beside else None


def _may_be_meant(far: Far, song: SongEvidence, show: ShowEvidence) -> bool:
    """Whether it chops between the beats, or may: such chords lie half a beat late wherever they stand. Or it
    may be another's echo."""
    stem, on_beat = far.asked.stem, far.asked.phase.on_beat
    chops = stem.role in ALIKE and on_beat is not None and on_beat <= CHOPS
    both_ms = by_chords_and_strokes(stem, song, show, far.asked.past_ms, far.lies)
    return far.lies.another_there or chops or both_ms is None


def far_hit(far: Far) -> Hit:
    stem, off_ms, witnesses = far.asked.stem, far.off_ms, far.lies.saying_so
    rate_hz = stem.format.sample_rate_hz if stem.format is not None else 48_000
    late = off_ms > 0.0
    return Hit(
        stem=stem.name,
        value=off_ms,
        limit=round(far.least_ms, 1),
        severity=Severity.WARNING,
        confidence=0.7,
        message="{early_late} by about {size_ms:.0f} ms ({samples} samples, {beats:.2f} beat): moved by that "
        "its chords and its notes go with {with_them}; as it stands only its notes do (limit {limit:g} "
        "ms)",
        cure="Listen to it with {first}. If it is off, move it {samples} samples ({size_ms:.0f} ms) "
        "{cure_way}, or bounce it again from bar 1 of the current version.",
        again="about {size_ms:.0f} ms {cure_way} ({samples} samples), from bar 1 of the current version",
        facts={
            "early_late": "late" if late else "early",
            "cure_way": "earlier" if late else "later",
            "size_ms": abs(off_ms),
            "beats": abs(off_ms) / far.lies.beat_ms,
            "samples": round(abs(off_ms) * rate_hz / 1000.0),
            "with_them": listed(witnesses, 4),
            "first": witnesses[0],
            "offset_ms": far.asked.phase.offset_ms,
            "off_ms": far.asked.past_ms,
            "agreeing": witnesses,
            "places_ms": (off_ms,),
            "told_by": "harmony",
        },
    )
