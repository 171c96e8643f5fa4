"""Set lists with songs side by side, and with lines that are no songs."""

from __future__ import annotations

import time

import pytest

from audit.settings.model import SetList
from audit.settings.order import RunningOrder, running_order
from audit.settings.setlist import halves_of

SONGS = (
    "01 - Low Tide", "02 - Night Ferry", "Tin Roof", "99 Miles", "Plan", "Plan B", "Slow Escalator",
    "Break Away",
)  # fmt: skip
TIDE, FERRY = SONGS[:2]


def laid(text: str, *more: str) -> RunningOrder:
    songs = [(song, (song, song.split(" - ")[-1])) for song in (*SONGS, *more)]
    return running_order(SetList(name="Tonight", halves=halves_of(text)), songs)


def parts(order: RunningOrder) -> list[list[str]]:
    """The songs by part; one that is not on the disk as it is written."""
    found: dict[int, list[str]] = {}
    for place in order.places:
        found.setdefault(place.half, []).append(place.song or f"? {place.name}")
    return list(found.values())


FOUR = [[TIDE, "Tin Roof", FERRY, "99 Miles"]]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("1. Low Tide\t9. Night Ferry\n2. Tin Roof\t10. 99 Miles\n", FOUR),
        ("1. Low Tide       9. Night Ferry\n2. Tin Roof       10. 99 Miles\n", FOUR),
        ("1) Low Tide  9) Night Ferry\n2) Tin Roof  10) 99 Miles\n", FOUR),
        ("1 - Low Tide    9 - Night Ferry\n2 - Tin Roof    10 - 99 Miles\n", FOUR),
        ("1 Low Tide     3 Night Ferry\n2 Tin Roof     4 99 Miles\n", FOUR),
        ("☐ 1. Low Tide    ☐ 3. Night Ferry\n☐ 2. Tin Roof    ☐ 4. 99 Miles\n", FOUR),
        ("1\tLow Tide\tDm\t3\tNight Ferry\tE\n2\tTin Roof\t\t4\t99 Miles\tF\n", FOUR),
        ("1. Low Tide\tDm\t3. Night Ferry\tE\n2. Tin Roof\t\t4. 99 Miles\n", FOUR),
        ("Low Tide\tNight Ferry\nTin Roof\t99 Miles\n", FOUR),
        ("Low Tide      Night Ferry\nTin Roof      99 Miles\n", FOUR),
        ("• Low Tide    • Night Ferry\n• Tin Roof    • 99 Miles\n", FOUR),
        # across, as the numbers say
        ("1. Low Tide   2. Tin Roof\n3. Night Ferry   4. 99 Miles\n", FOUR),
        # three columns; an uneven one; one of which the second goes on alone
        ("1. Low Tide   3. Plan   5. Plan B\n2. Tin Roof   4. 99 Miles\n",
         [[TIDE, "Plan", "Plan B", "Tin Roof", "99 Miles"]]),
        ("1. Low Tide   4. Night Ferry\n2. Tin Roof   5. 99 Miles\n3. Plan\n",
         [[TIDE, "Tin Roof", "Plan", FERRY, "99 Miles"]]),
        ("1. Low Tide    3. Night Ferry\n2. Tin Roof    4. 99 Miles\n               5. Plan\n6. Plan B\n",
         [[TIDE, "Tin Roof", FERRY, "99 Miles", "Plan", "Plan B"]]),
        # a part in each column; two parts of two columns; a heading within a column; the encore below
        ("Set 1\t\tSet 2\n1. Low Tide\t\t1. Night Ferry\n2. Tin Roof\t\t2. 99 Miles\n",
         [[TIDE, "Tin Roof"], [FERRY, "99 Miles"]]),
        ("Set 1     Set 2\nLow Tide     Night Ferry\nTin Roof     99 Miles\n",
         [[TIDE, "Tin Roof"], [FERRY, "99 Miles"]]),
        # a line of one song above the columns; a song in both parts; a number that is a song's own
        ("Set 1\tSet 2\nPlan\nLow Tide\tNight Ferry\nTin Roof\t99 Miles\n",
         [["Plan", TIDE, "Tin Roof"], [FERRY, "99 Miles"]]),
        ("Set 1\tSet 2\nLow Tide\tNight Ferry\nTin Roof\tLow Tide\n", [[TIDE, "Tin Roof"], [FERRY, TIDE]]),
        ("99 Miles   Low Tide\nTin Roof   Night Ferry\n", [["99 Miles", "Tin Roof", TIDE, FERRY]]),
        ("Set 1\tSet 2\n99 Miles\tPlan B\nLow Tide\tNight Ferry\nTin Roof\t\n",
         [["99 Miles", TIDE, "Tin Roof"], ["Plan B", FERRY]]),
        ("Set 1\n1. Low Tide   3. Tin Roof\n2. Plan   4. Plan B\nSet 2\n5. Night Ferry   6. 99 Miles\n",
         [[TIDE, "Plan", "Tin Roof", "Plan B"], [FERRY, "99 Miles"]]),
        ("1. Low Tide    3. Night Ferry\n2. Tin Roof    Encore:\n               4. 99 Miles\n",
         [[TIDE, "Tin Roof", FERRY], ["99 Miles"]]),
        ("1. Low Tide  3. Night Ferry\n2. Tin Roof  4. 99 Miles\n\nEncore\n5. Plan\n", [*FOUR, ["Plan"]]),
    ],
)  # fmt: skip
def test_songs_side_by_side_are_all_read(text: str, wanted: list[list[str]]):
    assert parts(laid(text)) == wanted


