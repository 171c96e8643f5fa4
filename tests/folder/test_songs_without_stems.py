"""A song without a stem cannot be played: it is listed as a song, and the show is incomplete."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile
from rich.console import Console

from audit.findings import Verdict
from audit.folder.walk import walk
from audit.pipeline.scan import scan_show
from audit.report.terminal import print_report
from tests.folder.trees import passed, plant, songs

pytestmark = pytest.mark.usefixtures("quick_workers")

NUMBERED = ("01 - Ebb/Click.wav", "02 - Salt Road/Click.wav", "03 - Lighthouse/Click.wav")
BY_NAME = ("Ebb/Click.wav", "Salt Road/Click.wav")


def with_folder(tmp_path: Path, files: tuple[str, ...], folder: str, *content: str) -> Path:
    root = plant(tmp_path / "Show", *files, *(f"{folder}/{file}" for file in content))
    (root / folder).mkdir(parents=True, exist_ok=True)
    return root


@pytest.mark.parametrize(
    ("files", "folder", "content"),
    [
        (NUMBERED, "04 - Night Ferry", ()),
        (NUMBERED, "04 - Night Ferry", ("chart.pdf",)),
        (NUMBERED, "04 - Night Ferry", ("Night Ferry.rpp",)),
        (NUMBERED, "04 - Lights", ()),
        (NUMBERED, "04 - Drums", ()),
        (BY_NAME, "Night Ferry", ()),
        (BY_NAME, "Night Ferry", (".DS_Store",)),
    ],
)
def test_a_song_without_stems_is_listed_as_one(
    tmp_path: Path, files: tuple[str, ...], folder: str, content: tuple[str, ...]
):
    show = walk(with_folder(tmp_path, files, folder, *content))
    assert songs(show)[folder] == []
    assert len(show.songs) == len(files) + 1
    (entry,) = [entry for entry in show.passed_over if entry.unread]
    assert (entry.path, entry.song) == (folder, folder)
    assert "holds no stems: copy them in, or delete the folder" in entry.reason


def test_a_song_of_empty_folders_is_one(tmp_path: Path):
    root = with_folder(tmp_path, BY_NAME, "Night Ferry/Stems")
    assert songs(walk(root))["Night Ferry"] == []


@pytest.mark.parametrize(
    ("files", "folder", "content"),
    [
        (NUMBERED, "Artwork", ("cover.png",)),
        (NUMBERED, "00 - Docs", ("rider.pdf",)),
        (NUMBERED, "Night Ferry", ()),  # the songs are numbered, and this is not
        (NUMBERED, "04 - Old", ()),
        (BY_NAME, "Artwork", ()),
        (BY_NAME, "Stage Plot", ()),
        (BY_NAME, "New Folder", ()),
        (BY_NAME, "Old", ()),
        (BY_NAME, "Stems", ()),
        (BY_NAME, "Harbour", ("map.pdf",)),  # somebody keeps something else in it
    ],
)
def test_what_is_no_song_is_passed_over(
    tmp_path: Path, files: tuple[str, ...], folder: str, content: tuple[str, ...]
):
    show = walk(with_folder(tmp_path, files, folder, *content))
    assert len(show.songs) == len(files)
    assert folder in passed(show)
    assert not any(entry.unread for entry in show.passed_over)


def test_the_show_is_incomplete_and_the_report_says_which_song(tmp_path: Path):
    root = tmp_path / "Show"
    for name in ("Ebb", "Salt Road", "Night Ferry"):
        (root / name).mkdir(parents=True)
    noise = 0.1 * np.random.default_rng(5).standard_normal((48_000, 1))
    for name in ("Ebb", "Salt Road"):
        soundfile.write(root / name / "Bass.wav", noise, 48_000, subtype="PCM_24")
    audit = scan_show(root, jobs=1)
    verdicts = {song.evidence.name: audit.verdict(song) for song in audit.songs}
    assert verdicts["Night Ferry"] is Verdict.INCOMPLETE
    assert audit.incomplete
    assert not [finding for finding in audit.all_findings() if "Night Ferry" in finding.songs]
    paper = io.StringIO()
    print_report(audit, Console(file=paper, width=100))
    text = paper.getvalue()
    assert "no fault in" not in text
    assert "Night Ferry: looks like a song and holds no stems: copy them in, or delete the folder" in text
    assert text.count("holds no stems") == 1
