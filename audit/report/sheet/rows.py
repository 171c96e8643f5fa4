"""The crew sheet's content: a song a line, in the order of the night."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from audit.evidence import SongEvidence
from audit.facts import Role
from audit.findings import Finding, Severity, ShowAudit, SongAudit, Verdict
from audit.report.click_table import click_words
from audit.report.figures import headline_of
from audit.report.first import urgency
from audit.report.load_words import load_words
from audit.report.neighbour_words import heavy_words, step_limit
from audit.report.sheet.foot import clipping, foot, frame_rates, song_titles
from audit.report.words import listed
from audit.rules.neighbours import clock_changes, neighbours, song_rates, steps_between
from audit.rules.setlist import time_of_day
from audit.settings.model import SetEntry, SetList, ShowSettings
from audit.settings.naming import fits_song, fits_stem
from audit.settings.order import RunningOrder, SetPlace, running_order
from audit.units import clock, count, khz

WARNINGS_SHOWN = 3
LONGEST_CLAUSE = 56
NO_CODE, UNREADABLE, NO_CLICK, SILENT_CLICK = "none", "unreadable", "no click", "silent click"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A song, or a break between halves (`interval`)."""

    order: str
    song: str
    length: str = ""
    tempo: str = ""
    count_in: str = ""
    timecode: str = ""
    outputs: str = ""
    load: str = ""
    total: str = ""  # when the song ends: time since the start, or of the day
    warning: str = ""
    bad: bool = False  # do not play it as it is
    unsure: bool = False  # no fault that forbids it, but it was not checked in full
    interval: bool = False

    @property
    def mark(self) -> str:
        """What stands before its number."""
        return "!" if self.bad else "?" if self.unsure else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One night's page."""

    show: str
    name: str  # of the set list; empty where the folder's order is taken
    answer: str
    verdict: str  # large, where songs must not be played as they are: `Not ready: 6 of 8 songs`; else empty
    lines: tuple[SheetLine, ...]
    total: str
    ends: str  # a warning where the set runs past its end; empty where it does not, or nothing is said
    clock_times: bool
    made: str
    foot: str
    other_orders: str  # what to be ready for when another song is called; empty where that is nothing

    @property
    def columns(self) -> tuple[tuple[str, str], ...]:
        """(field, heading) of what at least one song has; order, song and length always."""
        wanted = (
            ("order", ""), ("song", "Song"), ("length", "Length"), ("tempo", "Tempo"),
            ("count_in", "Count-in"), ("timecode", "Timecode"), ("outputs", "Outputs"), ("load", "Load"),
            ("total", "Ends at" if self.clock_times else "Total"),
        )  # fmt: skip
        return tuple(
            (field, heading)
            for field, heading in wanted
            if field in ("order", "song", "length") or any(getattr(line, field) for line in self.lines)
            if field != "timecode" or self.has_timecode
        )

    @property
    def has_timecode(self) -> bool:
        """Whether a song of the night runs on timecode: then one that has none says so."""
        return any(line.timecode not in ("", NO_CODE) for line in self.lines)


def crew_sheet(audit: ShowAudit, *, answer: str, made: str = "") -> Sheet:
    """The songs of the set list that the scan was for, or all of them as the folder orders them."""
    settings, order = audit.evidence.settings, audit.evidence.order or _order_of_folder(audit)
    songs = {song.evidence.name: song for song in audit.songs}
    lengths_s = {name: song.evidence.duration_s for name, song in songs.items()}
    heard = [songs[place.song] for place in order.places if place.song in songs]
    titles = song_titles(audit)
    lines = tuple(_lines(audit, order, songs, titles))
    of_songs = [line for line in lines if not line.interval]
    bad = sum(line.bad for line in of_songs)
    length_s, unknown = order.length_s(lengths_s), order.without_length(lengths_s)
    return Sheet(
        show=settings.name or audit.evidence.show.name,
        name=order.set_list.name,
        answer=answer,
        verdict=f"{answer}: {bad} of {count(len(of_songs), 'song')}" if bad else "",
        lines=lines,
        total=f"{'at least ' if unknown else ''}{clock(length_s, millis=False)}",
        ends=_over_time(order, length_s),
        clock_times=order.set_list.starts is not None,
        made=made,
        foot=foot(
            {line.mark for line in of_songs},
            order.set_list,
            unknown,
            frame_rates(heard, titles),
            clipping(heard, titles, patched=bool(settings.outputs)),
        ),
        other_orders=_other_orders(audit),
    )


def _order_of_folder(audit: ShowAudit) -> RunningOrder:
    entries = tuple(SetEntry(name=song.evidence.name) for song in audit.songs)
    return running_order(
        SetList(name="", halves=(entries,)),
        [(song.evidence.name, song.evidence.listed_names) for song in audit.songs],
    )


def _lines(
    audit: ShowAudit, order: RunningOrder, songs: Mapping[str, SongAudit], titles: Mapping[str, str]
) -> Iterator[SheetLine]:
    """A line an entry of the list, and one before each half but the first. songs, titles: by name."""
    set_list, brought = order.set_list, _brought(audit, order)
    lengths_s = {name: song.evidence.duration_s for name, song in songs.items()}
    half, before = 0, None
    for number, (place, begins_s) in enumerate(
        zip(order.places, order.begins_s(lengths_s), strict=True), start=1
    ):
        if place.half != half:
            yield _interval(set_list)
            half, before = place.half, None  # whoever plays first follows nobody
        name = place.song or ""
        line = SheetLine(
            order=str(number),
            song=titles.get(name, place.name),
            total=_when(begins_s + lengths_s.get(name, 0.0), set_list.starts),
        )
        brings = brought.get((before.song, place.song), "") if before is not None else ""
        yield _heard(line, audit, songs[name], brings) if name in songs else _missing(line, place)
        before = place