@pytest.mark.parametrize(
    ("text", "near"),
    [
        ("1. Low Tide\t9. Nihgt Ferry\n2. Tin Roof\t10. 99 Miles\n", FERRY),
        ("Low Tide     Night Ferry\nTin Roof     99 Mils\n", "99 Miles"),
    ],
)
def test_a_slip_in_the_second_column_is_told(text: str, near: str):
    order = laid(text)
    assert len(order.places) == 4
    assert [(place.song, place.near) for place in order.missing] == [(None, near)]


@pytest.mark.parametrize(
    "text",
    [
        "Low Tide\tDm\nNight Ferry\tE\n", "Low Tide    Dm\nNight Ferry    120 bpm\n",
        "1  Low Tide     Dm\n2  Night Ferry     3:45\n", "1 Low Tide     Anna starts\n2 Night Ferry\n",
        "1\tLow Tide\tDm\t120\tAnna starts\n2\tNight Ferry\tE\t98\tcount of 4\n",
        "1\tLow Tide\tDm\t4\tbars\n2\tNight Ferry\tE\t4\tbars\n",
        "Low Tide\tAnna starts\nNight Ferry\tno break\n", "Low Tide\tNight Ferry\nNight Ferry\tLow Tide\n",
        "1. Low Tide\tNight Ferry\n2. Night Ferry\tPlan\n",
    ],
)  # fmt: skip
def test_what_stands_beside_a_song_is_no_song(text: str):
    assert parts(laid(text)) == [[TIDE, FERRY]]


def test_a_name_with_a_number_in_it_stays_whole():
    name = "1. First  2. Second"
    assert parts(laid("Suite  2. Movement\nLow Tide\n", "Suite 2. Movement")) == [["Suite 2. Movement", TIDE]]
    assert parts(laid(f"{name}\n", "First", "Second")) == [["First", "Second"]]


@pytest.mark.parametrize(
    ("heading", "told"),
    [
        ("2. Break", True), ("2) Interval (20 min)", True), ("3. ENCORE!", True), ("10 min break", True),
        ("20-minute intermission", True), ("Changeover", True), ("--- interval ---", False),
        ("Encore:", False), ("Break: 20 min", True), ("Encore (if time)", True), ("Doors 19:00", True),
        ("Curfew 23:00", True), ("- break -", False), ("*** ENCORE ***", False),
    ],
)  # fmt: skip
def test_lines_that_are_no_songs_begin_a_part(heading: str, told: bool):
    order = laid(f"1. Low Tide\n{heading}\n3. Night Ferry\n")
    assert parts(order) == [[TIDE], [FERRY]]
    assert [entry.name for entry in order.headings] == ([heading] if told else [])


