"""Reads the tables of expected values that lie beside the tests."""

from __future__ import annotations

import csv
from pathlib import Path

HERE = Path(__file__).parent


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of a CSV file of this folder; lines that begin with # are notes. Never empty."""
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if line and not line.startswith("#")))
    assert rows, f"{name} holds no row"
    assert all(None not in row and None not in row.values() for row in rows), f"{name}: a ragged row"
    return rows
