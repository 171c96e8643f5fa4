"""A page of text lines for a terminal of any width: wraps, hangs, aligns, escapes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rich.cells import cell_len
from rich.console import Console
from rich.text import Text

from audit.report.words import encodable, shorten, visible
from audit.units import NO_BREAK

_KEPT = "\ue000"
"""Stands for a no-break space while lines are wrapped; of a name it would be an escape by then."""

NARROWEST = 8
"""Cells down to which a column of a table gives way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One field of a table: its words, and shorter ones that still say enough where the page is narrow."""

    words: str
    style: str = ""
    short: str | None = None

    @property
    def least(self) -> str:
        return self.words if self.short is None else self.short


@dataclass(slots=True)
class Page:
    """Lines in the order in which they are put; `lines` never exceed the console's width.

    Lines carry no padding at their end, so that a report in a pipe holds no blank columns.
    """

    console: Console
    lines: list[Text] = field(default_factory=list)

    @property
    def width(self) -> int:
        return self.console.width

    def text(self, words: str, style: str = "") -> Text:
        """Words that are safe and possible to print here; no markup is read in them."""
        return Text(encodable(visible(words), self.console.encoding), style=style)

    def _kept(self, words: str, style: str = "") -> Text:
        """The same with a sign for every no-break space, at which rich would break a line."""
        parts = (self.text(part).plain for part in words.split(NO_BREAK))
        return Text(_KEPT.join(parts), style=style)

    def fit(self, words: str, width: int) -> str:
        """Words shortened in the middle to `width` cells, safe and possible to print."""
        encoding = self.console.encoding
        whole = encodable(visible(words), encoding)
        ellipsis = encodable("…", encoding)
        return shorten(whole, width, cell_len, ellipsis)

    def blank(self) -> None:
        """An empty line, but never two, and none at the top."""
        if self.lines and self.lines[-1].plain:
            self.lines.append(Text())

    def put(
        self, *spans: str | tuple[str, str], label: str = "", style: str = "", indent: int = 0, hang: int = 0
    ) -> None:
        """A paragraph of words, or of (words, style) pairs, wrapped to the width.

        label: stands before the first line, in `style`; indent: cells before every line; hang: cells, from
        the indent, at which the words begin (and go on in the lines below).
        """
        body = Text.assemble(*(self._kept(s) if isinstance(s, str) else self._kept(*s) for s in spans))
        start = min(indent + hang, max(0, self.width - 20))
        wrapped = body.wrap(self.console, max(1, self.width - start), overflow="fold") or [Text()]
        for number, line in enumerate(wrapped):
            line.rstrip()
            line.plain = line.plain.replace(_KEPT, encodable(NO_BREAK, self.console.encoding))
            head = Text(" " * start)
            if number == 0 and label:
                mark = self.text(label, style)
                head = Text.assemble(" " * indent, mark, " " * (start - indent - mark.cell_len))
            self.lines.append(Text.assemble(head, line))

    def table(
        self,
        header: Sequence[str],
        rows: Sequence[Sequence[Cell]],
        *,
        shrink: Sequence[int],
        drop: Sequence[int] = (),
    ) -> None:
        """Columns with two cells of space between them.

        shrink: the columns that give way where the table is wider than the page. They first say their short
        words instead; then, the widest first, words lose their middle. drop: the columns that are left out,
        in this order, where that is not enough: half a number would be another one.
        """
        kept = list(range(len(header)))
        for column in drop:
            if sum(self._narrowest(header, rows, c, c in shrink) + 2 for c in kept) <= self.width:
                break
            kept.remove(column)
        header, rows = [header[c] for c in kept], [[row[c] for c in kept] for row in rows]
        shrink = [kept.index(c) for c in shrink if c in kept]
        columns = range(len(header))
        wide = [max(cell_len(header[c]), *(self._cells(row[c].words) for row in rows)) for c in columns]
        low = [max(cell_len(header[c]), *(self._cells(row[c].least) for row in rows)) for c in columns]
        for floors in (low, [NARROWEST] * len(wide)):
            while sum(wide) + 2 * len(wide) > self.width:
                able = [c for c in shrink if wide[c] > floors[c]]
                if not able:
                    break
                wide[max(able, key=lambda c: wide[c])] -= 1
        self._row([Cell(words=head, style="dim") for head in header], wide)
        for row in rows:
            self._row(row, wide)

    def _narrowest(
        self, header: Sequence[str], rows: Sequence[Sequence[Cell]], column: int, shrinks: bool
    ) -> int:
        widest = max(cell_len(header[column]), *(self._cells(row[column].words) for row in rows))
        return min(NARROWEST, widest) if shrinks else widest

    def _cells(self, words: str) -> int:
        return self.text(words).cell_len

    def _row(self, row: Sequence[Cell], widths: Sequence[int]) -> None:
        line = Text(" ")
        for cell, width in zip(row, widths, strict=True):
            words = cell.words if self._cells(cell.words) <= width else cell.least
            fitted = self.fit(words, width)
            line.append(" ").append(fitted, cell.style).append(" " * (width - cell_len(fitted) + 1))
        line.rstrip()
        line.truncate(self.width)
        self.lines.append(line)

    def print(self) -> None:
        """All lines to the console, as they are."""
        for line in self.lines:
            self.console.print(line, soft_wrap=True, highlight=False, markup=False, emoji=False)


def right(words: Sequence[str]) -> list[str]:
    """The words aligned at their right ends."""
    widest = max((cell_len(word) for word in words), default=0)
    return [" " * (widest - cell_len(word)) + word for word in words]