def _interval(set_list: SetList) -> SheetLine:
    long = f", {clock(set_list.interval_s, millis=False)}" if set_list.interval_s else ""
    return SheetLine(order="", song=f"Interval{long}", interval=True)


def _over_time(order: RunningOrder, length_s: float) -> str:
    over_s = round(length_s - order.time_s, 3) if order.time_s is not None else 0.0
    return f"{clock(over_s, millis=False)} over its time" if over_s > 0 else ""


def _brought(audit: ShowAudit, order: RunningOrder) -> dict[tuple[str | None, str | None], str]:
    """What changes where a song follows another in this order, of what somebody has to be ready for."""
    show, pairs = audit.evidence, order.neighbours
    words: dict[tuple[str | None, str | None], list[str]] = {}
    rates = song_rates(show)
    for pair in dict.fromkeys(clock_changes(pairs, rates)):
        words.setdefault(pair, []).append(f"clock changes to {khz(rates[pair[1]])}")
    for step in steps_between(show, pairs):
        if abs(step.by_lu) > step_limit(show.settings):
            how = "louder" if step.by_lu > 0 else "quieter"
            words.setdefault(step.songs, []).append(f"{abs(step.by_lu):.0f} LU {how} than the song before")
    return {pair: "; ".join(said) for pair, said in words.items()}


def _other_orders(audit: ShowAudit) -> str:
    found = neighbours(audit.evidence, ())
    names = song_titles(audit)
    words = heavy_words(found, audit.evidence.settings, names.__getitem__) if found is not None else []
    return f"If another song is called: {'; '.join(words)}." if words else ""


def _missing(line: SheetLine, place: SetPlace) -> SheetLine:
    meant = f"; is {place.near} meant?" if place.near else ""
    return replace(line, warning=f"not on the disk{meant}", bad=True)


def _heard(line: SheetLine, audit: ShowAudit, song: SongAudit, brings: str) -> SheetLine:
    """line: with its number, name and end. brings: what to be ready for after the song before."""
    evidence, verdict = song.evidence, audit.verdict(song)
    click = evidence.click
    return replace(
        line,
        length=clock(evidence.duration_s, millis=False),
        tempo=_tempo(evidence),
        count_in=str(click.count_in_beats) if click and click.count_in_beats else "",
        timecode=_timecode(evidence),
        outputs=_numbers(outputs_of(evidence, audit.evidence.settings)),
        load=load_words(evidence),
        warning="; ".join(word for word in (_warning(audit, song), brings) if word),
        bad=verdict is Verdict.ERROR,
        unsure=verdict is Verdict.INCOMPLETE,
    )


def _tempo(song: SongEvidence) -> str:
    if song.click is not None:
        return click_words(song.click)
    clicks = [part for stem in song.stems for part in stem.parts if part.role is Role.CLICK]
    if not clicks:
        return NO_CLICK
    return SILENT_CLICK if all(part.silent for part in clicks) else UNREADABLE


def _timecode(song: SongEvidence) -> str:
    if song.timecode is not None:
        return song.timecode.first.text(song.timecode.rate)
    return UNREADABLE if song.timecode_parts else NO_CODE


def outputs_of(song: SongEvidence, settings: ShowSettings) -> tuple[int, ...]:
    """The outputs that the patch gives this song's stems, ascending; none without a patch."""
    numbers = {
        number
        for line in settings.outputs
        if fits_song(line.songs, song.names)
        and any(fits_stem(line.stems, stem.name, stem.roles) for stem in song.stems)
        for number in line.out
    }
    return tuple(sorted(numbers))


def _numbers(numbers: tuple[int, ...]) -> str:
    """`1–6, 9`: runs drawn together."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)


def _warning(audit: ShowAudit, song: SongAudit) -> str:
    """Its errors and warnings in a few words, the worst first."""
    faults = [f for f in audit.findings_of(song) if f.waived is None and f.severity is not Severity.NOTE]
    alike: dict[str, list[Finding]] = {}
    for fault in sorted(faults, key=urgency):
        alike.setdefault(headline_of(fault), []).append(fault)
    words = [_fault_words(title, several) for title, several in alike.items()]
    more = len(words) - WARNINGS_SHOWN
    said = words[:WARNINGS_SHOWN] + ([f"{more} more"] if more > 0 else [])
    if not said and audit.verdict(song) is Verdict.INCOMPLETE:
        return "could not be checked in full"
    return "; ".join(said)


def _fault_words(title: str, faults: list[Finding]) -> str:
    """`Brass: late by 1 bar`; the heading where one clause cannot say it, or several stems have the fault."""
    stems = list(dict.fromkeys(fault.stem for fault in faults if fault.stem))
    clause = _clause(faults[0].message)
    if len(stems) == len(faults) == 1 and clause:
        return f"{stems[0].rpartition('/')[2].rpartition('.')[0] or stems[0]}: {clause}"
    if not stems:
        return title
    return f"{title} ({listed(stems) if len(stems) <= 2 else count(len(stems), 'stem')})"


def _clause(message: str) -> str:
    """What a finding says before it goes into detail; empty where that is too long for a line."""
    whole = re.split(r" \(|; |, limit", message, maxsplit=1)[0]
    ends = [len(whole), *(found.start() for found in re.finditer(r"[,:] ", whole))]
    return whole[: max((end for end in ends if end <= LONGEST_CLAUSE), default=0)]


def _when(seconds: float, starts: int | None) -> str:
    if starts is None:
        return clock(seconds, millis=False)
    return time_of_day(60.0 * starts + seconds, up=True)
