"""Rules on the set list: songs that are not there, steps between neighbours, more music than time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence
from audit.findings import Severity
from audit.rules.neighbours import steps_between, worst_step
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.settings.order import RunningOrder, SetPlace
from audit.units import count

NO_SET = NotApplicable(reason="no set list was chosen")


@rule(
    id="set-list-missing",
    family="show",
    severity=Severity.ERROR,
    scope="show",
    message="“{name}” stands in the set list “{set}”{line}, and no song here has that name{near}",
    cure="Copy the song's folder to this disk; or correct the name, or add it to the song's aliases in "
    "the settings. Where the line is no song, put a # before it.",
    again=None,
    means="A song of the set list is not on disk. A warning where its name in the list is that of several "
    "songs.",
    on_stage="The band counts in, and there is nothing to play.",
    measured="The names in the set list against the songs' folders, with and without their number, and their "
    "aliases in the settings; letter case and what stands between words make no difference. Every set list "
    "of the settings is asked where none was chosen.",
    source="common practice",
)
def set_list_missing(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    orders = [show.order] if show.order is not None else list(show.orders)
    if not orders:
        yield NO_SET
        return
    for order in orders:
        told: set[str] = set()
        for place in order.places:
            if place.name in told or (place.song is not None and not place.several):
                continue
            told.add(place.name)
            where = f"{order.set_list.source}, line {place.line}" if place.line else order.set_list.source
            if place.several:
                yield _of_several(order, place, where)
                continue
            yield Hit(
                cure=_CORRECT if place.near else None,
                facts={
                    "name": place.name,
                    "set": order.set_list.name,
                    "line": f" ({where})",
                    "near": f"; did it mean “{place.near}”?" if place.near else "",
                    "nearest": place.near,
                },
            )


_CORRECT = (
    "Correct the name in the set list, or add it to the song's aliases in the settings. If it is another "
    "song, copy its folder to this disk; if it is none, put a # before the line."
)


def _of_several(order: RunningOrder, place: SetPlace, where: str) -> Hit:
    return Hit(
        songs=place.several,
        severity=Severity.WARNING,
        message="“{name}” in the set list “{set}”{line} can be {songs}: the first of them is taken",
        cure="Write the song's full name into the set list, with its number.",
        facts={
            "name": place.name,
            "set": order.set_list.name,
            "line": f" ({where})",
            "songs": " or ".join(f"“{song}”" for song in place.several),
            "near": "",
            "nearest": None,
        },
    )


@rule(
    id="loudness-step",
    family="show",
    severity=Severity.NOTE,
    scope="show",
    needs=("audio",),
    limit=Limit(value=6.0, unit="LU"),
    message="{two} follows {one} and is {by:.1f} LU {direction} (limit {limit:.1f} LU){more}; in any order "
    "of the show's songs the largest step is {worst:.1f} LU, from {softest} to {loudest}",
    cure="If the songs are meant so, give them a loudness of their own in the settings; else bring the "
    "stems of one "
    "of them to the other's, all by the same amount.",
    again=None,
    means="Two neighbours of the set list differ in loudness by more than {limit:g} LU.",
    on_stage="The sound engineer has to catch the playback at every such start, and the ears notice first.",
    measured="Integrated loudness of each song's mix, less the difference that the settings ask for; "
    "between songs "
    "that follow each other in the list, not over an interval. As the artist may call any song next, the "
    "largest step of any order of all songs on the disk is told beside it.",
    source="ITU-R BS.1770-5 (the measure); limit: own judgement",
)
def loudness_step(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if show.order is None:
        yield NO_SET
        return
    steps = steps_between(show, show.order.neighbours)
    large = [step for step in steps if abs(step.by_lu) > limit.value]
    worst = worst_step(show)
    if not large or worst is None:
        return
    large.sort(key=lambda step: -abs(step.by_lu))
    first = large[0]
    yield Hit(
        songs=tuple(dict.fromkeys(name for step in large for name in step.songs)),
        value=first.by_lu,
        facts={
            "one": first.songs[0],
            "two": first.songs[1],
            "by": abs(first.by_lu),
            "direction": "louder" if first.by_lu > 0 else "quieter",
            "more": f", and so {'does' if len(large) == 2 else 'do'} {count(len(large) - 1, 'other pair')}"
            if len(large) > 1
            else "",
            "pairs": tuple((*step.songs, step.by_lu) for step in large),
            "worst": worst.by_lu,
            "softest": worst.songs[0],
            "loudest": worst.songs[1],
        },
    )


@rule(
    id="set-overruns",
    family="show",
    severity=Severity.WARNING,
    scope="show",
    limit=Limit(value=0.0, unit="min"),
    message="“{set}” needs {needs}, from {starts} to {ends} there are {has}: {value:.0f} min too long{least}",
    cure="Take a song out, shorten changeovers, or agree on a later end.",
    again=None,
    means="The songs of the set list, with its changeovers and intervals, take more than {limit:g} min "
    "longer than "
    "there is time from its start to its end.",
    on_stage="The last songs are cut by a curfew, or the night costs a fine.",
    measured="The length of each song's longest stem, the changeovers and intervals of the settings. "
    "Songs that are not on disk count nothing, so it is the least that the list needs.",
    source="common practice",
)
def set_overruns(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    order = show.order
    if order is None or order.time_s is None:
        yield NotApplicable(reason="no set list with a start and an end was chosen")
        return
    length_s = order.length_s(lengths_of(show))
    over_min = round(length_s - order.time_s, 3) / 60.0
    if over_min > limit.value:
        yield Hit(
            value=float(math.ceil(over_min)),
            facts={
                "set": order.set_list.name,
                "needs": _minutes(length_s),
                "has": _minutes(order.time_s),
                "starts": time_of_day(60 * (order.set_list.starts or 0)),
                "ends": time_of_day(60 * (order.set_list.ends or 0)),
                "length_s": length_s,
                "missing": len(order.missing),
                "least": _without(order.without_length(lengths_of(show))),
            },
        )


def _without(songs: int) -> str:
    return f", and {count(songs, 'song')} of unknown length not counted" if songs else ""


def lengths_of(show: ShowEvidence) -> dict[str, float]:
    """Each song's length in seconds, by name."""
    return {song.name: song.duration_s for song in show.songs}


def time_of_day(seconds: float, *, up: bool = False) -> str:
    """`20:30`; past midnight it begins again. A part of a minute is left out, or counts as a whole one where
    `up`: something that ends at 20:30:01 is not over at 20:30."""
    exact = round(seconds, 3)  # sums of lengths are off by a hair
    minutes = (math.ceil(exact / 60) if up else int(exact // 60)) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _minutes(seconds: float) -> str:
    hours, minutes = divmod(math.ceil(round(seconds, 3) / 60), 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def in_no_set(show: ShowEvidence, orders: Sequence[RunningOrder]) -> tuple[str, ...]:
    """The songs on the disk that none of these set lists names."""
    named = {song for order in orders for song in order.songs}
    return tuple(song.name for song in show.songs if song.name not in named)


RULES = (set_list_missing, set_overruns, loudness_step)
