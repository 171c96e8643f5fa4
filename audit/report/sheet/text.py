"""The crew sheet on the terminal, as HTML and as CSV."""

from __future__ import annotations

from markupsafe import Markup
from rich.cells import cell_len
from rich.console import Console

from audit.report.csv_text import csv_text
from audit.report.html.render import environment, policy, source
from audit.report.page import Cell, Page, right
from audit.report.sheet.foot import MARKS
from audit.report.sheet.rows import Sheet, SheetLine
from audit.report.words import listed

CSV_COLUMNS = (
    "order", "song", "length", "tempo", "count_in", "timecode", "outputs", "load", "total", "warning", "bad",
    "unsure",
)  # fmt: skip


def print_sheet(sheet: Sheet, console: Console) -> None:
    """A table, and the warnings under it."""
    page = Page(console)
    ends = f". {sheet.ends}" if sheet.ends else ""
    page.put((sheet.name or sheet.show, "bold"), f"  {sheet.total}. {sheet.verdict or sheet.answer}{ends}.")
    page.blank()
    columns, left_out = _fitting(page, sheet)
    cells = {
        field: right([heading, *(_words(line, field) for line in sheet.lines)])
        if field in ("order", "length", "count_in", "total")
        else [heading, *(_words(line, field) for line in sheet.lines)]
        for field, heading in columns
    }
    rows = [
        [Cell(words=cells[field][number]) for field, _ in columns]
        for number, _ in enumerate(sheet.lines, start=1)
    ]
    if rows:
        page.table([cells[field][0] for field, _ in columns], rows, shrink=(1,))
    warned = [line for line in sheet.lines if line.warning]
    if warned:
        page.blank()
    for line in warned:
        page.put((line.song, "bold"), f": {line.warning}", label=_words(line, "order").rjust(4), hang=6)
    page.blank()
    if left_out:
        page.put((f"Too narrow here for {listed(left_out)}: --pdf, --html and --csv hold all.", "dim"))
    if sheet.other_orders:
        page.put(sheet.other_orders)
    page.put((sheet.foot, "dim"))
    page.print()


LEAST_SONG = 24
"""Cells that a song's name keeps; columns that leave less go, the first of these first."""

FIRST_TO_GO = ("load", "outputs", "count_in", "total", "tempo")


def _fitting(page: Page, sheet: Sheet) -> tuple[list[tuple[str, str]], list[str]]:
    """The columns that there is room for, and the headings of those that had to go."""
    wide = {
        field: max(cell_len(heading), *(cell_len(_words(line, field)) for line in sheet.lines), 0)
        for field, heading in sheet.columns
    }
    wide["song"] = min(wide["song"], LEAST_SONG)
    going = [field for field in FIRST_TO_GO if field in wide]
    gone: list[str] = []
    while going and sum(wide[field] + 2 for field in wide if field not in gone) + 2 > page.width:
        gone.append(going.pop(0))
    left_out = [heading.lower() for field, heading in sheet.columns if field in gone]
    return [column for column in sheet.columns if column[0] not in gone], left_out


def _words(line: SheetLine, field: str) -> str:
    words = str(getattr(line, field))
    return f"{line.mark} {words}" if field == "order" and line.mark else words


def sheet_html(sheet: Sheet) -> str:
    """One page that needs nothing but itself, as audit.report.html.render makes them."""
    style = source("sheet.css")
    page = environment().get_template("sheet.html").render(
        sheet=sheet, marks=MARKS, style=Markup(style), policy=policy(style, "")
    )  # fmt: skip
    return page.strip() + "\n"


def sheet_csv(sheet: Sheet) -> str:
    """A row a song; breaks are left out."""
    return csv_text(
        CSV_COLUMNS,
        [[getattr(line, field) for field in CSV_COLUMNS] for line in sheet.lines if not line.interval],
    )
