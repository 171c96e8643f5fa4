"""A rehearsal on the terminal, beside the forecast."""

from __future__ import annotations

from rich.console import Console

from audit.report.load_words import NAMES, forecast_word, used_words
from audit.report.page import Page
from audit.report.words import span
from audit.results.load import Fit, SongForecast
from audit.results.rehearsal import KEEPING_UP, Rehearsal
from audit.units import count, khz


def print_rehearsal(song: str, rehearsal: Rehearsal, forecast: SongForecast | None, console: Console) -> None:
    """What came late, how much room there was, and what the forecast said."""
    page = Page(console)
    run = rehearsal.run
    played = span(run.callbacks * rehearsal.frames / rehearsal.rate_hz)
    verdict = "clean" if rehearsal.clean else "drops out"
    if rehearsal.headroom is not None:
        verdict = "keeps up" if rehearsal.headroom else "does not keep up"
    stopped = ", stopped early" if rehearsal.stopped else ""
    page.put(
        (f"{song}: {verdict}", "bold" if rehearsal.good else "bold red"),
        f", {played} of {count(rehearsal.stems, 'stem')} at speed {run.speed:.3g}, buffer "
        f"{rehearsal.frames} frames at {khz(rehearsal.rate_hz)}{stopped}",
    )
    page.put(f"late refills {run.late_rounds} of {run.rounds}", indent=2)
    sure = ""
    if run.late_callbacks == 0 and run.callbacks:
        sure = f": fewer than {300 / run.callbacks:.2g} % at 95 % confidence"
    elif run.speed > 1.0 and run.keeps_up:
        lasts_ms = 1000 * rehearsal.frames / rehearsal.rate_hz / run.speed
        sure = (
            f" at that speed, where a buffer lasts {lasts_ms:.2g} ms: up to {KEEPING_UP:.0%} are this "
            "mixer's own, which cannot wake that often"
        )
    page.put(f"late buffers {run.late_callbacks} of {run.callbacks}{sure}", indent=2)
    page.put(
        f"lowest fill {run.lowest_buffer_s:.2f} s of {rehearsal.prebuffer_s:g} s; longest refill round "
        f"{100 * run.worst_round:.0f} % of its time; {100 * run.cpu:.0f} % of one core",
        indent=2,
    )
    cold = "cold" if rehearsal.surely_cold else "first"
    doubt = "" if rehearsal.surely_cold else " (perhaps out of memory already: this system does not tell)"
    page.put(
        f"opening {rehearsal.opening_cold_s:.2f} s {cold}{doubt}, {rehearsal.opening_warm_s:.2f} s warm",
        indent=2,
    )
    if rehearsal.headroom is not None:
        page.put(_headroom(rehearsal), indent=2)
    if run.failure:
        page.put((run.failure, "bold red"), indent=2)
    for failed in rehearsal.failed:
        page.put(f"not streamed: {failed}", indent=2)
    if forecast is not None:
        _put_beside(page, rehearsal, forecast)
    page.print()


def _headroom(rehearsal: Rehearsal) -> str:
    if not rehearsal.headroom:
        return "no room: late at its own speed"
    return (
        f"room: no refill late up to {rehearsal.headroom:.3g} times its own speed, so it uses about "
        f"{100 / rehearsal.headroom:.0f} % of what this machine can do"
    )


def _put_beside(page: Page, rehearsal: Rehearsal, forecast: SongForecast) -> None:
    use = forecast.limiting
    page.put(
        f"Forecast for {forecast.machine}: {forecast_word(forecast)}; {NAMES[use.resource]} "
        f"{used_words(use)}.",
    )
    if not rehearsal.good and forecast.forecast_fit is not Fit.OVER:
        page.put(("The rehearsal counts: this machine did not carry the song.", "bold red"))
    elif rehearsal.good and forecast.forecast_fit is Fit.OVER:
        page.put("The forecast stands all the same: one clean run is no proof of the next.")
