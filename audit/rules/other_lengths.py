"""Stems of another length than their song's of which nothing worse is known: one note a song.

other_lengths(song, show, everyone, common_s, spoken, limit) -> hits of length-mismatch
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ClickTrack
from audit.rules.bars import span
from audit.rules.by_length import begins_beside
from audit.rules.endings import Ending
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit
from audit.rules.shifted import off_by_beats
from audit.units import clock


def other_lengths(
    song: SongEvidence,
    show: ShowEvidence,
    everyone: Sequence[Ending],
    common: float,
    spoken: set[str | None],
    limit: Limit,
) -> Iterator[Hit]:
    """Everything else that differs, in one note: trimmed silence, tails, click and timecode.

    Of the ends it is known that none breaks off; a start that was cut off makes a file shorter just so, and
    the stem early. A click that stops before the music may be meant so; the note calls neither harmless.
    """
    odd = [
        ending
        for ending in everyone
        if abs(ending.end_s - common) > limit.value / 1000.0
        and ending.stem.name not in spoken
        and not off_by_beats(ending.stem, song, show)
        and ending.stem.name not in begins_beside(show, song.name)
    ]
    if not odd:
        return
    widest = max(odd, key=lambda ending: abs(ending.end_s - common))
    last_s = max(ending.last_sound_s for ending in everyone if ending.stem.audience)
    early = [ending for ending in odd if not ending.stem.audience and ending.last_sound_s < last_s]
    early = [ending for ending in early if ending.end_s < common]
    names = listed([ending.stem.name for ending in early], 4)
    yield Hit(
        stem=odd[0].stem.name if len(odd) == 1 else None,
        severity=Severity.NOTE,
        value=1000.0 * abs(widest.end_s - common),
        message="other lengths than the song's {length}: {listed}{early}; limit {limit:g} ms",
        cure=_STOPS_EARLY if early else _ONLY_LENGTHS,
        facts={
            "early": f". The music goes on after {names} has stopped" if early else _ENDS_ALONE,
            "early_files": names,
            "length": clock(common),
            "listed": listed(
                [f"{ending.stem.name} {_difference(ending.end_s - common, song.click)}" for ending in odd], 4
            ),
            "files": tuple(ending.stem.name for ending in odd),
            "differences_s": tuple(ending.end_s - common for ending in odd),
        },
    )


_ENDS_ALONE = (
    ". No end breaks off while others play on; whether a start was cut off, or silence put before it, "
    "lengths alone do not tell"
)
_ONLY_LENGTHS = (
    "Listen to their first bars with the click. If they are in time, nothing is to be done; if they come "
    "early or late, bounce them again from bar 1. Bouncing all over one range makes the next mistake "
    "easier to see."
)
_STOPS_EARLY = (
    "Check that {early_files} is meant to stop before the music does; if not, bounce it again over the whole "
    "song."
)


def _difference(seconds: float, click: ClickTrack | None) -> str:
    return f"{span(abs(seconds), click)} {'longer' if seconds > 0 else 'shorter'}"
