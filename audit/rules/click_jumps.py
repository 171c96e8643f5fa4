"""What is said of a click that goes on beside its old beats.

moved_click(song, click, least_ms) -> Hits     the song's stems keep to the old beats: the click is off
other_grids(click)                 -> words    the music waits with it, or does not tell: where, how far
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import SongEvidence
from audit.findings import Severity
from audit.results import ClickJump, ClickTrack
from audit.rules.bars import click_sample
from audit.rules.parts import listed
from audit.rules.rule import Hit
from audit.units import clock, count, duration, grouped

SURE_STEMS = 3
"""So many stems that keep to the old beats leave no doubt which of them is off."""

PAUSE_BEATS = 1.25
"""From this step on the click is heard to wait; who goes along with a smaller one plays a tempo map."""

WHOLE = 0.03
"""Jumps this near to whole beats leave the beats where they were."""

OFTEN, SAME_S = 3, 0.005
"""The same jump three times is how the song is counted, bars of seven eighths among others; and places as
many as those are told."""

MOST_PLACES = 6

OR_BEFORE = " If the song feels right there and not before, move what lies before it instead, the other way."


def moved_click(song: SongEvidence, click: ClickTrack, least_ms: float) -> Iterator[Hit]:
    """A hit for each stretch of the click that lies beside the beats which the stems keep to."""
    alone = [jump for jump in click.jumps if jump.click_alone]
    off_s = 0.0
    for number, jump in enumerate(alone):
        off_s += jump.by_s
        if 1000.0 * abs(off_s) < least_ms:
            continue  # back where it was
        until = alone[number + 1].last_s if number + 1 < len(alone) else None
        yield _moved(song, jump, off_s, until, least_ms)


def _moved(song: SongEvidence, jump: ClickJump, off_s: float, until_s: float | None, least_ms: float) -> Hit:
    size_ms, late = 1000.0 * abs(off_s), off_s > 0.0
    rate = click_sample(song, 1.0)
    beats = abs(off_s) / jump.beat_s
    size = duration(round(size_ms))
    whole = beats > 0.5 and abs(beats - round(beats)) <= WHOLE
    words = f"{count(round(beats), 'beat')} ({size})" if whole else size
    samples = "" if rate is None else f" ({grouped(abs(off_s) * rate)} samples)"
    return Hit(
        stem=song.click_stem,
        value=1000.0 * off_s,
        unit="ms",
        limit=least_ms,
        at_s=jump.at_s,
        sample=click_sample(song, jump.at_s),
        severity=None if len(jump.kept) >= SURE_STEMS else Severity.WARNING,
        message="{where} the click comes {by} {side} than before, and {stems} {go} on in the old beats "
        "({listed}); limit {limit:g} ms",
        cure="In the session, move everything in the click {where} {cure_way} by {size}{samples}, and "
        "bounce it again.{or_before}",
        again="with all {where} {cure_way} by {size}{samples}",
        facts={
            "where": f"from {clock(jump.at_s)} {'on' if until_s is None else f'to {clock(until_s)}'}",
            "by": words,
            "size": size,
            "or_before": OR_BEFORE if until_s is None else "",
            "size_ms": size_ms,
            "samples": samples,
            "side": "later" if late else "earlier",
            "cure_way": "earlier" if late else "later",
            "stems": count(len(jump.kept), "stem"),
            "go": "goes" if len(jump.kept) == 1 else "go",
            "listed": listed(jump.kept, 4),
            "stems_on_old_beats": jump.kept,
        },
    )


def other_grids(click: ClickTrack) -> list[tuple[float, str]]:
    """Where the click goes on beside its old beats, and the music may go with it: places and words. Nothing
    where it does so all the time."""
    open_jumps = [jump for jump in click.jumps if not jump.click_alone and _is_told(jump)]
    told = [
        jump for jump in open_jumps if sum(abs(jump.by_s - one.by_s) <= SAME_S for one in open_jumps) < OFTEN
    ]
    if len(told) > MOST_PLACES:
        return []
    return [
        (
            jump.last_s,
            f"from {clock(jump.at_s)} on {duration(round(1000.0 * abs(jump.by_s)))} "
            f"{'later' if jump.by_s > 0.0 else 'earlier'}",
        )
        for jump in told
    ]


def _is_told(jump: ClickJump) -> bool:
    """Whether it leaves its beats, and is heard to wait, or no stem goes with it."""
    beats = jump.by_s / jump.beat_s
    off = abs(beats - round(beats)) > WHOLE
    return off and (1.0 + beats >= PAUSE_BEATS or not jump.went)
