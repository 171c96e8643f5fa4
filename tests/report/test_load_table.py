"""`stemaudit load` on the terminal: what would help, who waits for the same, what was not counted."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console

from audit.report.load_table import print_load
from audit.report.load_words import cure_words
from audit.results.load import LoadCure, PastRehearsal, Range, Resource, ResourceUse, SongForecast
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


def test_a_very_long_name_is_shortened_in_its_middle():
    """As in tables: the end of a name often is what tells it from another."""
    long = "Opening " + "of the long and winding fog " * 8 + "reprise"
    paper = io.StringIO()
    heavy, light = mended(f"{long} 1", 0.9, "merge"), mended(f"{long} 2", 0.6, "merge")
    unread = replace(forecast(f"{long} 3", 0.1), unread=(f"{long}.wav",))
    songs = [
        replace(each, machine="Stage left, " + "the old laptop " * 8 + "here")
        for each in (heavy, light, unread)
    ]
    print_load([songs], Console(file=paper, width=100, no_color=True))
    text = paper.getvalue()
    heading = next(line for line in text.splitlines() if line.startswith("Opening") and " on Stage" in line)
    assert "…" in heading
    assert "reprise 1 on Stage left" in heading
    assert ": tight" in heading
    said = " ".join(text.split())
    for words in ("So it is with Opening of", "as it cannot be read: Opening of"):
        sentence = said.split(words)[1].split(". ")[0]
        assert "reprise" in sentence
        assert len(sentence) <= 100
    narrow = io.StringIO()
    print_load([[forecast(long, 0.1)]], Console(file=narrow, width=40, no_color=True))
    assert all(len(line) <= 40 for line in narrow.getvalue().splitlines())


@pytest.mark.parametrize(
    ("show", "song", "words"),
    [
        ("Autumn Run", "B", '\n  stemaudit rehearse "Autumn Run" --song B'),
        (".", "Harbour of Coats", '\n  stemaudit rehearse . --song "Harbour of Coats"'),
        ("", "B", " stemaudit rehearse."),
        ("Run", "B\x1b[2J", " stemaudit rehearse."),
        ("Run" * 30, "B", " stemaudit rehearse."),
    ],
)
def test_the_command_that_rehearses_the_heaviest_song(show: str, song: str, words: str):
    paper = io.StringIO()
    print_load([[forecast("A", 0.1), forecast(song, 0.2)]], Console(file=paper, width=100), show=show)
    text = paper.getvalue().rstrip()
    assert (text if words[0] == "\n" else " ".join(text.split())).endswith(words)


def test_only_a_rehearsal_settles_what_was_measured():
    tight = forecast("A", 0.45, 0.6)
    assert "To settle it, rehearse it on that machine" in table(tight)
    assert "measure how fast its disk reads: stemaudit probe" in table(replace(tight, settles="disk.B"))
    assert "the player's own load: stemaudit calibrate" in table(replace(tight, settles="cpu.a0"))


def late(low_ms: float, value_ms: float, high_ms: float) -> SongForecast:
    """A buffer of 5.33 ms, and what it takes with how late the machine gets to it."""
    use = ResourceUse(
        resource=Resource.WAKING, used=Range(low=low_ms / 1e3, value=value_ms / 1e3, high=high_ms / 1e3),
        limit=5.33e-3, capacity=5.33e-3, unit="s",
    )  # fmt: skip
    return replace(forecast("A", 0.1), uses=(use,))


@pytest.mark.parametrize(
    ("made", "words"),
    [
        (late(0.2, 0.4, 0.6), "fits 8 % lateness"),
        (late(0.2, 5.0, 6.0), "tight 94 % lateness"),
        (late(0.2, 30.55, 40.0), "doubtful 4 to 573 % lateness"),
        (late(5.4, 30.55, 40.0), "over 573 % lateness"),
    ],
)
def test_what_is_called_tight_takes_no_more_than_there_is(made: SongForecast, words: str):
    said = table(made)
    assert words in said
    assert "tight 573" not in said
    assert ("FOH is doubtful in 1 of 1 song" in said) is words.startswith("doubtful")


def test_a_rehearsal_that_failed_is_said_in_a_players_words():
    past = PastRehearsal(song="A", clean=False, day="2026-11-20", frames=256)
    said = table(replace(forecast("A", 0.1), rehearsed=past))
    assert "over: dropped out in rehearsal" in said
    assert "Rehearsed on 2026-11-20: it dropped out, with a buffer of 256 frames: this counts" in said
    assert "dirty" not in said


def test_a_bar_says_the_share_that_the_table_says():
    said = table(forecast("A", 0.4))
    (share,) = set(re.findall(r"fits (\d+ %) disk", said))
    assert f"{share} of its limit: 40 % of " in said
    assert "Percentages there are of the limit" in said
