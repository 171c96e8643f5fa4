"""A show whose names attack whoever shows them: every report is written, valid and harmless."""

from __future__ import annotations

import csv
import io
import json
import os
import re

import pytest

from tests.cli.folders import clip, write_tone
from tests.cli.warm import run

NAMES = (
    "<script>alert(1)<script>",
    '"><img src=x onerror=alert(1)>',
    "=cmd('calc')",
    "@SUM(A1)",
    "[red]loud[-red]",
    "\x1b[31mred\x1b]0;title\x07",
    "rain\u202efdp.vaw",
    "two\nlines\rand\ttabs",
    "x" * 240,
    "drums 🥁 кириллица 日本語 café",
    "{{ 7 * 7 }}{% raw %}",
    "`rm -rf`$(reboot)",
)


@pytest.fixture(scope="module")
def show(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hostile") / "-rf <b>show</b>".replace("/", "∕")
    for number, name in enumerate(NAMES):
        song = folder / name
        clip(song / f"{name[:200]}.wav")
        write_tone(song / "Keys.wav", freq_hz=330.0 + number, seed=number)
    return folder


@pytest.fixture(scope="module")
def written(show):
    out = show.parent
    done = run(
        "scan", show, "--json", out / "r.json", "--html", out / "r.html", "--with-audio", "--rebounce",
        out / "again.md", "--csv", out / "tables",
    )  # fmt: skip
    assert (done.returncode, done.stderr.count("Traceback")) == (1, 0), done.stderr
    again = run("scan", show, "--rebounce", out / "again.csv")
    sheet = ("--pdf", out / "s.pdf", "--html", out / "s.html", "--csv", out / "s.csv")
    made = run("sheet", show, *sheet)
    assert made.returncode == 0, made.stderr
    (out / "terminal.txt").write_text(done.stdout + again.stdout + made.stdout, encoding="utf-8")
    return out


FILES = (
    "r.json", "r.html", "again.md", "again.csv", "tables/stems.csv", "tables/songs.csv",
    "tables/findings.csv", "s.html", "s.csv", "terminal.txt",
)  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_nothing_steers_or_turns_the_line(written, name):
    text = (written / name).read_text(encoding="utf-8")
    assert len(text) > 100
    assert "\x1b" not in text
    assert "\x07" not in text
    if name != "r.json":  # JSON holds names as they are, its own escapes apart
        assert "\u202e" not in text


def test_the_json_gives_the_names_back(written):
    songs = json.loads((written / "r.json").read_text(encoding="utf-8"))["songs"]
    assert {song["name"] for song in songs} == set(NAMES)


@pytest.mark.parametrize("name", ["r.html", "s.html"])
def test_the_pages_hold_no_tag_of_a_name(written, name):
    page = (written / name).read_text(encoding="utf-8")
    assert len(re.findall(r"<script", page)) == (1 if name == "r.html" else 0)
    assert "<img" not in page
    assert "{{ 7 * 7 }}{% raw %}" in page  # as it stands, not worked out


@pytest.mark.parametrize("name", [name for name in FILES if name.endswith(".csv")])
def test_no_cell_is_a_formula(written, name):
    rows = list(csv.reader(io.StringIO((written / name).read_text(encoding="utf-8-sig"))))
    assert len(rows) > len(NAMES)
    assert len({len(row) for row in rows}) == 1
    texts = [cell for row in rows for cell in row if not re.fullmatch(r"-?[\d.]+(e-?\d+)?", cell)]
    assert not [cell for cell in texts if cell.startswith(("=", "+", "-", "@"))]


def test_the_markdown_has_no_tag_and_no_emphasis_of_a_name(written):
    text = (written / "again.md").read_text(encoding="utf-8")
    assert not re.search(r"(?<!\\)<(script|img|b)", text)
    assert text.count("### ") == len(NAMES)


def test_the_sheet_is_a_pdf(written):
    assert (written / "s.pdf").read_bytes().startswith(b"%PDF-")


def test_the_show_is_as_it_was(show, written):
    assert sum(len(files) for _, _, files in os.walk(show)) == 2 * len(NAMES)
