"""Stems that lack whole bars somewhere: shorter by them, and ending as much before the others.

bars_gone(song, show, music, common_s, told, ...) -> hits of length-mismatch
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.rules.arrangement import follows_another_arrangement
from audit.rules.bars import bars_of, beat_s
from audit.rules.endings import Ending
from audit.rules.first_and_last import ends_early
from audit.rules.parts import listed
from audit.rules.rule import Hit

WHOLE_BARS_S = 0.01
"""A file that was bounced over fewer bars is as near to whole ones."""


def bars_gone(
    song: SongEvidence,
    show: ShowEvidence,
    music: Sequence[Ending],
    common_s: float,
    told: Collection[str | None],
    near: float,
) -> Iterator[Hit]:
    """Stems whose files are whole bars shorter and whose last stroke comes as much before the others', though
    they begin with them: no trimmed silence. What stale-arrangement places is left to it.

    common_s: the length that most share; near: part of a beat that two strokes of one place lie within.
    """
    beat = beat_s(song.click)
    for ending in music:
        short_s = common_s - ending.end_s
        span = bars_of(short_s, song.click, WHOLE_BARS_S) if short_s > 0.0 else None
        if beat is None or span is None or ending.stem.name in told:
            continue
        met = ends_early(ending.stem, song, round(short_s / beat), near)
        if met is None or follows_another_arrangement(song, ending.stem, show):
            continue
        starting, last = met
        yield Hit(
            stem=ending.stem.name,
            value=1000.0 * short_s,
            at_s=ending.end_s,
            message="{span} shorter than the others ({early_s:.3f} s), and its last stroke comes as much "
            "before those of {last}, though it begins with {starting}: somewhere it lacks {span}; limit "
            "{limit:g} ms",
            cure="Bounce it again from the current version, from bar 1 to the end of the last tail.",
            again="from the current version, as long as the others",
            facts={
                "span": span,
                "early_s": short_s,
                "last": listed(last, 3),
                "starting": listed(starting, 3),
                "others_end_s": common_s,
            },
        )
