"""The show's clicks at a glance: tempo, metre, count-in. Nothing where no song has one."""

from __future__ import annotations

from audit.findings import ShowAudit
from audit.report.page import Cell, Page, right
from audit.results import ClickTrack
from audit.units import clock


def put_clicks(page: Page, audit: ShowAudit) -> None:
    """A line a song whose click was found."""
    clicks = [(song.evidence.name, click) for song in audit.songs if (click := song.evidence.click)]
    if not clicks:
        return
    page.blank()
    tempi = right(["BPM", *(tempo_words(click) for _, click in clicks)])
    counts = right(["Count-in", *(_count_words(click) for _, click in clicks)])
    firsts = right(["First beat", *(clock(click.first_beat_s) for _, click in clicks)])
    beats = right(["Beats", *(str(len(click.beats_s)) for _, click in clicks)])
    rows = [
        [
            Cell(words=name),
            Cell(words=tempi[line]),
            Cell(words=click.metre or "–"),
            Cell(words=counts[line]),
            Cell(words=firsts[line]),
            Cell(words=beats[line]),
        ]
        for line, (name, click) in enumerate(clicks, start=1)
    ]
    page.table(["Click", tempi[0], "Metre", counts[0], firsts[0], beats[0]], rows, shrink=(0,))


def tempo_words(click: ClickTrack) -> str:
    """`120`, `96.5`; of a click that changes its first and last tempo, or where others lie beyond these, the
    slowest and the fastest: `108 to 92`, `60 to 88`."""
    if click.bpm is None:
        return "–"
    runs = [run for run in click.runs if run.beats > 2]
    tempi = [
        bpm for run in runs for one in (run.tempi or (run,)) for bpm in (one.bpm_first, one.bpm_last)
    ] or [click.bpm]
    slowest, fastest = min(tempi), max(tempi)
    if {tempi[0], tempi[-1]} == {slowest, fastest}:
        slowest, fastest = tempi[0], tempi[-1]
    if abs(fastest - slowest) < 0.005 * fastest:
        return f"{round(click.bpm, 2):g}"
    return f"{round(slowest, 1):g} to {round(fastest, 1):g}"


def click_words(click: ClickTrack) -> str:
    """Tempo and metre as a musician reads them: `118 · 4/4`; `♪ 168 · 6/8`, as its beats are eighths."""
    tempo = tempo_words(click)
    if tempo == "–":
        return ""
    eighths = click.metre is not None and click.metre.endswith("/8")
    return f"{'♪ ' if eighths else ''}{tempo}{f' · {click.metre}' if click.metre else ''}"


def _count_words(click: ClickTrack) -> str:
    return "–" if click.count_in_beats is None else str(click.count_in_beats)
