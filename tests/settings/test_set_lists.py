"""Set lists: as text, in the settings, laid over the songs on the disk; times counted by hand."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from audit.errors import SettingsError, UsageError
from audit.settings.choice import choose_set
from audit.settings.model import SetEntry, SetList, ShowSettings
from audit.settings.order import RunningOrder, running_order
from audit.settings.set_words import shorter_names
from audit.settings.setlist import halves_of, read_set_file
from tests.settings.reading import mistakes, read

SONGS = [
    ("01 - Low Tide", ("01 - Low Tide", "Low Tide", "Tide")),
    ("02 - Night Ferry", ("02 - Night Ferry", "Night Ferry")),
    ("03 - Don't Wait", ("03 - Don't Wait", "Don't Wait")),
    ("99 Miles", ("99 Miles", "99 Miles", "Miles")),
]
LENGTHS_S = {"01 - Low Tide": 200.0, "02 - Night Ferry": 100.0, "03 - Don't Wait": 50.0, "99 Miles": 10.0}


def ordered(*halves: tuple[str, ...], **more) -> RunningOrder:
    entries = tuple(tuple(SetEntry(name=name) for name in half) for half in halves)
    return running_order(SetList(name="Tonight", halves=entries, **more), SONGS)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("A\nB\n", [["A", "B"]]),
        ("\n\nA\n\n\nB\nC\n\n", [["A"], ["B", "C"]]),
        ("# tonight\nA # key of D\nB#1\n", [["A", "B#1"]]),
        ("1. A\n2) B\n3: C\n", [["A", "B", "C"]]),
        ("A\n---\nB\n* * *\n", [["A"], ["B", "* * *"]]),
        ("  99 Miles  \r\nB\r\n", [["99 Miles", "B"]]),
        ("Early set:\nA\nEncore:\nB\n", [["A"], ["B"]]),
        ("-- Encore --\nA\n=== Set 2 ===\nB\n— Interval 20 min —\nC\n", [["A"], ["B"], ["C"]]),
        ("A\nEncore\nB\n", [["A"], ["Encore", "B"]]),
        ("1\tA\tDm\n2 \t B\t\n", [["1 | A | Dm", "2 | B"]]),
        ("", []),
    ],
)
def test_text(text: str, wanted: list[list[str]]):
    assert [[entry.name for entry in half] for half in halves_of(text)] == wanted


def test_a_text_file_knows_its_lines(tmp_path: Path):
    path = tmp_path / "tonight.txt"
    path.write_bytes("\ufeff# x\nLow Tide\n\nNight Ferry\n".encode())
    found = read_set_file(path)
    assert (found.name, found.source) == ("tonight", "tonight.txt")
    assert [entry.line for entry in found.entries] == [2, 4]
    path.write_text("# only a remark\n")
    with pytest.raises(SettingsError, match="names no song"):
        read_set_file(path)
    with pytest.raises(SettingsError, match="cannot be read"):
        read_set_file(tmp_path / "gone.txt")
    with pytest.raises(SettingsError, match="is a folder"):
        read_set_file(tmp_path)


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_a_text_file_may_be_utf_16(tmp_path: Path, encoding: str):
    """As Windows saves "Unicode" text; without its mark nobody can tell, and it is asked for as UTF-8."""
    path = tmp_path / "tonight.txt"
    path.write_bytes("\ufeff1. Löw Tide\r\n\r\nNight Ferry\r\n".encode(encoding))
    halves = read_set_file(path).halves
    assert [[(entry.name, entry.line) for entry in half] for half in halves] == [
        [("Löw Tide", 1)], [("Night Ferry", 3)],
    ]  # fmt: skip
    for data in ("Low Tide\n".encode(encoding), "\ufeffLow Tide\n".encode(encoding)[:-1]):
        path.write_bytes(data)
        with pytest.raises(SettingsError, match="save the file as UTF-8"):
            read_set_file(path)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("show.toml", "Low Tide\n"),
        ("SHOW.TOML", "schema = 1\n"),
        ("settings.txt", 'schema = 1\n[show]\nname = "x"\n'),
        ("night.txt", '# mine\n  [[sets]]\nname = "Tonight"\n'),
    ],
)
def test_a_file_of_settings_is_no_list_of_songs(tmp_path: Path, name: str, text: str):
    (tmp_path / name).write_text(text)
    with pytest.raises(SettingsError, match=r"is a file of settings, no list of songs: name a text file"):
        read_set_file(tmp_path / name)
    said = (
        mistakes(tmp_path, f'[[sets]]\nname = "A"\nfile = "{name}"\n') if name.endswith(".txt") else ["file"]
    )
    assert "file" in said[0]


def test_a_list_may_hold_what_looks_a_little_like_settings(tmp_path: Path):
    (tmp_path / "a.txt").write_text("[Encore]\nsongs\nSchema\n")
    assert [entry.name for entry in read_set_file(tmp_path / "a.txt").entries] == [
        "[Encore]",
        "songs",
        "Schema",
    ]


@pytest.mark.parametrize(
    ("written", "song"),
    [
        ("Night Ferry", "02 - Night Ferry"),
        ("night  ferry ", "02 - Night Ferry"),
        ("02 - Night Ferry", "02 - Night Ferry"),
        ("Tide", "01 - Low Tide"),
        ("Don’t Wait", "03 - Don't Wait"),  # as a text program curls it
        ("99 miles", "99 Miles"),
        ("Night_Ferry", "02 - Night Ferry"),
        ("night-ferry", "02 - Night Ferry"),
        ("02_Night_Ferry", "02 - Night Ferry"),
        ("1. Night Ferry", "02 - Night Ferry"),  # the list's own count, not the folder's
        ("07 - Night Ferry", "02 - Night Ferry"),
        ("07 Night Ferry", "02 - Night Ferry"),
        ("7 Night Ferry", "02 - Night Ferry"),
        ("70 Miles", None),  # no list counts so far: the number is the name
        ("7", None),
        ("Nightferry", None),
        ("*", None),
    ],
)
def test_songs_are_found_by_any_of_their_names(written: str, song: str | None):
    assert [place.song for place in ordered((written,)).places] == [song]


@pytest.mark.parametrize(
    ("written", "song"),
    [
        ("1 Night Ferry", "02 - Night Ferry"),
        ("#1 Night Ferry", "02 - Night Ferry"),
        ("1- Night Ferry", "02 - Night Ferry"),
        ("Night Ferry 3:45", "02 - Night Ferry"),
        ("Night Ferry – 3:45", "02 - Night Ferry"),
        ("Night Ferry (3:45)", "02 - Night Ferry"),
        ("Night Ferry (Eb)", "02 - Night Ferry"),
        ("Night  Ferry [F#m, capo 2]", "02 - Night Ferry"),
        ("12 night ferry (Eb) [short end] 3:45", "02 - Night Ferry"),
        ("3 99 Miles", "99 Miles"),
        ("1. 99 Miles 4:00", "99 Miles"),
        ("3:45", None),
        ("(Eb)", None),
        ("12", None),
        ("(3:45) [x]", None),
        ("1 1 1 Nobody (", None),
    ],
)
def test_counts_times_and_remarks_are_no_part_of_a_name(written: str, song: str | None):
    assert [place.song for place in ordered((written,)).places] == [song]


@pytest.mark.parametrize(
    "written",
    [
        *(f"{sign} Night Ferry" for sign in ("•", "*", "-", "–", "☐", "☑", "[ ]", "[]", "[x]", "✓", "+")),
        "•Night Ferry", "☐Night Ferry", "- [ ] Night Ferry", "• 3. Night Ferry", "3. [ ] Night Ferry",
        "3 • Night Ferry", "✓ Night Ferry (Eb) 3:45", "✓ 02 - Night Ferry",
        "Night Ferry - Dm", "Night Ferry – D minor", "Night Ferry | F#m", "Night Ferry, Bb",
        "Night Ferry - B♭", "Night Ferry - cis-moll", "Night Ferry - Es-Dur", "Night Ferry - in G",
        "Night Ferry / E flat",
        "Night Ferry 120 bpm", "Night Ferry 97.5BPM", "Night Ferry - 120 bpm", "Night Ferry @ 120 bpm",
        "Night Ferry bpm 120", "Night Ferry ♩=120",
        "* 3. Night Ferry (live ending) - Dm - 120 bpm - 3:45",
        "2\tNight Ferry\tDm", "2\tNight Ferry\tDm\t120\tAnna starts",
        "Night Ferry\tDm", "Night Ferry\t\t3:45",
        "Dm\tNight Ferry", "| 2 | Night Ferry | Dm |",
        "☐\t2.\tNight Ferry (Eb)\tDm", "2\t02 - Night Ferry\tDm",
        "3:45\tNight Ferry\t120 bpm",
        "2\t• Night Ferry\tLow Tide follows", "2\tNight Ferry\tLow Tide",
    ],
)  # fmt: skip
def test_bullets_keys_tempi_and_columns_are_no_part_of_a_name(written: str):
    (half,) = halves_of(written)
    assert [place.song for place in ordered(tuple(entry.name for entry in half)).places] == [
        "02 - Night Ferry"
    ]


@pytest.mark.parametrize(
    "written",
    [
        "✗ Night Ferry",  # crossed off, or called so
        "Night Ferry - a", "Night Ferry - Am I", "Night Ferry - Bis", "Night Ferry - 120", "Night Ferry Dm",
        "Night FerryDm", "Night Ferry - Dmaybe",
        "Night Ferry - intro", "Night Ferry - I", "Night Ferry B",
        "2\tNobody\tNight Ferry", "2 | Nobody | Night Ferry",
        "Dm - Night Ferry", "120 bpm", "- Dm", "•", "[ ]", "\t\t", "Dm\t120",
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_asked_about(written: str):
    assert [place.song for place in ordered((written,)).places] == [None]


def laid(text: str, *songs: str) -> RunningOrder:
    return running_order(SetList(name="Tonight", halves=halves_of(text)), [(song, (song,)) for song in songs])


@pytest.mark.parametrize(
    ("line", "songs", "song"),
    [
        ("7 Tides (Live)", ("7 Tides (Live)", "7 Tides", "Tides (Live)", "Tides"), "7 Tides (Live)"),
        ("7 Tides (Eb)", ("7 Tides", "Tides"), "7 Tides"),
        ("7 Tides", ("Tides", "7 Tides"), "7 Tides"),
        ("1 Days (Live)", ("Days", "Days (Live)"), "Days (Live)"),
        ("4:33", ("4:33", "4"), "4:33"),
        ("Train 9:15", ("Train 9:15", "Train"), "Train 9:15"),
        ("Break", ("Break", "Day"), "Break"),
        ("Encore", ("encore",), "encore"),
        ("[Encore]", ("[Encore]",), "[Encore]"),
        ("-- Days --", ("Days",), "Days"),
        ("* Star", ("* Star", "Star"), "* Star"),
        ("[x] Mark", ("[x] Mark", "Mark"), "[x] Mark"),
        ("Plan - B", ("Plan", "Plan B"), "Plan B"),
        ("Suite (Dm)", ("Suite", "Suite (Dm)"), "Suite (Dm)"),
        ("✓ Suite - Dm", ("Suite", "Suite - Dm"), "Suite - Dm"),
        ("Rush 120 bpm", ("Rush", "Rush 120 bpm"), "Rush 120 bpm"),
        ("3\tPlan - B\tDm", ("Plan", "Plan B"), "Plan B"),
        ("3\tDm\tA", ("Dm", "A"), "Dm"),
        ("Encore!", ("Encore", "Day"), "Encore"),
        ("Set 2 (60 min)", ("Set 2 (60 min)",), "Set 2 (60 min)"),
    ],
)
def test_a_name_on_the_disk_goes_before_all_that_could_be_taken_off(
    line: str, songs: tuple[str, ...], song: str
):
    assert [place.song for place in laid(line, *songs).places] == [song]


def test_headings_are_no_songs_and_begin_a_half():
    order = laid("Set 1\nA\n2nd set\nB\nEncore\nC\n-- the long goodbye --\nD\n", "A", "B", "C", "D")
    assert [(place.song, place.half) for place in order.places] == [("A", 0), ("B", 1), ("C", 2), ("D", 3)]
    assert [(entry.name, entry.line) for entry in order.headings] == [
        ("Set 1", 1), ("2nd set", 3), ("Encore", 5), ("the long goodbye", 7),
    ]  # fmt: skip
    assert not order.missing


@pytest.mark.parametrize(
    "heading",
    [
        "Encore!", "ENCORE!!", "ENCORE:", "Encore! :", "Set 2 (60 min)", "SET 2 - 60 min", "Set 2 (60 min):",
        "Set 2 [ca. 45']", "Set II, 50 minutes", "• Encore", "- Encore!", "* Set 2 (60 min)", "[Encore]!",
        "Set 2 (1:00)", "Encore…", "\tEncore\t\t",
    ],
)  # fmt: skip
def test_headings_as_people_type_them(heading: str):
    order = laid(f"A\n{heading}\nB\n", "A", "B")
    assert [(place.song, place.half) for place in order.places] == [("A", 0), ("B", 1)]


def test_the_heads_of_columns_are_no_song():
    order = laid("No.\tSong\tKey\n1\tA\tDm\n2\tB\tE\n\nENCORE:\n3\tC\tF#\n", "A", "B", "C")
    assert [(place.song, place.line) for place in order.places] == [("A", 2), ("B", 3), ("C", 6)]


def test_a_hostile_line_takes_no_time():
    began = time.monotonic()
    for line in (
        "--a" + " " * 100_000 + "b",
        "(" * 100_000,
        " " * 99 + "1 " * 50_000 + "3:45",
        "[]" * 99_999,
    ):
        assert len(laid(f"A\n{line}\n", "A").missing) == 1
    assert time.monotonic() - began < 5.0


def test_a_song_called_like_a_heading_begins_no_half():
    order = laid("A\nBreak\nB\n", "A", "Break", "B")
    assert order.neighbours == (("A", "Break"), ("Break", "B"))
    assert (order.headings, len(order.set_list.halves)) == ((), 1)


@pytest.mark.parametrize(
    "line", ["-- Nihgt Ferry --", "Encore Song", "Settle", "Breakdown", "*Whale*", "1 Nobody"]
)
def test_what_is_no_heading_is_told_as_missing(line: str):
    order = laid(f"A\n{line}\n", "A", "Night Ferry")
    assert len(order.missing) == 1


def test_an_ampersand_does_not_hide_a_song_with_a_version_mark():
    order = running_order(
        SetList(name="Tonight", halves=halves_of("Fennel & Iron")), [("02 - Fennel & Iron [v3]", ())],
        {"02 - Fennel & Iron [v3]": "fennel iron"},
    )  # fmt: skip
    assert [place.song for place in order.places] == ["02 - Fennel & Iron [v3]"]


def test_neighbours_are_those_of_one_half():
    order = ordered(("Low Tide", "Night Ferry", "Gone", "Don't Wait"), ("99 Miles", "Low Tide"))
    assert order.neighbours == (("01 - Low Tide", "02 - Night Ferry"), ("99 Miles", "01 - Low Tide"))
    assert [place.name for place in order.missing] == ["Gone"]
    assert order.songs == ("01 - Low Tide", "02 - Night Ferry", "03 - Don't Wait", "99 Miles")


def test_times_by_hand():
    """200 + 20 + 100, interval 600, 50 + 20 + 10: 1000 s."""
    order = ordered(("Tide", "Night Ferry"), ("Don't Wait", "99 Miles"), changeover_s=20.0, interval_s=600.0)
    assert order.begins_s(LENGTHS_S) == (0.0, 220.0, 920.0, 990.0)
    assert order.length_s(LENGTHS_S) == 1000.0
    assert order.time_s is None


@pytest.mark.parametrize(
    ("starts", "ends", "time_s"),
    [(1230, 1320, 5400.0), (1410, 30, 3600.0), (1200, 1200, 0.0), (1200, None, None)],
)
def test_the_time_there_is_goes_past_midnight(starts: int, ends: int | None, time_s: float | None):
    assert ordered(("Tide",), starts=starts, ends=ends).time_s == time_s


def test_an_empty_order_takes_no_time():
    assert ordered().length_s(LENGTHS_S) == 0.0


def test_which_set_list_a_scan_is_for():
    one, two = (SetList(name=name, halves=()) for name in ("Tonight", "Second night"))
    assert choose_set(ShowSettings(), None) is None
    assert choose_set(ShowSettings(sets=(one,)), None) is one
    assert choose_set(ShowSettings(sets=(one, two)), None) is None
    assert choose_set(ShowSettings(sets=(one, two), default_set="second NIGHT"), None) is two
    assert choose_set(ShowSettings(sets=(one, two), default_set="Second night"), "tonight") is one
    with pytest.raises(UsageError, match='did you mean "Tonight"'):
        choose_set(ShowSettings(sets=(one, two)), "Tonihgt")
    with pytest.raises(UsageError, match="the settings have none"):
        choose_set(ShowSettings(), "Tonight")


def test_a_set_list_in_the_settings_and_one_beside_them(tmp_path: Path):
    (tmp_path / "late.txt").write_text("Low Tide\n\nNight Ferry\n")
    settings = read(
        tmp_path,
        '[[sets]]\nname = "Early"\nsongs = ["A", "B"]\nchangeover_s = 5\n'
        '[[sets]]\nname = "Late"\nfile = "late.txt"\nends = "23:00"\n',
    )
    early, late = settings.sets
    assert [entry.line for entry in early.entries] == [3, 3]
    assert (early.source, early.changeover_s) == ("show.toml", 5.0)
    assert (late.name, late.source, late.ends, len(late.halves)) == ("Late", "late.txt", 23 * 60, 2)


def test_a_hundred_hostile_lines_take_no_time():
    """Long runs of blanks, 52 s once, and of brackets."""
    lines = [f"a{number}{' ' * 280}b" for number in range(100)]
    lines += [f"x{number} " + "(y) " * 70 for number in range(100)]
    for piece in ("• ", "[ ] ", "a\t", " - Dm", ", D", " 120 bpm", "Set 2 ", " (60", "- ", "D  "):
        lines += [f"{piece * (280 // len(piece))}{number}!" for number in range(100)]
    began = time.process_time()
    for line in lines:
        list(shorter_names(line))
        halves_of(line)
    assert time.process_time() - began < 5.0
