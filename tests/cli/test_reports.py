"""The files that scan and sheet write: whole, where they were asked for, over nothing else."""

from __future__ import annotations

import base64
import csv
import io
import json
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audit.cli.day import day_words, today_words
from tests.cli.command import CACHES
from tests.cli.folders import RATE_HZ, clip, write_show
from tests.cli.warm import run

DAY = "1790000000"  # 21 September 2026


def again(*words: str | Path, **extra: str) -> subprocess.CompletedProcess[str]:
    """As `run`, with what earlier ones of this module heard: what is written, and where, is asked here. That
    it is the same without a memory is asked by `test_two_runs_give_the_same_bytes` and test_cache.py."""
    return run(*words, STEMAUDIT_CACHE_DIR=f"{CACHES.name}/reports", **extra)


@pytest.fixture(scope="module")
def show(tmp_path_factory):
    folder = write_show(tmp_path_factory.mktemp("reports") / "Summer Run", seconds=6.0)
    clip(folder / "Night Ferry" / "Bass.wav")
    return folder


@pytest.fixture(scope="module")
def written(show):
    out = show.parent
    done = run(
        "scan", show, "--html", out / "r.html", "--with-audio", "--rebounce", out / "again.md", "--csv",
        out / "tables", SOURCE_DATE_EPOCH=DAY,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr
    said = done.stdout.splitlines()[-3:]
    assert said == [f"Written: {out / name}" for name in ("r.html", "again.md", "tables")]
    return out


def test_every_file_that_is_written_is_named_beside_the_data(show, tmp_path):
    page, table = tmp_path / "r.html", tmp_path / "load.json"
    done = again("scan", show, "--json", "-", "--html", page)
    assert done.stderr.splitlines()[-1] == f"Written: {page}"
    json.loads(done.stdout)
    assert "Written" not in again("scan", show, "--html", page, "--quiet").stdout
    done = again("load", show, "--machine", "laptop-8core-nvme", "--json", table)
    assert done.stdout.splitlines()[-1] == f"Written: {table}"
    done = again("compare", show, show, "--json", tmp_path / "c.json")
    assert done.stdout.splitlines()[-1] == f"Written: {tmp_path / 'c.json'}"


def test_the_page_holds_the_verdict_the_fault_its_place_and_the_day(written):
    page = (written / "r.html").read_text(encoding="utf-8")
    assert "<h1>Not ready.</h1>" in page
    assert "Sample clipping" in page
    assert "checked 21 September 2026" in page
    assert 'class="wave"' in page
    assert page.endswith("</html>\n")


def test_the_clip_in_the_page_is_within_the_caps(written):
    page = (written / "r.html").read_text(encoding="utf-8")
    clips = re.findall(r'src="data:audio/flac;base64,([^"]+)"', page)
    assert clips
    for data in clips:
        samples, rate_hz = sf.read(io.BytesIO(base64.b64decode(data)))
        assert rate_hz == RATE_HZ
        assert len(samples) == 8 * RATE_HZ
        assert 20 * np.log10(np.abs(samples).max()) <= -12.0


def test_without_audio_the_page_gives_the_command_instead(show, tmp_path):
    again("scan", show, "--html", tmp_path / "r.html")
    page = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert "data:audio" not in page
    assert "stemaudit hear " in page


def test_two_runs_give_the_same_bytes(show, written, tmp_path):
    run("scan", show, "--html", tmp_path / "r.html", "--with-audio", SOURCE_DATE_EPOCH=DAY)
    assert (tmp_path / "r.html").read_bytes() == (written / "r.html").read_bytes()


def test_the_list_and_the_tables_name_the_clipped_stem(written):
    assert "**Bass.wav**" in (written / "again.md").read_text(encoding="utf-8")
    with (written / "tables" / "findings.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert ("sample-clipping", "Bass.wav") in {(row["rule"], row["stem"]) for row in rows}
    assert sorted(path.name for path in (written / "tables").iterdir()) == [
        "findings.csv", "songs.csv", "stems.csv",
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["md", "txt", "csv"])
def test_reports_are_replaced_by_later_ones(show, tmp_path, kind):
    words = ("scan", show, "--html", tmp_path / "r.html", "--rebounce", tmp_path / f"again.{kind}", "--csv",
             tmp_path / "tables")  # fmt: skip
    assert again(*words).returncode == 1
    first = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    assert len(first) == 5
    done = again(*words)
    assert done.returncode == 1, done.stderr
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == first


@pytest.mark.parametrize(
    ("option", "name", "why"),
    [
        ("--html", "Bass.wav", "ends in .html or .htm"),
        ("--html", "out.txt", "ends in .html or .htm"),
        ("--html", "out", "ends in .html or .htm"),
        ("--html", "", "--html: no file is named"),
        ("--html", "other.html", "no page of stemaudit"),
        ("--rebounce", "notes.md", "no list of stemaudit"),
        ("--rebounce", "again.pdf", ".md, .txt or .csv"),
        ("--csv", "Bass.wav", "is a file"),
        ("--html", "nowhere/r.html", "does not exist"),
        ("--csv", "nowhere/tables", "does not exist"),
    ],
)
def test_what_cannot_be_written_is_said_before_the_scan(show, tmp_path, option, name, why):
    contents = {"Bass.wav": "RIFF", "other.html": "<!DOCTYPE html><p>mine", "notes.md": "# Notes"}
    for file, text in contents.items():
        (tmp_path / file).write_text(text)
    done = again("scan", show, option, tmp_path / name if name else "")
    assert done.returncode == 2
    assert why in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == contents


@pytest.mark.parametrize(
    "words", [("--html", "Night Ferry/r.html"), ("--csv", "Night Ferry"), ("--rebounce", "Tin Roof/a.md")]
)
def test_no_report_is_written_among_stems(show, words):
    before = sorted(show.rglob("*"))
    done = again("scan", show, words[0], show / words[1])
    assert done.returncode == 2
    assert "lies in the song" in done.stderr
    assert sorted(show.rglob("*")) == before


def test_audio_without_a_page_is_a_wrong_argument(show):
    done = again("scan", show, "--with-audio")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--html" in done.stderr


# --- sheet ------------------------------------------------------------------------------------------


def test_the_sheet_comes_in_all_kinds_in_the_set_lists_order(show, tmp_path):
    (tmp_path / "tonight.txt").write_text("1. Tin Roof\nRain\n\nNight Ferry\n", encoding="utf-8")
    kinds = ("--pdf", tmp_path / "s.pdf", "--html", tmp_path / "s.html", "--csv", tmp_path / "s.csv")
    done = again("sheet", show, "--set", tmp_path / "tonight.txt", *kinds, SOURCE_DATE_EPOCH=DAY)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF-")
    assert "Interval" in (tmp_path / "s.html").read_text(encoding="utf-8")
    with (tmp_path / "s.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["song"] for row in rows] == ["Tin Roof", "Rain", "Night Ferry"]
    assert [row["bad"] for row in rows] == ["no", "yes", "yes"]
    assert rows[1]["warning"] == "not on the disk"


def test_the_sheet_comes_to_the_terminal_without_a_file(show):
    done = again("sheet", show)
    assert done.returncode == 0
    assert "Night Ferry" in done.stdout
    assert "Bass: clipped" in done.stdout


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--set", "Night 7"), "no set list has this name"),
        (("--paper", "a3"), "a4 and letter"),
        (("--pdf", "nowhere/s.pdf"), "does not exist"),
        (("--html", "nowhere/s.htm"), "does not exist"),
        (("--html", "sheet.pdf"), "--html sheet.pdf: a page's name ends in .html or .htm"),
        (("--html", ""), "--html: no file is named"),
    ],
)
def test_a_wrong_sheet_argument_is_one_line(show, words, why):
    done = again("sheet", show, *words)
    assert done.returncode == 2
    assert why in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_the_day_is_told_in_words(monkeypatch):
    from datetime import date

    assert day_words(date(2026, 2, 3)) == "3 February 2026"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert today_words() == "1 January 1970"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "soon")
    assert today_words() == day_words(date.today())
