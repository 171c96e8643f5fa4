"""CSV tables: whole, numbers as numbers, no cell that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
import math

import pytest

from audit.report.csv_text import BYTE_ORDER_MARK, cell, csv_text
from audit.report.names import TABLES_BEGIN
from audit.report.tables import tables
from tests.evidence import song, stem
from tests.report.samples import audit_of, faulty_audit, finding, hostile_audit


def read(text: str) -> list[dict[str, str]]:
    assert text.startswith(BYTE_ORDER_MARK)
    return list(csv.DictReader(io.StringIO(text[1:])))


@pytest.mark.parametrize(
    "text",
    ["=cmd()", "+1", "-2+3", "@SUM(A1)", "  =A1", "＝A1", '=HYPERLINK("http://x","y")', "-", "=\n=1"],
)
def test_what_a_spreadsheet_would_run_gets_an_apostrophe(text):
    """The characters are OWASP's, page CSV Injection."""
    assert cell(text).startswith("'")


@pytest.mark.parametrize("text", ["\tcmd", "\r=1", "\n=1"])
def test_control_characters_that_begin_a_formula_are_escapes(text):
    assert cell(text).startswith("\\")


@pytest.mark.parametrize("text", ["Bass.wav", "3 - Rain", "a=b", "it's", "'quoted", ""])
def test_other_texts_stay_as_they_are(text):
    assert cell(text) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (-18.25, "-18.25"),
        (48000, "48000"),
        (None, ""),
        (-math.inf, ""),
        (math.nan, ""),
        (True, "yes"),
        (0.1, "0.1"),
    ],
)
def test_numbers_are_numbers(value, text):
    assert cell(value) == text


def test_a_table_reads_back_as_it_was():
    rows = [("a,b", 'say "x"', -1.5), ("two\nlines", "é", None)]
    read_back = list(csv.reader(io.StringIO(csv_text(("x", "y", "z"), rows)[1:])))
    assert read_back == [["x", "y", "z"], ["a,b", 'say "x"', "-1.5"], ["two\\nlines", "é", ""]]


def test_every_stem_song_and_finding_has_its_row():
    audit = faulty_audit()
    made = {name: read(text) for name, text in tables(audit).items()}
    assert [row["stem"] for row in made["stems.csv"]] == [
        stem.name for song in audit.evidence.songs for stem in song.stems
    ]
    assert [row["song"] for row in made["songs.csv"]] == [song.evidence.name for song in audit.songs]
    assert len(made["findings.csv"]) == len(list(audit.all_findings()))
    bass = next(row for row in made["stems.csv"] if row["stem"] == "Bass.wav" and row["errors"] != "0")
    assert (bass["integrated_lufs"], bass["channels"], bass["length_s"]) == ("-18.0", "2", "60.0")
    first = made["findings.csv"][0]
    assert (first["severity"], first["rule"], first["at_s"]) == ("error", "truncated-file", "61.25")
    vane = next(row for row in made["songs.csv"] if row["song"].startswith("02"))
    assert (vane["verdict"], vane["errors"], vane["unanswered"]) == ("error", "2", "3")


def test_a_later_run_knows_its_own_tables():
    for name, text in tables(faulty_audit()).items():
        assert text.removeprefix(BYTE_ORDER_MARK).startswith(TABLES_BEGIN[name])


def test_hostile_names_are_harmless_everywhere():
    name = "=cmd|' /C calc'!A0"
    audit = audit_of(song(name, stem(name + ".wav")), findings=(finding("dropout", "error", name, (name,)),))
    for text in (*tables(audit).values(), *tables(hostile_audit()).values()):
        for row in csv.reader(io.StringIO(text[1:])):
            for value in row:
                number = value.lstrip("-").replace(".", "").replace("e", "").isdigit()
                assert number or not value.startswith(("=", "+", "-", "@"))
                assert value.isprintable()
