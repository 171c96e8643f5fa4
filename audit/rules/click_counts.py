"""What is said of a click that counts on from another beat, while the song's stems stay in their bars.

beats_too_many(song, click) -> Hits     a beat was doubled
beats_too_few(song, click)  -> Hits     a beat was cut out
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import SongEvidence
from audit.results import ClickMiscount, ClickTrack
from audit.rules.bars import click_sample
from audit.rules.parts import listed
from audit.rules.rule import Hit
from audit.units import clock, count

FEWEST = 1.0
"""One beat too many is enough to turn every bar after it; how many too few are told, settings say."""


def beats_too_many(song: SongEvidence, click: ClickTrack) -> Iterator[Hit]:
    return (_miscount(song, one, FEWEST) for one in click.miscounts if one.beats > 0)


def beats_too_few(song: SongEvidence, click: ClickTrack, fewest: float) -> Iterator[Hit]:
    return (_miscount(song, one, fewest) for one in click.miscounts if one.beats <= -fewest)


def _miscount(song: SongEvidence, one: ClickMiscount, limit: float) -> Hit:
    many = one.beats > 0
    off = count(abs(one.beats), "beat")
    return Hit(
        stem=song.click_stem,
        value=float(abs(one.beats)),
        unit="beat",
        limit=limit,
        at_s=one.at_s,
        sample=click_sample(song, one.at_s),
        message="its bar at {place} has {off} too {side}, and from {next_bar} on its accents come {off} "
        "{way}, while {stems} go on in bars of {bar} ({listed})",
        cure="In the session, {mend} of the click's bar at {place}, and bounce the click again. If the "
        "song is meant to turn there, it is these stems that need it: bounce them from the current version.",
        again="with {bar} beats in the bar at {place}",
        facts={
            "place": clock(one.at_s),
            "next_bar": clock(one.next_bar_s),
            "off": off,
            "side": "many" if many else "few",
            "way": "later" if many else "earlier",
            "mend": f"take {off} out" if many else f"put back the {off}",
            "beats": one.beats,
            "bar": one.bar,
            "stems": count(len(one.kept), "stem"),
            "listed": listed(one.kept, 4),
            "stems_on_old_bars": one.kept,
        },
    )
