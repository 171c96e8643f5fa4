"""What a scan says of the machines that the settings name: each one's heaviest song, and whether it fits."""

from __future__ import annotations

from collections.abc import Sequence

from audit.findings import ShowAudit
from audit.report.load_words import FIT_WORDS, NAMES, SURE_WORDS, share_words
from audit.report.page import Cell, Page
from audit.results.load import Fit, SongForecast
from audit.units import count

STYLE = {Fit.FITS: "", Fit.TIGHT: "bold", Fit.OVER: "bold red"}


def forecasts_by_machine(audit: ShowAudit) -> dict[str, list[SongForecast]]:
    """Every machine's forecasts, in the order of the settings and of the show; empty without machines."""
    found: dict[str, list[SongForecast]] = {}
    for song in audit.evidence.songs:
        for forecast in song.forecasts:
            found.setdefault(forecast.machine, []).append(forecast)
    return found


def heaviest(forecasts: Sequence[SongForecast]) -> SongForecast:
    """The song with the worst verdict that takes most of its limit."""
    order = list(Fit)
    return max(forecasts, key=lambda one: (order.index(one.fit), one.limiting.share))


def carried(forecasts: list[SongForecast]) -> str:
    """`all 8 songs fit`, `1 of 8 songs over, 2 tight`."""
    counts = {fit: sum(one.fit is fit for one in forecasts) for fit in Fit}
    songs = count(len(forecasts), "song")
    if counts[Fit.FITS] == len(forecasts):
        return f"all {songs} fit" if len(forecasts) > 1 else "fits"
    worse = [f"{counts[fit]} {FIT_WORDS[fit]}" for fit in (Fit.OVER, Fit.TIGHT) if counts[fit]]
    return f"of {songs} {', '.join(worse)}"


def put_load(page: Page, audit: ShowAudit) -> None:
    """A line a machine; nothing where the settings name none."""
    by_machine = forecasts_by_machine(audit)
    if not by_machine:
        return
    page.blank()
    rows = []
    for machine, forecasts in by_machine.items():
        worst = heaviest(forecasts)
        use = worst.limiting
        taken = f"{NAMES[use.resource]} {share_words(worst)}"
        rows.append(
            [
                Cell(words=machine),
                Cell(words=worst.song),
                Cell(words=f"{taken} of its limit", short=taken),
                Cell(
                    words=f"{carried(forecasts)} ({SURE_WORDS[worst.confidence]})",
                    style=STYLE[worst.fit],
                    short=carried(forecasts),
                ),
            ]
        )
    page.table(["Load on", "Heaviest song", "Takes", "Verdict"], rows, shrink=(2, 3, 0, 1))
