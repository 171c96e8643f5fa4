"""The manifest of reference_audio/ tells of every file beside it, and the truth."""

from __future__ import annotations

import csv
import hashlib
from pathlib import Path

FOLDER = Path(__file__).parent.parent.parent / "reference_audio"
MANIFEST = "manifest.csv"


def read_manifest() -> list[dict[str, str]]:
    lines = (FOLDER / MANIFEST).read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) >= 5
    return rows


def test_every_row_is_complete():
    for row in read_manifest():
        assert None not in row
        assert all(row.values()), row
        assert (row["file"] == "-") == (row["sha256"] == "-")


def test_files_and_rows_match():
    listed = {row["file"]: row["sha256"] for row in read_manifest() if row["file"] != "-"}
    present = {path.name: path for path in FOLDER.iterdir() if path.name != MANIFEST}
    assert set(present) == set(listed)
    for name, path in present.items():
        assert hashlib.sha256(path.read_bytes()).hexdigest() == listed[name]
