"""What the next song may bring, in words and as JSON: in the order of the set list, and in any order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from audit.findings import ShowAudit
from audit.report.page import Page
from audit.report.words import span
from audit.rules.neighbours import ClockChanges, Neighbours, Opening, Step, Worst, neighbours
from audit.rules.setlist import loudness_step
from audit.rules.timecode_ranges import Nearest
from audit.settings.model import ShowSettings
from audit.units import count, khz

HEADING = "From one song to the next"

LEAST_STEP_LU = 0.05
"""Less is shown as 0.0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextLine:
    """One of the things that change from song to song. `in_order`: empty without a set list, or where that
    holds nothing of the kind."""

    what: str
    in_order: str
    any_order: str


NEAR_S = 60.0
"""Numbers that lie farther apart than this concern nobody."""


def next_lines(audit: ShowAudit) -> list[NextLine]:
    """What there is to be told of; empty for a single song and where only some were scanned."""
    found = neighbours(audit.evidence)
    return [] if found is None else _lines(found)


def put_next(page: Page, audit: ShowAudit) -> None:
    """A line or two for each, under a heading that says which orders are meant."""
    lines = next_lines(audit)
    if not lines:
        return
    page.blank()
    listed = any(line.in_order for line in lines)
    page.put((HEADING, "bold"), ("" if listed else ", in whatever order", "dim"))
    hang = max(len(line.what) for line in lines) + 2
    for line in lines:
        label = line.what
        if line.in_order:
            page.put(f"in this order: {line.in_order}", label=label, indent=2, hang=hang)
            label = ""
        said = f"in any order: {line.any_order}" if listed else line.any_order
        page.put(said, label=label, indent=2, hang=hang)


def _lines(found: Neighbours) -> list[NextLine]:
    order, anyhow = found.in_order, found.any_order
    lines = []
    if anyhow.loudness is not None and anyhow.loudness.by_lu >= LEAST_STEP_LU:
        said = "" if order is None else _listed_step(order.loudness)
        lines.append(NextLine(what="loudness", in_order=said, any_order=_step(anyhow.loudness)))
    if anyhow.clock is not None:
        said = "" if order is None else _listed_clock(order.clock)
        lines.append(NextLine(what="clock", in_order=said, any_order=_clock(anyhow.clock, found)))
    if anyhow.timecode is not None and anyhow.timecode.gap_s < NEAR_S:
        said = "" if order is None or order.timecode is None else _code(order.timecode)
        lines.append(NextLine(what="timecode", in_order=said, any_order=_code(anyhow.timecode)))
    if anyhow.openings:
        said = "" if order is None else _openings(order.openings)
        lines.append(NextLine(what="opening", in_order=said, any_order=_openings(anyhow.openings)))
    return lines


def _step(step: Step) -> str:
    return f"{step.by_lu:.1f} LU louder from {step.songs[0]} to {step.songs[1]}"


def _listed_step(step: Step | None) -> str:
    if step is None:
        return ""
    louder = "louder" if step.by_lu >= 0 else "quieter"
    return f"{abs(step.by_lu):.1f} LU {louder} from {step.songs[0]} to {step.songs[1]}"


def _clock(clock: ClockChanges, found: Neighbours) -> str:
    camps = ", ".join(f"{khz(rate)} in {count(songs, 'song')}" for rate, songs in found.rates)
    return f"{camps}: up to {count(clock.times, 'change')}, such as from {_two_rates(clock)}"


def _listed_clock(clock: ClockChanges | None) -> str:
    if clock is None:
        return "no change"
    return f"{count(clock.times, 'change')}, {'' if clock.times == 1 else 'first '}from {_two_rates(clock)}"


def _two_rates(clock: ClockChanges) -> str:
    (one, two), (before, after) = clock.songs, clock.rates_hz
    return f"{one} ({khz(before)}) to {two} ({khz(after)})"


def _code(near: Nearest) -> str:
    one, two = near.songs
    if near.gap_s >= NEAR_S:
        return "no two near each other"
    if near.gap_s < 0:
        return f"{one} and {two} share {_lasting(-near.gap_s)} of numbers"
    if near.gap_s == 0:
        return f"{two} begins with the number after {one}'s last, {near.ends}"
    return f"{one} and {two} lie {_lasting(near.gap_s)} apart, {near.ends} and {near.begins}"


def _lasting(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds < 10 else span(seconds)


def _openings(openings: tuple[Opening, ...]) -> str:
    return "; ".join(f"{one.song} in {seconds(one)} on {one.machine}" for one in openings)


def seconds(opening: Opening) -> str:
    """How long it takes, and how long it may."""
    used, limit = opening.use.used.value, opening.use.limit
    return f"{used:.1f} s of {limit:.1f} s" if used >= 0.1 else f"less than 0.1 s of {limit:.1f} s"


def heavy_words(found: Neighbours, settings: ShowSettings, called: Callable[[str], str]) -> list[str]:
    """Only what a person at the machine has to be ready for, in few words. called: what a song is called."""
    worst, words = found.any_order, []
    if worst.loudness is not None and worst.loudness.by_lu > step_limit(settings):
        one, two = map(called, worst.loudness.songs)
        words.append(f"{worst.loudness.by_lu:.1f} LU louder from {one} to {two}")
    if worst.clock is not None:
        words.append(f"clock {' and '.join(khz(rate) for rate, _ in found.rates)}")
    if worst.timecode is not None and worst.timecode.gap_s < 0:
        words.append("timecode of {} and {} overlaps".format(*map(called, worst.timecode.songs)))
    words += [
        f"{called(one.song)} opens in {seconds(one)} on {one.machine}"
        for one in worst.openings
        if not one.fits
    ]
    return words


def step_limit(settings: ShowSettings) -> float:
    """From which step in loudness on it is worth a word, in LU."""
    asked = settings.limits.get(loudness_step.id)
    own = loudness_step.limit.value if loudness_step.limit else 0.0
    return own if asked is None or asked.value is None else asked.value


def neighbours_json(audit: ShowAudit) -> dict[str, Any] | None:
    """None for a single song and where only some were scanned."""
    found = neighbours(audit.evidence)
    if found is None:
        return None
    return {
        "in_order": None if found.in_order is None else _worst_json(found.in_order),
        "any_order": _worst_json(found.any_order),
        "rates": [{"sample_rate_hz": rate, "songs": songs} for rate, songs in found.rates],
    }


def _worst_json(worst: Worst) -> dict[str, Any]:
    step, clock, code = worst.loudness, worst.clock, worst.timecode
    return {
        "loudness_step": None if step is None else {"songs": step.songs, "lu": step.by_lu},
        "clock_change": None
        if clock is None
        else {"songs": clock.songs, "rates_hz": clock.rates_hz, "times": clock.times},
        "timecode": None
        if code is None
        else {
            "songs": code.songs,
            "gap_s": code.gap_s,
            "overlaps": code.gap_s < 0,
            "ends": code.ends,
            "begins": code.begins,
        },
        "opening": [
            {
                "machine": one.machine,
                "song": one.song,
                "seconds": one.use.used.value,
                "low": one.use.used.low,
                "high": one.use.used.high,
                "limit": one.use.limit,
                "verdict": one.use.fit.value,
            }
            for one in worst.openings
        ],
    }
