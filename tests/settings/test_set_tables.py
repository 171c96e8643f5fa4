"""Set lists as a spreadsheet saves them: commas, semicolons or tabs between columns, heads above or none."""

from __future__ import annotations

import csv
import io
import time

import pytest

from audit.settings.setlist import halves_of
from audit.settings.song_table import song_column
from tests.settings.test_sets_as_people_type_them import FERRY, TIDE, laid, parts

SET = [TIDE, "Plan B", FERRY]


@pytest.mark.parametrize(
    "text",
    [
        "No;Song;Key;BPM\n1;Low Tide;A;120\n2;Plan B;C#m;98\n3;\"Night Ferry\";E;140\n",
        'Pos,Title,Key,Tempo,Notes\n1,Low Tide,A,120,\n2,"Plan B",C#m,98,"x, y"\n3,Night Ferry,E,140,\n',
        "#,Song,Length,Singer\n1,Low Tide,3:45,Mara\n2,Plan B,4:10,Jon\n3,Night Ferry,4:10,Jon\n",
        "#\tSong\tLength\tSinger\n1\tLow Tide\t3:45\tMara\n2\tPlan B\t4:10\tJon\n3\tNight Ferry\t4:10\tJon\n",
        "Song,Key,Lights\nLow Tide,A,blue\nPlan B,C,red\nNight Ferry,E,\n",
        "Key;Song\nA;Low Tide\nC;Plan B\nE;Night Ferry\n",
        "1,Low Tide,A,120\n2,Plan B,Am,98\n3,Night Ferry,E,140\n",
        "1;Low Tide;Anna starts\n2;Plan B;\n3;Night Ferry;count of 4\n",
        "\n\nSong;Key\nLow Tide;A\nPlan B;C\nNight Ferry;E",
    ],
)  # fmt: skip
def test_the_songs_of_a_table_are_read(text: str):
    assert parts(laid(text)) == [SET]


def test_empty_rows_and_headings_of_a_table_begin_a_part():
    order = laid("No;Song;Key\n1;Low Tide;A\n;;\n2;Plan B;C\n;Break (20 min);\n3;Night Ferry;E\n")
    assert parts(order) == [[TIDE], ["Plan B"], [FERRY]]


def test_rows_without_a_song_in_its_column_say_what_else_they_say():
    order = laid("No;Song;Key\n1;Low Tide;A\nEncore;;\n3;Plan B;C\n4;;A\nNight Ferry;;E\n")
    assert parts(order) == [[TIDE], ["Plan B"], [FERRY]]
    assert [entry.name for entry in order.headings] == ["Encore"]


def test_what_a_table_lacks_on_the_disk_is_told_with_its_line():
    order = laid("No;Song;Key\n1;Low Tide;A\n2;Plan C;C\n3;Night Ferry;E\n")
    assert [(place.name, place.line, place.near) for place in order.missing] == [("Plan C", 3, "Plan B")]


@pytest.mark.parametrize(
    "text",
    [
        "Low Tide, Anna starts\nPlan B, quietly\nNight Ferry\n", "1, 2, Three Seas\nLow Tide\n",
        "Song Key\nLow Tide A\n", "Song\nLow Tide\n", "1. Low Tide\n2. Plan B, slow\n",
        "No\tSong\tNo\tSong\n1\tLow Tide\t3\tPlan B\n2\tNight Ferry\t4\tTin Roof\n", "Song;Key\n", "",
    ],
)  # fmt: skip
def test_what_is_no_table_stays_as_it_is(text: str):
    assert song_column(text) == text


def test_songs_side_by_side_under_two_heads_are_both_read():
    text = "No\tSong\tNo\tSong\n1\tLow Tide\t3\tNight Ferry\n2\tTin Roof\t4\t99 Miles\n"
    assert parts(laid(text)) == [[TIDE, "Tin Roof", FERRY, "99 Miles"]]


def test_it_reads_what_pythons_csv_writes():
    """RFC 4180, as the csv module of Python writes it; names with the sign in them stand in quotes."""
    for sign in (",", ";", "\t"):
        file = io.StringIO()
        csv.writer(file, delimiter=sign).writerows(
            [("Key", "Title"), ("A", f'Rain{sign} "Again"'), ("B", "Low Tide"), ("C", "Plan B")]
        )
        rows = song_column(file.getvalue()).splitlines()
        assert rows == ["", f'Rain{sign} "Again"', "Low Tide", "Plan B"]


def test_hostile_tables_take_no_time():
    began = time.process_time()
    for piece in ("Song,Key,", '"', '1,"', ";", "1;a;", "\0,"):
        halves_of("\n".join(piece * (290 // len(piece)) for _ in range(300)) + "\nSong,Key" + "," * 100_000)
    assert time.process_time() - began < 5.0
