"""The night's set list at a glance: what comes when, what is missing; and what the next song may bring."""

from __future__ import annotations

import math

from audit.findings import ShowAudit, Verdict
from audit.report.neighbour_words import put_next
from audit.report.page import Cell, Page, right
from audit.report.verdict import song_verdict
from audit.report.words import listed, signed, span
from audit.rules.setlist import in_no_set, lengths_of, time_of_day
from audit.settings.order import RunningOrder
from audit.units import clock, count

SHORT_S = 600.0
"""A set shorter than this is told to the second: a minute more or less is much of it."""

MOST_NAMES = 8
"""Songs told by name in the last line without --verbose."""


def put_set(page: Page, audit: ShowAudit, *, verbose: bool) -> None:
    """The set list, where the scan was for one; what changes from song to song, in it and in any order."""
    order = audit.evidence.order
    if order is not None:
        _put_order(page, audit, order, verbose)
    put_next(page, audit)


def _put_order(page: Page, audit: ShowAudit, order: RunningOrder, verbose: bool) -> None:
    page.blank()
    lengths = lengths_of(audit.evidence)
    loudness = {
        song.evidence.name: song.evidence.mix.loudness.integrated_lufs
        for song in audit.songs
        if song.evidence.mix is not None
    }
    begins = right(["Begins", *_begins(order, lengths)])
    lasts = right(
        ["Length", *(clock(lengths[p.song], millis=False) if p.song else "–" for p in order.places)]
    )
    levels = right(["LUFS", *(_level(loudness.get(p.song or "")) for p in order.places)])
    verdicts = {
        song.evidence.name: Cell(
            words=song_verdict(audit, song),
            style="bold red" if audit.verdict(song) is Verdict.ERROR else "",
        )
        for song in audit.songs
    }
    rows = [
        [
            Cell(words=begins[line]),
            Cell(words=place.song or place.name),
            Cell(words=lasts[line]),
            Cell(words=levels[line]),
            verdicts.get(place.song or "", Cell(words="not on disk", style="bold red")),
        ]
        for line, place in enumerate(order.places, start=1)
    ]
    header = [begins[0], f"Set list {order.set_list.name}", lasts[0], levels[0], "Verdict"]
    page.table(header, rows, shrink=(1,))
    for words in _said(audit, order, lengths, verbose):
        page.put(words, indent=2)


def _begins(order: RunningOrder, lengths: dict[str, float]) -> list[str]:
    """Times of day where the set list says when it starts, else times after the start."""
    starts = order.set_list.starts
    after = order.begins_s(lengths)
    if starts is None:
        return [clock(seconds, millis=False) for seconds in after]
    return [time_of_day(60.0 * starts + seconds) for seconds in after]


def _level(lufs: float | None) -> str:
    return "–" if lufs is None else signed(lufs)


def _rounded_up(total_s: float) -> str:
    """Whole minutes of a set; a short one to the second, as the sheet says it."""
    if total_s < SHORT_S:
        return clock(total_s, millis=False)
    return span(60.0 * math.ceil(round(total_s, 3) / 60.0))


def _said(audit: ShowAudit, order: RunningOrder, lengths: dict[str, float], verbose: bool) -> list[str]:
    show = audit.evidence
    halves = len(order.set_list.halves)
    total_s = order.length_s(lengths)
    words = f"{count(len(order.places), 'song')}"
    words += f" in {count(halves, 'part')}" if halves > 1 else ""
    unknown = order.without_length(lengths)
    words += f", at least {clock(total_s, millis=False)}" if unknown else f", {_rounded_up(total_s)}"
    between = order.set_list.changeover_s or (halves > 1 and order.set_list.interval_s)
    words += " with changeovers" if between else ""
    if unknown:
        words += f" ({count(unknown, 'song')} of unknown length not counted)"
    if order.set_list.starts is not None:
        over = time_of_day(60.0 * order.set_list.starts + total_s, up=True)
        words += f", over at {over}{' at the earliest' if unknown else ''}"
    if order.set_list.ends is not None:
        words += f", must be over at {time_of_day(60.0 * order.set_list.ends)}"
    lines = [words + "."]
    if order.headings:
        told = [
            f"“{entry.name}”" + (f" (line {entry.line})" if entry.line else "") for entry in order.headings
        ]
        lines.append(f"Taken for {'headings' if len(told) > 1 else 'a heading'}: {listed(told)}.")
    spare = in_no_set(show, [order, *show.orders])
    if spare:
        some = (
            spare
            if verbose or len(spare) <= MOST_NAMES
            else (*spare[:MOST_NAMES], f"{len(spare) - MOST_NAMES} more")
        )
        lines.append(f"On disk and in no set list: {listed(some)}.")
    return lines
