"""Songs × machines on the terminal: the answer, the matrix, the heaviest songs in bars, what would help."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.cells import cell_len
from rich.console import Console

from audit.report.hear_line import quoted
from audit.report.load_words import (
    FIT_WORDS,
    NAMES,
    OF_THE_PLAYER,
    SURE_WORDS,
    cure_words,
    figure_words,
    fit_word,
    is_doubtful,
    share_words,
    used_words,
    worth_listing,
)
from audit.report.page import Cell, Page
from audit.report.words import listed
from audit.results.load import Fit, ResourceUse, SongForecast
from audit.settings.order import RunningOrder
from audit.units import count, khz

BAR = 20
"""Cells of a bar; its end is the limit."""

FEW = 3
"""So many machines have their names above their columns."""

STYLE = {Fit.FITS: "", Fit.TIGHT: "bold", Fit.OVER: "bold red"}

CAUTION = (
    "A forecast from formats and sizes: it knows nothing of your player's own code, plug-ins, drivers "
    "or other programs. Rehearse the heaviest song on the machine itself"
)


def print_load(
    columns: Sequence[Sequence[SongForecast]],
    console: Console,
    *,
    show: str = "",
    verbose: bool = False,
    order: RunningOrder | None = None,
) -> None:
    """The forecasts of each machine, in the same order of songs.

    show: its folder as it was typed, for the command to type next; verbose: bars for every song; order: the
    set list whose songs these are.
    """
    page = Page(console)
    night = f"Set list {order.set_list.name}: " if order is not None else ""
    page.put((f"{night}{answer(columns)}", "bold"))
    page.blank()
    put_matrix(page, columns)
    page.put(("Percentages there are of the limit, as practice asks for it.", "dim"))
    for column in columns:
        heaviest = max(column, key=lambda f: f.limiting.share)
        for group in _told(column, verbose=verbose) or [[heaviest]]:
            put_forecast(page, group[0], heaviest=group[0] is heaviest)
            if len(group) > 1:
                page.put(f"So it is with {_names(page, (f.song for f in group[1:]))}.", indent=2)
    _put_unread(page, columns[0], order)
    page.blank()
    command = _rehearsal(page, columns, show)
    page.put((f"{CAUTION}{':' if command else ': stemaudit rehearse.'}", "dim"))
    if command:
        page.put(command, indent=2)
    page.print()


def _rehearsal(page: Page, columns: Sequence[Sequence[SongForecast]], show: str) -> str:
    """The command for the heaviest song of the first machine; "" where it could not be copied from here."""
    song = max(columns[0], key=lambda f: f.limiting.share).song
    words = f"stemaudit rehearse {quoted(show)} --song {quoted(song)}"
    whole = page.text(words).plain == words and cell_len(words) + 2 <= page.width
    return words if show and whole else ""


def _told(column: Sequence[SongForecast], *, verbose: bool) -> list[list[SongForecast]]:
    """The songs to be shown in bars, those together that one thing limits and mends, the heaviest of them
    first; verbose: each by itself."""
    if verbose:
        return [[forecast] for forecast in column]
    groups: dict[object, list[SongForecast]] = {}
    for forecast in column:
        if forecast.fit is not Fit.FITS:
            cure = forecast.cures[0].text if forecast.cures else ""
            alike = (forecast.fit, forecast.forecast_fit, forecast.limiting.resource, cure, forecast.unread)
            groups.setdefault(alike, []).append(forecast)
    return [sorted(group, key=lambda f: -f.limiting.share) for group in groups.values()]


def _names(page: Page, names: Iterable[str]) -> str:
    """Names of songs and stems in a sentence, each no longer than half a line."""
    return listed(page.fit(name, page.width // 2) for name in names)


def _put_unread(page: Page, column: Sequence[SongForecast], order: RunningOrder | None) -> None:
    lacking = [forecast for forecast in column if forecast.unread]
    heard = {forecast.song for forecast in column}
    missing = list(order.missing_names) if order is not None else []
    silent = [song for song in order.songs if song not in heard] if order is not None else []
    if lacking or missing or silent:
        page.blank()
    if missing:
        named = listed(page.fit(name, page.width) for name in missing)
        page.put(f"Not counted, as no song here is called so: {named}.")
    if silent:
        page.put(f"Not counted, as no stem of it can be read: {_names(page, silent)}.")
    for forecast in lacking:
        song, stems = _names(page, [forecast.song]), _names(page, forecast.unread)
        page.put(f"Not counted, as it cannot be read: {song}, {stems}.")


def answer(columns: Sequence[Sequence[SongForecast]]) -> str:
    """One line: which machine carries the show, which does not."""
    parts = []
    for column in columns:
        over = sum(f.fit is Fit.OVER for f in column)
        tight = sum(f.fit is Fit.TIGHT for f in column)
        doubtful = sum(map(is_doubtful, column))
        name, songs = column[0].machine, count(len(column), "song")
        if over:
            parts.append(f"{name} does not carry {over} of {songs}")
        elif doubtful:
            parts.append(f"{name} is doubtful in {doubtful} of {songs}")
        elif tight:
            parts.append(f"{name} is tight in {tight} of {songs}")
        else:
            parts.append(f"{name} carries {'all ' if len(column) > 1 else ''}{songs}")
    return "; ".join(parts) + "."


def put_matrix(page: Page, columns: Sequence[Sequence[SongForecast]]) -> None:
    """A line a song, a column a machine; letters stand for the machines where there are many."""
    names = [column[0].machine for column in columns]
    many = len(columns) > FEW
    heads = [chr(ord("A") + place % 26) for place in range(len(names))] if many else names
    if many:
        for head, name in zip(heads, names, strict=True):
            page.put(name, label=head, indent=2, hang=3)
        page.blank()
    header = ["Song", "Stems", *heads]
    rows = []
    for line, forecast in enumerate(columns[0]):
        cells = [Cell(words=forecast.song), Cell(words=f"{forecast.stems:5d}")]
        rows.append([*cells, *(_cell(column[line], many) for column in columns)])
    page.table(header, rows, shrink=(0, *range(2, len(header))))


def _cell(forecast: SongForecast, many: bool) -> Cell:
    """The verdict, and the limiting resource with its share of the limit."""
    limiting, word = forecast.limiting, fit_word(forecast)
    if forecast.fit is not forecast.forecast_fit:
        return Cell(words=f"{word}: dropped out in rehearsal", short=word, style=STYLE[forecast.fit])
    percent = f"{word} {share_words(forecast)}"
    words = percent if many else f"{percent} {NAMES[limiting.resource]}"
    return Cell(words=words, short=percent, style=STYLE[forecast.fit])


def put_forecast(page: Page, forecast: SongForecast, *, heaviest: bool = False) -> None:
    """One song on one machine: a bar for each resource, its smallest buffer, what would help."""
    page.blank()
    word = fit_word(forecast)
    mark = ", the heaviest song" if heaviest else ""
    rest = f" on {page.fit(forecast.machine, page.width // 3)}: {word}"
    song = page.fit(forecast.song, page.width - page.text(f"{rest},").cell_len)
    page.put(
        (f"{song}{rest}", STYLE[forecast.fit] or "bold"),
        f"{mark} ({SURE_WORDS[forecast.confidence]}: {_why(forecast)})",
    )
    uses = worth_listing(forecast)
    widest = max(len(NAMES[use.resource]) for use in uses)
    for use in uses:
        label = NAMES[use.resource].ljust(widest)
        page.put(
            (f"{_bar(page, use)} ", STYLE[use.fit]), used_words(use), label=label, indent=2, hang=widest + 2
        )
    rate = khz(forecast.rate_hz)
    smallest = forecast.smallest_buffer_frames
    safe = f"the smallest safe one is {smallest}" if smallest else "none up to 4096 is safe"
    page.put(f"Buffer {forecast.frames} frames at {rate}; {safe}.", indent=2)
    if forecast.settles:
        command = "calibrate" if forecast.settles in OF_THE_PLAYER else "probe"
        page.put(f"To settle it, measure {figure_words(forecast.settles)}: stemaudit {command}.", indent=2)
    elif forecast.forecast_fit is Fit.TIGHT and forecast.rehearsed is None:
        page.put("To settle it, rehearse it on that machine: stemaudit rehearse.", indent=2)
    put_rehearsed(page, forecast)
    for cure in forecast.cures:
        page.put(cure_words(forecast, cure), label="→", indent=2, hang=2)


def put_rehearsed(page: Page, forecast: SongForecast) -> None:
    """What the last rehearsal showed, beside the forecast."""
    past = forecast.rehearsed
    if past is None:
        return
    counts = ": this counts, not the forecast" if forecast.rehearsed_dirty else ""
    at = f", with a buffer of {past.frames} frames" if past.frames else ""
    shown = f"{'clean' if past.clean else 'it dropped out'}{at}{counts}"
    said = FIT_WORDS[forecast.forecast_fit]
    page.put(f"Forecast: {said}. Rehearsed on {past.day}: {shown}.", indent=2)


def _why(forecast: SongForecast) -> str:
    names, colon, rest = forecast.why.partition(":")
    if not colon:
        return forecast.why
    return f"{listed(figure_words(name.strip()) for name in names.split(','))}:{rest}"


def _bar(page: Page, use: ResourceUse) -> str:
    """Full at the limit; what goes past it shows as an arrow's head."""
    full, empty, past = ("█", "·", "▶") if _can(page, "█·▶") else ("#", ".", ">")
    filled = min(BAR, round(BAR * use.share))
    if use.share > 1.0:
        return full * (BAR - 1) + past
    return full * filled + empty * (BAR - filled)


def _can(page: Page, signs: str) -> bool:
    try:
        signs.encode(page.console.encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True
