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


DIGITS = {
    "_lufs": 2, "_lu": 2, "_dbtp": 2, "_dbfs": 2, "_ms": 2, "_s": 3, "_ppm": 1, "bpm": 2, "dc_offset": 6,
    "value": 3, "limit": 3, "confidence": 2, "load_percent": 1,
}  # fmt: skip
"""Digits after the point, by how a column's name ends; others have six."""


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Value]]) -> str:
    """RFC 4180 with a byte order mark; numbers with a point, rounded as DIGITS says; nothing for None, NaN
    and −inf."""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(columns)
    digits = [next((many for end, many in DIGITS.items() if name.endswith(end)), 6) for name in columns]
    writer.writerows([cell(value, many) for value, many in zip(row, digits, strict=True)] for row in rows)
    return BYTE_ORDER_MARK + file.getvalue()


def cell(value: Value, digits: int = 6) -> str:
    """A value as a cell. Texts that would be run as formulas get an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        if not math.isfinite(value):
            return ""
        return repr(round(value, digits) + 0.0) if isinstance(value, float) else str(value)
    text = visible(value)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text
