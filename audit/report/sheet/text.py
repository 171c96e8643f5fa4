"""The crew sheet on the terminal, as HTML and as CSV."""

from __future__ import annotations

from markupsafe import Markup
from rich.console import Console

from audit.report.csv_text import csv_text
from audit.report.html.render import environment, policy, source
from audit.report.page import Cell, Page, right
from audit.report.sheet.rows import Sheet

CSV_COLUMNS = (
    "order", "song", "length", "tempo", "count_in", "timecode", "outputs", "load", "total", "warning", "bad",
)  # fmt: skip


def print_sheet(sheet: Sheet, console: Console) -> None:
    """A table, and the warnings under it."""
    page = Page(console)
    ends = f". {sheet.ends}" if sheet.ends else ""
    page.put((sheet.name or sheet.show, "bold"), f"  {sheet.total}. {sheet.answer}{ends}.")
    page.blank()
    columns = sheet.columns
    cells = {
        field: right([heading, *(getattr(line, field) for line in sheet.lines)])
        if field in ("order", "length", "count_in", "total")
        else [heading, *(getattr(line, field) for line in sheet.lines)]
        for field, heading in columns
    }
    rows = [
        [
            Cell(words=f"! {cells[field][number]}" if field == "song" and line.bad else cells[field][number])
            for field, _ in columns
        ]
        for number, line in enumerate(sheet.lines, start=1)
    ]
    if rows:
        page.table([cells[field][0] for field, _ in columns], rows, shrink=(1,))
    warned = [line for line in sheet.lines if line.warning]
    if warned:
        page.blank()
    for line in warned:
        page.put((line.song, "bold"), f": {line.warning}", label=f"{line.order}", indent=1, hang=4)
    page.blank()
    if sheet.other_orders:
        page.put(sheet.other_orders)
    page.put((sheet.foot, "dim"))
    page.print()


def sheet_html(sheet: Sheet) -> str:
    """One page that needs nothing but itself, as audit.report.html.render makes them."""
    style = source("sheet.css")
    page = environment().get_template("sheet.html").render(
        sheet=sheet, style=Markup(style), policy=policy(style, "")
    )  # fmt: skip
    return page.strip() + "\n"


def sheet_csv(sheet: Sheet) -> str:
    """A row a song; breaks are left out."""
    return csv_text(
        CSV_COLUMNS,
        [[getattr(line, field) for field in CSV_COLUMNS] for line in sheet.lines if not line.interval],
    )