def test_a_song_called_like_a_counted_heading_is_that_song():
    assert parts(laid("1. Low Tide\n2. Break\n3. Plan\n", "Break")) == [[TIDE, "Break", "Plan"]]
    assert parts(laid("1. Low Tide\n2. Brake Away\n")) == [[TIDE, "? Brake Away"]]


@pytest.mark.parametrize(
    ("line", "song"),
    [
        ("TIN ROOF!", "Tin Roof"), ("Slow escalator...", "Slow Escalator"), ("2. Plan B, A, 140", "Plan B"),
        ("Plan B, 98.5", "Plan B"), ("20:35 Low Tide", TIDE), ("21:00 - Plan B - Dm", "Plan B"),
        ("99 Miles!", "99 Miles"),
    ],
)  # fmt: skip
def test_shouts_times_before_and_bare_tempi_are_no_part_of_a_name(line: str, song: str):
    assert parts(laid(f"{line}\n")) == [[song]]


def test_a_name_with_such_a_thing_in_it_goes_first():
    names = ("Tin Roof!", "Route, 66", "Stage 5", "9:15 Train")
    assert parts(laid("\n".join(names), "Route", *names)) == [list(names)]
    assert parts(laid("Show (if only)\nTin Roof\n", "Show (if only)")) == [["Show (if only)", "Tin Roof"]]


@pytest.mark.parametrize(
    ("line", "near"),
    [("Tin Roof - new intro", "Tin Roof"), ("3. Low Tide > Plan B", TIDE), ("Plan Bee, A, 140", "Plan B"),
     ("Plan B / Tin Roof", "Plan B"), ("x Tin Roof", "Tin Roof"), ("Plan - B side", "Plan B"),
     ("Nothing of ours, at all", None)],
)  # fmt: skip
def test_of_more_words_the_song_before_them_may_be_meant(line: str, near: str | None):
    """It is not taken for it: another one may well be called so."""
    (place,) = laid(f"{line}\n").places
    assert (place.song, place.near) == (None, near)


@pytest.mark.parametrize("heads", ["Friday\tSaturday", "Hall   Tent", "Early\tLate"])
def test_words_above_two_columns_head_them(heads: str):
    order = laid(f"{heads}\nLow Tide\tNight Ferry\nTin Roof\t99 Miles\n")
    assert parts(order) == [[TIDE, "Tin Roof"], [FERRY, "99 Miles"]]
    assert [entry.name for entry in order.headings] == heads.replace("   ", "\t").split("\t")


@pytest.mark.parametrize("first", ["Low Tied\tSaturday", "Friday\tNight Ferri"])
def test_what_is_nearly_a_song_above_columns_is_a_slip(first: str):
    order = laid(f"{first}\nTin Roof\t99 Miles\nPlan\tPlan B\n")
    assert len(order.missing) == 2
    assert order.headings == ()


@pytest.mark.parametrize("line", ["Encore: Plan B", "ENCORE 1: 4. Plan B", "Set 2: Plan - B"])
def test_a_heading_and_a_song_in_one_line(line: str):
    assert parts(laid(f"Low Tide\n{line}\nTin Roof\n")) == [[TIDE], ["Plan B", "Tin Roof"]]


def test_a_song_whose_name_has_such_a_heading_begins_no_part():
    assert parts(laid("Low Tide\nPart 2: Plan B\n", "Part 2: Plan B")) == [[TIDE, "Part 2: Plan B"]]


@pytest.mark.parametrize(
    ("line", "song"),
    [("Plan - B", "Plan B"), ("Tin-Roof", "Tin Roof"), ("3. Tin – Roof – 3:45", "Tin Roof"),
     ("4 - Plan - B - Dm", "Plan B")],
)  # fmt: skip
def test_a_dash_in_a_name_parts_nothing(line: str, song: str):
    assert parts(laid(f"{line}\n")) == [[song]]


def test_hostile_columns_take_no_time():
    began = time.process_time()
    for piece in ("1. a  ", "1 a\t", "1.\t", "  1) ", " | ", "Set 2\t", "a  b\t"):
        assert halves_of("\n".join(piece * (290 // len(piece)) + str(number) for number in range(200)))
    assert time.process_time() - began < 5.0
