"""The crew sheet as one PDF page to tape on the rack: large letters, few lines, black on white."""

from __future__ import annotations

from importlib.resources import as_file, files
from typing import Any, Literal

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from audit.report.sheet.rows import Sheet, SheetLine
from audit.report.words import shorten, visible

Paper = Literal["a4", "letter"]
MARGIN_MM = 10.0
MOST_ROW_MM, LEAST_ROW_MM = 13.0, 5.2
SONGS_A_PAGE = 36
WIDTHS_MM = {
    "order": 11.5, "length": 13.5, "tempo": 22.0, "count_in": 13.5, "timecode": 25.0, "outputs": 16.0,
    "load": 17.5, "total": 14.0,
}  # fmt: skip
RIGHT = frozenset({"length", "count_in", "total"})
GAP_MM = 3.0
"""Behind a column whose words stand at its right end."""


def sheet_pdf(sheet: Sheet, day: Any, paper: Paper = "a4") -> bytes:
    """The sheet; the same sheet and day (a datetime with its time zone) give the same bytes.

    One page for up to SONGS_A_PAGE lines, their height follows their number."""
    pdf = FPDF(orientation="portrait", unit="mm", format=paper)
    pdf.set_creation_date(day)
    pdf.set_producer("stemaudit")
    pdf.set_title(_safe(pdf, f"{sheet.show}{f': {sheet.name}' if sheet.name else ''}"))
    pdf.set_lang("en")
    pdf.set_margins(MARGIN_MM, MARGIN_MM)
    pdf.set_auto_page_break(False)
    fonts = files("audit.report").joinpath("fonts")
    for style, name in (("", "DejaVuSansCondensed.ttf"), ("B", "DejaVuSansCondensed-Bold.ttf")):
        with as_file(fonts.joinpath(name)) as path:
            pdf.add_font("sheet", style, str(path))
    lines = sheet.lines
    pages = [lines[at : at + SONGS_A_PAGE] for at in range(0, len(lines), SONGS_A_PAGE)] or [()]
    for number, page in enumerate(pages, start=1):
        _page(pdf, sheet, page, f"{number} of {len(pages)}" if len(pages) > 1 else "")
    return bytes(pdf.output())


def _page(pdf: FPDF, sheet: Sheet, lines: tuple[SheetLine, ...], number: str) -> None:
    pdf.add_page()
    wide = pdf.w - 2 * MARGIN_MM
    pdf.set_font("sheet", "B", 20)
    _put(pdf, sheet.name or sheet.show, wide * 0.72, 9.0)
    pdf.set_font("sheet", "B", 13)
    pdf.cell(wide * 0.28, 9.0, _safe(pdf, sheet.total), align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    pdf.set_font("sheet", "", 11)
    below = [sheet.show if sheet.name else "", sheet.made, number]
    _put(pdf, " · ".join(word for word in below if word), wide * 0.6, 6.0)
    pdf.set_font("sheet", "B", 11)
    said = f"{sheet.answer}{f'. {sheet.ends}' if sheet.ends else ''}"
    pdf.cell(wide * 0.4, 6.0, _safe(pdf, said), align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    pdf.ln(2.5)
    columns = sheet.columns
    widths = {field: WIDTHS_MM.get(field, 0.0) for field, _ in columns}
    widths["song"] = wide - sum(widths.values())
    pdf.set_font("sheet", "", 9.5)
    for field, heading in columns:
        _field(pdf, heading, widths[field], 5.0, field)
    pdf.ln(5.2)
    foot_mm = 14.0 if sheet.other_orders else 9.0
    units = sum(1.0 if line.warning else 0.72 for line in lines) or 1.0
    room = (pdf.h - pdf.get_y() - MARGIN_MM - foot_mm) / units
    row = max(LEAST_ROW_MM, min(MOST_ROW_MM, room))
    for line in lines:
        _row(pdf, line, widths, columns, row)
    _rule(pdf, 0.5)
    pdf.set_font("sheet", "", 8.5)
    if sheet.other_orders:
        pdf.set_y(pdf.h - MARGIN_MM - 10.0)
        _put(pdf, sheet.other_orders, wide, 5.0)
    pdf.set_xy(MARGIN_MM, pdf.h - MARGIN_MM - 5.0)
    _put(pdf, sheet.foot, wide, 5.0)


def _row(
    pdf: FPDF, line: SheetLine, widths: dict[str, float], columns: tuple[tuple[str, str], ...], row: float
) -> None:
    high = row if line.warning else row * 0.72
    main = high * (0.6 if line.warning else 1.0)
    size = min(15.5, row * 0.6 * 2.05)  # one size in all rows
    _rule(pdf, 0.5 if line.interval else 0.2)
    top = pdf.get_y()
    if line.interval:
        pdf.set_font("sheet", "", min(11.0, size))
        _put(pdf, line.song, sum(widths.values()), high)
        pdf.set_xy(MARGIN_MM, top + high)
        return
    for field, _ in columns:
        words = getattr(line, field)
        if field == "order" and line.bad:
            words = f"! {words}"
        bold = field in ("order", "song")
        pdf.set_font("sheet", "B" if bold else "", size if bold else min(11.5, size))
        _field(pdf, words, widths[field], main, field)
    if line.warning:
        pdf.set_xy(MARGIN_MM + widths["order"], top + main - 0.3)
        pdf.set_font("sheet", "", min(10.5, max(7.5, high * 0.4 * 2.2)))
        _put(pdf, line.warning, sum(widths.values()) - widths["order"], high - main)
    pdf.set_xy(MARGIN_MM, top + high)


def _field(pdf: FPDF, words: str, wide: float, high: float, field: str) -> None:
    gap = GAP_MM if field in ("length", "count_in") else 0.0
    _put(pdf, words, wide - gap, high, right=field in RIGHT)
    if gap:
        pdf.cell(gap, high)


def _rule(pdf: FPDF, thick: float) -> None:
    pdf.set_line_width(thick)
    pdf.line(MARGIN_MM, pdf.get_y(), pdf.w - MARGIN_MM, pdf.get_y())


def _put(pdf: FPDF, words: str, wide: float, high: float, *, right: bool = False) -> None:
    """One line of words, smaller down to seven tenths and then without its middle, so that it fits."""
    text = _safe(pdf, words)
    full = pdf.font_size_pt
    room = wide - 1.6
    if pdf.get_string_width(text) > room:
        pdf.set_font_size(max(0.7 * full, full * room / pdf.get_string_width(text)))
    if pdf.get_string_width(text) > room:
        tenth = max(1, int(room * 10))
        text = shorten(text, tenth, lambda one: round(pdf.get_string_width(one) * 10))
    pdf.cell(wide, high, text, align="R" if right else "L")
    pdf.set_font_size(full)


def _safe(pdf: FPDF, words: str) -> str:
    """What hides or steers as escapes, and a box for letters that the font lacks."""
    text = visible(words)
    font = pdf.fonts.get("sheet")
    known = getattr(font, "cmap", None)
    return text if known is None else "".join(sign if ord(sign) in known else "\u25a1" for sign in text)
