"""Tables as CSV that spreadsheets take as text and nothing else."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from audit.report.words import visible

Value: TypeAlias = "str | int | float | bool | None"

BYTE_ORDER_MARK = "\ufeff"
"""Without it, common spreadsheets read UTF-8 as something else."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""How cells begin that spreadsheets run (OWASP: CSV Injection); their full-width forms too."""


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    """RFC 4180 with a byte order mark; numbers with a point and in full, nothing for None, NaN and −inf."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([cell(value) for value in row] for row in rows)
    return BYTE_ORDER_MARK + file.getvalue()


def cell(value: Value) -> str:
    """A value as a cell. Texts that would be run as formulas get an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if not math.isfinite(value):
            return ""
        return repr(round(value, 6)) if isinstance(value, float) else str(value)
    text = visible(value)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text
