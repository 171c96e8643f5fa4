"""What the next song may bring, in every report."""

from __future__ import annotations

import json
from dataclasses import replace

from audit.evidence import ShowEvidence
from audit.findings import ShowAudit
from audit.report.html.faults import Extras
from audit.report.html.render import to_html
from audit.report.json_report import to_json
from audit.report.neighbour_words import next_lines
from audit.report.sheet.rows import crew_sheet
from audit.report.sheet.text import sheet_html
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings.model import LimitSetting
from tests.evidence import mix, show, song, stem
from tests.report.test_set_list import words
from tests.rules.test_neighbours import at, listed, opening
from tests.rules.timecode_tracks import ltc, track


def audited(night: ShowEvidence) -> ShowAudit:
    return judge(night, RULES, version="test")


def coded(name: str, start: str, lufs: float, rate_hz: int = 48000):
    stems = (stem("Bass.wav", rate_hz=rate_hz), ltc(track(start), rate_hz=rate_hz))
    return song(name, *stems, mix=mix(loudness={"integrated_lufs": lufs}))


NIGHT = show(
    coded("A", "01:00:00:00", -16.0), coded("B", "01:01:12:00", -18.0),
    coded("C", "05:00:00:00", -30.0, 44100), coded("D", "05:00:30:00", -16.0),
)  # fmt: skip
IN_ORDER = listed(NIGHT, ("A", "B", "C"))


def test_the_terminal_tells_the_lists_order_and_any_order():
    flat = " ".join(words(audited(IN_ORDER)).split())
    assert "From one song to the next" in flat
    assert (
        "loudness in this order: 12.0 LU quieter from B to C in any order: 14.0 LU louder from C to A" in flat
    )
    assert (
        "clock in this order: 1 change, from B (48 kHz) to C (44.1 kHz) in any order: 48 kHz in 3 songs, "
        "44.1 kHz in 1 song: up to 2 changes, such as from A (48 kHz) to C (44.1 kHz)" in flat
    )
    assert (
        "timecode in this order: A and B lie 12 s apart, 01:00:59:24 and 01:01:12:00 in any order: C and D "
        "share 30 s of numbers" in flat
    )


def test_without_a_list_any_order_is_told():
    flat = " ".join(words(audited(NIGHT)).split())
    assert "From one song to the next, in whatever order loudness 14.0 LU louder from C to A" in flat
    assert "in this order" not in flat


def test_a_show_without_sound_for_the_audience_says_nothing_of_loudness():
    lines = next_lines(audited(show(song("A", stem("Click.wav")), song("B", stem("Click.wav")))))
    assert lines == []


def test_a_show_of_one_loudness_has_no_step_to_tell():
    assert next_lines(audited(show(at("A", -16.0), at("B", -15.96)))) == []
    assert len(next_lines(audited(show(at("A", -16.0), at("B", -15.94))))) == 1


def test_a_part_of_a_show_has_no_neighbours():
    assert "From one song" not in words(audited(replace(NIGHT, partial=True)))


def test_json():
    told = json.loads(to_json(audited(IN_ORDER)))["show"]["neighbours"]
    assert told["in_order"]["loudness_step"] == {"songs": ["B", "C"], "lu": -12.0}
    assert told["any_order"]["loudness_step"] == {"songs": ["C", "A"], "lu": 14.0}
    assert told["any_order"]["clock_change"] == {"songs": ["A", "C"], "rates_hz": [48000, 44100], "times": 2}
    assert told["any_order"]["timecode"] == {
        "songs": ["C", "D"], "gap_s": -30.0, "overlaps": True, "ends": "05:00:59:24", "begins": "05:00:30:00",
    }  # fmt: skip
    assert told["in_order"]["timecode"]["gap_s"] == 12.0
    assert told["any_order"]["opening"] == []
    assert told["rates"] == [{"sample_rate_hz": 48000, "songs": 3}, {"sample_rate_hz": 44100, "songs": 1}]
    assert json.loads(to_json(audited(NIGHT)))["show"]["neighbours"]["in_order"] is None
    assert json.loads(to_json(audited(show(at("A")))))["show"]["neighbours"] is None


def test_opening_times_are_told_where_a_machine_is_named():
    night = show(opening("A", FOH=0.05), opening("B", FOH=1.4))
    assert [line.any_order for line in next_lines(audited(night)) if line.what == "opening"] == [
        "B in 1.4 s of 1.0 s on FOH"
    ]
    opened = json.loads(to_json(audited(night)))["show"]["neighbours"]["any_order"]["opening"]
    assert [(one["machine"], one["song"], one["seconds"], one["verdict"]) for one in opened] == [
        ("FOH", "B", 1.4, "over")
    ]


def test_the_page_has_a_table_of_it_with_hostile_names_kept_down():
    page = to_html(audited(IN_ORDER), extras=Extras(excerpts={}, sounds={}))
    assert "In the set list’s order" in page
    assert "14.0 LU louder from C to A" in page
    assert "In the set list’s order" not in to_html(audited(NIGHT), extras=Extras(excerpts={}, sounds={}))
    evil = show(at("<script>x", -10.0), at("B", -20.0))
    assert "<script>x" not in to_html(audited(evil), extras=Extras(excerpts={}, sounds={}))


def test_the_sheet_says_what_somebody_has_to_be_ready_for():
    made = crew_sheet(audited(IN_ORDER), answer="")
    by_song = {line.song: line.warning for line in made.lines}
    assert "clock changes to 44.1 kHz; 12 LU quieter than the song before" in by_song["C"]
    assert "LU" not in by_song["B"]
    assert made.other_orders == (
        "If another song is called: 14.0 LU louder from C to A; clock 48 kHz and 44.1 kHz; "
        "timecode of C and D overlaps."
    )
    assert made.other_orders in sheet_html(made).replace("&#39;", "'")


def test_the_sheet_of_an_even_show_says_nothing_of_it():
    even = show(at("A", -16.0), at("B", -10.0))
    assert crew_sheet(audited(even), answer="").other_orders == ""
    assert all("LU" not in line.warning for line in crew_sheet(audited(even), answer="").lines)
    past = show(at("A", -16.0), at("B", -9.9))
    assert "6.1 LU louder from A to B" in crew_sheet(audited(past), answer="").other_orders
    limits = {"loudness-step": LimitSetting(value=5.0)}
    asked = replace(even, settings=replace(even.settings, limits=limits))
    assert "6.0 LU louder" in crew_sheet(audited(asked), answer="").other_orders


def test_numbers_that_lie_far_apart_are_no_news():
    far = show(coded("A", "01:00:00:00", -16.0), coded("B", "02:00:00:00", -16.0))
    assert next_lines(audited(far)) == []
    near = show(*far.songs, coded("C", "02:00:30:00", -16.0))
    (line,) = next_lines(audited(listed(near, ("A", "B"))))
    assert (line.what, line.in_order) == ("timecode", "no two near each other")
