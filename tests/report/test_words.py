"""Words of the reports: nothing hides, nothing steers, everything can be printed."""

from __future__ import annotations

import io
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from audit.report.page import Page
from audit.report.words import (
    ASCII_INSTEAD,
    encodable,
    listed,
    searchable,
    shorten,
    signed,
    span,
    valid,
    visible,
)
from audit.units import NO_BREAK, grouped


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Bass.wav", "Bass.wav"),
        ("Café Größe 日本 🎹.wav", "Café Größe 日本 🎹.wav"),
        ("two\nlines\r\t", r"two\nlines\r\t"),
        ("\x1b[31mred", r"\x1b[31mred"),
        ("right\u202evaw.exe", r"right\u202evaw.exe"),
        ("zero\u200bwidth", r"zero\u200bwidth"),
        ("\udce9t\udce9", r"\xe9t\xe9"),
        ("line\u2028end", r"line\u2028end"),
        ("c1\x9b31m", r"c1\x9b31m"),
        ("[bold]x[/bold]", "[bold]x[/bold]"),
    ],
)
def test_what_hides_or_steers_becomes_an_escape(name, shown):
    assert visible(name) == shown


@given(st.text(alphabet=st.characters()))
def test_no_visible_text_holds_a_control_or_format_character(text):
    categories = {unicodedata.category(char) for char in visible(text)}
    assert not categories & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


@given(st.text(alphabet=st.characters(exclude_categories=())))
def test_valid_text_is_utf8(text):
    assert valid(text).encode("utf-8").decode("utf-8") == valid(text)


def test_valid_leaves_good_names_alone():
    assert valid("Café 🎹\n.wav") == "Café 🎹\n.wav"
    assert valid("caf\udce9.wav") == r"caf\xe9.wav"
    assert valid("\ud800") == r"\ud800"


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "cp437", "utf-8"])
@given(text=st.text(alphabet=st.characters(exclude_categories=("Cs",))))
def test_every_text_can_be_encoded(encoding, text):
    assert encodable(text, encoding).encode(encoding) or text == ""


def test_typography_turns_into_ascii_words():
    assert encodable("−16.1 LUFS … 3 × “a” → b", "ascii") == '-16.1 LUFS ... 3 x "a" -> b'
    assert encodable("Größe", "ascii") == r"Gr\xf6\xdfe"
    assert encodable("−3 Größe", "latin-1") == "-3 Größe"
    assert all(instead.isascii() for instead in ASCII_INSTEAD.values())


@given(st.text(alphabet="ab日本é🎹", max_size=60), st.integers(1, 40))
def test_shortened_names_fit_and_keep_both_ends(name, width):
    short = shorten(name, width, cell_len)
    assert cell_len(short) <= width
    if cell_len(name) <= width:
        assert short == name
    elif width >= 7:
        head, tail = short.split("…")
        assert head
        assert tail
        assert name.startswith(head)
        assert name.endswith(tail)


def test_shortening_takes_the_middle():
    assert shorten("Copper Weathervane.wav", 12) == "Copper…e.wav"
    assert shorten("Copper Weathervane.wav", 12, ellipsis="...") == "Coppe....wav"
    assert shorten("Copper", 1) == "…"


@pytest.mark.parametrize(
    ("value", "text"), [(-16.14, "−16.1"), (0.0, "0.0"), (-0.04, "0.0"), (0.06, "0.1"), (-0.06, "−0.1")]
)
def test_numbers_have_a_real_minus_and_no_negative_zero(value, text):
    assert signed(value) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0 s"), (59.2, "59 s"), (60, "1 min"), (5520, "1 h 32 min"), (7199, "2 h 0 min")],
)
def test_long_spans_read_as_people_say_them(seconds, text):
    assert span(seconds) == text


def test_lists_end_with_and():
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


@pytest.mark.parametrize(("number", "words"), [(24_788, "24\u00a0788"), (-1_724_571, "-1\u00a0724\u00a0571")])
def test_groups_of_a_number_hold_together_where_people_read_and_part_where_machines_do(number, words):
    assert grouped(number) == words
    assert searchable(f"{words} samples of Caf\u00a0é.wav") == (
        f"{words.replace(NO_BREAK, ' ')} samples of Caf\u00a0é.wav"
    )


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
@pytest.mark.parametrize("width", range(20, 60))
def test_no_line_ends_within_a_number(width, encoding):
    file = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    page = Page(Console(file=file, width=width))
    page.put("was never finished, ", ("1\u00a0724\u00a0571", "bold"), " samples are there, not 24\u00a0788")
    lines = [line.plain.replace(NO_BREAK, " ") for line in page.lines]
    assert max(map(len, lines)) <= width
    assert " ".join(lines) == "was never finished, 1 724 571 samples are there, not 24 788"
    assert any("1 724 571" in line for line in lines)
    assert "24 788" in lines[-1]
    page.print()
    file.flush()
