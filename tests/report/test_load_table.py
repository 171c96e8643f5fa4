"""`stemaudit load` on the terminal: what would help, who waits for the same, what was not counted."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from audit.report.load_table import print_load
from audit.report.load_words import cure_words
from audit.results.load import LoadCure, Resource, SongForecast
from tests.report.test_load_section import forecast


def table(*songs: SongForecast, verbose: bool = False) -> str:
    paper = io.StringIO()
    print_load([songs], Console(file=paper, width=100, no_color=True), verbose=verbose)
    return " ".join(paper.getvalue().split())


@pytest.mark.parametrize(
    ("saves", "enough", "words"),
    [
        (0.05, True, "x: saves 5.0 % of disk and is enough"),
        (0.05, False, "x: saves 5.0 % of disk, not enough alone"),
        (-0.0004, True, "x: then it fits"),  # a larger buffer
        (0.003, True, "x: then it fits"),
        (0.0, False, "x"),
    ],
)
def test_what_saves_nothing_is_not_said_to_save(saves: float, enough: bool, words: str):
    cure = LoadCure(text="x", resource=Resource.DISK, saves=saves, enough=enough)
    assert cure_words(forecast("A", 0.4), cure) == words


def mended(song: str, used: float, text: str) -> SongForecast:
    cure = LoadCure(text=text, resource=Resource.DISK, saves=0.3, enough=True)
    return replace(forecast(song, used), cures=(cure,))


def test_songs_that_one_thing_mends_are_told_once():
    songs = (mended("A", 0.6, "merge"), mended("B", 0.9, "merge"), mended("C", 0.7, "convert"))
    said = table(*songs)
    assert said.count("→ merge") == said.count("→ convert") == 1
    assert "B on FOH: tight, the heaviest song" in said
    assert "So it is with A." in said
    assert table(*songs, verbose=True).count("→ merge") == 2


def test_what_was_not_counted_is_named_though_all_fits():
    said = table(forecast("A", 0.1), replace(forecast("B", 0.05), unread=("Pad.wav",)))
    assert "Not counted, as it cannot be read: B, Pad.wav." in said


def test_only_a_rehearsal_settles_what_was_measured():
    tight = forecast("A", 0.45, 0.6)
    assert "To settle it, rehearse it on that machine" in table(tight)
    assert "measure how fast its disk reads: stemaudit probe" in table(replace(tight, settles="disk.B"))
    assert "the player's own load: stemaudit calibrate" in table(replace(tight, settles="cpu.a0"))
