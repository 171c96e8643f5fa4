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
ROOMY_MM, MOST_ROOMY_MM = 17.0, 31.0
"""From this much for a song on its name stands in a line of its own, large, and its figures below."""
BARE = 0.7
"""Of a row's height: what a song without a warning takes."""
HEADINGS_MM = 5.2
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
    _head(pdf, sheet, number, wide)
    _table(pdf, sheet, lines, wide)
    _foot(pdf, sheet, wide)


def _head(pdf: FPDF, sheet: Sheet, number: str, wide: float) -> None:
    """Two lines: on the left what night this is, on the right how long and whether it can be played."""
    pdf.set_font("sheet", "B", 20)
    _put(pdf, sheet.name or sheet.show, wide * 0.72, 9.0)
    pdf.set_font("sheet", "B", 13)
    pdf.cell(wide * 0.28, 9.0, _safe(pdf, sheet.total), align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    pdf.set_font("sheet", "", 11)
    below = [sheet.show if sheet.name else "", sheet.made, number]
    _put(pdf, " · ".join(word for word in below if word), wide * 0.6, 6.0)
    pdf.set_font("sheet", "B", 11)
    answer = "" if sheet.verdict else sheet.answer
    said = ". ".join(word for word in (answer, sheet.ends) if word)
    pdf.cell(wide * 0.4, 6.0, _safe(pdf, said), align="R", new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    pdf.ln(2.5)
    if sheet.verdict:
        _verdict(pdf, sheet.verdict, wide)


def _table(pdf: FPDF, sheet: Sheet, lines: tuple[SheetLine, ...], wide: float) -> None:
    """Headings and rows, as high as the page lets them be."""
    room = _room_mm(pdf, sheet, lines)
    roomy, columns = room >= ROOMY_MM, sheet.columns
    widths = _roomy_widths(pdf, sheet, wide) if roomy else _widths(columns, wide)
    pdf.set_font("sheet", "", 9.5)
    for field, heading in columns:
        if not roomy or field != "song":
            _field(pdf, heading, widths[field], 5.0, field)
    pdf.ln(HEADINGS_MM)
    row = min(MOST_ROOMY_MM, room) if roomy else max(LEAST_ROW_MM, min(MOST_ROW_MM, room))
    for line in lines:
        if roomy and not line.interval:
            _roomy_row(pdf, line, widths, columns, row)
        else:
            _row(pdf, line, widths, columns, min(row, MOST_ROW_MM))
    _rule(pdf, 0.5)


def _room_mm(pdf: FPDF, sheet: Sheet, lines: tuple[SheetLine, ...]) -> float:
    """How high the row of a song with a warning can be, from here down to the foot."""
    foot_mm = 14.0 if sheet.other_orders else 9.0
    rows = sum(1.0 if line.warning else BARE for line in lines) or 1.0
    return (pdf.h - pdf.get_y() - HEADINGS_MM - MARGIN_MM - foot_mm) / rows


def _foot(pdf: FPDF, sheet: Sheet, wide: float) -> None:
    pdf.set_font("sheet", "", 8.5)
    if sheet.other_orders:
        pdf.set_y(pdf.h - MARGIN_MM - 10.0)
        _put(pdf, sheet.other_orders, wide, 5.0)
    pdf.set_xy(MARGIN_MM, pdf.h - MARGIN_MM - 5.0)
    _put(pdf, sheet.foot, wide, 5.0)


def _verdict(pdf: FPDF, words: str, wide: float) -> None:
    """In a box, so that nobody overlooks it."""
    pdf.set_font("sheet", "B", 24)
    pdf.set_line_width(1.0)
    pdf.rect(MARGIN_MM, pdf.get_y(), wide, 13.0)
    pdf.set_x(MARGIN_MM + 2.0)
    _put(pdf, words, wide - 4.0, 13.0)
    pdf.set_xy(MARGIN_MM, pdf.get_y() + 15.5)


def _widths(columns: tuple[tuple[str, str], ...], wide: float) -> dict[str, float]:
    """Of every column: the song's name has what the others leave."""
    widths = {field: WIDTHS_MM.get(field, 0.0) for field, _ in columns}
    return {**widths, "song": wide - sum(widths.values())}


def _roomy_widths(pdf: FPDF, sheet: Sheet, wide: float) -> dict[str, float]:
    """The name stands above the columns, and they share the whole width by what is in them; `size`: the
    letters, in points, with which all of it fits."""
    pdf.set_font("sheet", "", FIGURES_PT)
    room = wide - ORDER_ROOMY_MM
    own = {
        field: max(pdf.get_string_width(_safe(pdf, words)) for words in words_of)
        + (2.0 * GAP_MM if field in RIGHT else GAP_MM)
        for field, heading in sheet.columns
        if field not in ("order", "song")
        and (words_of := [heading, *(getattr(line, field) for line in sheet.lines)])
    }
    wider = min(1.7, room / sum(own.values()))
    widths = {field: wider * own_mm for field, own_mm in own.items()}
    return {"order": ORDER_ROOMY_MM, "song": 0.0, "size": 0.97 * wider * FIGURES_PT, **widths}


ORDER_ROOMY_MM, FIGURES_PT = 16.0, 11.5


def _roomy_row(
    pdf: FPDF, line: SheetLine, widths: dict[str, float], columns: tuple[tuple[str, str], ...], row: float
) -> None:
    """The name large, its figures under it, and what is wrong under those."""
    high = row if line.warning else row * BARE
    name, figures, warning = row * 0.38, row * 0.29, row * 0.33
    _rule(pdf, 0.3)
    top, left = pdf.get_y(), MARGIN_MM + widths["order"]
    wide = pdf.w - MARGIN_MM - left
    pdf.set_font("sheet", "B", min(30.0, name * 2.1))
    _put(pdf, f"{line.mark} {line.order}".lstrip(), widths["order"] - 1.5, name, right=True)
    pdf.set_xy(left, top)
    _put(pdf, line.song, wide, name)
    pdf.set_xy(left, top + name)
    pdf.set_font("sheet", "", min(figures * 2.1, widths["size"]))
    for field, _ in columns:
        if field not in ("order", "song"):
            _field(pdf, getattr(line, field), widths[field], figures, field)
    if line.warning:
        _warn(pdf, line.warning, left, top + name + figures - 0.5, wide, warning)
    pdf.set_xy(MARGIN_MM, top + high)


def _warn(pdf: FPDF, words: str, left: float, top: float, wide: float, high: float) -> None:
    """In one line, or in two smaller ones where one would have to lose words."""
    size = min(13.0, high * 1.6)
    pdf.set_font("sheet", "", size)
    lines = [words]
    if 0.75 * pdf.get_string_width(_safe(pdf, words)) > wide:
        parts = words.split("; ")
        half = max(1, (len(parts) + 1) // 2)
        lines = ["; ".join(parts[:half]) + ";", "; ".join(parts[half:])] if len(parts) > 1 else lines
        pdf.set_font("sheet", "", size * 0.8)
    for number, line in enumerate(lines):
        pdf.set_xy(left, top + number * high / len(lines))
        _put(pdf, line, wide, high / len(lines))


def _row(
    pdf: FPDF, line: SheetLine, widths: dict[str, float], columns: tuple[tuple[str, str], ...], row: float
) -> None:
    high = row if line.warning else row * BARE
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
        if field == "order" and line.mark:
            words = f"{line.mark} {words}"
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
