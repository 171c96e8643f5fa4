"""The page's content: what stands in it, for which show, and that it holds together without a browser."""

from __future__ import annotations

import base64
import hashlib
import math
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from audit.facts import Role
from audit.report.enlarged import clips_of, length_s, place_of, places_of
from audit.report.figures import figure, first_sentence, sentence, title_of
from audit.report.html.faults import Extras
from audit.report.html.overview import code_hours, load_matrix, loudness_picture, machine_names, role_picture
from audit.report.html.pictures import BOX_HEIGHT, fewer, height, level_db, skyline, wave
from audit.report.html.render import to_html
from audit.report.html.view import page_view
from audit.report.load_words import load_words
from audit.report.names import PAGE_BEGINS
from audit.results import Excerpt, Place, Sound, Trace
from audit.results.load import Confidence, Range, Resource, ResourceUse, SongForecast
from audit.settings.model import ShowSettings
from tests.evidence import part, song, stem
from tests.report.large import excerpts_for, large_show
from tests.report.samples import (
    CLEAN_SONGS,
    audit_of,
    clean_audit,
    faulty_audit,
    finding,
    healthy,
    hostile_audit,
)
from tests.rules.timecode_tracks import track

VOID = {"meta", "input"}
NOTHING = Extras(excerpts={}, sounds={})
NAME = "03 Slow Escalator"


class Tags(HTMLParser):
    """Every element closed in the order in which it was opened; ids and links."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.styles = 0

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.ids += [found["id"]] if "id" in found else []
        self.links += [found["href"]] if "href" in found else []
        self.styles += "style" in found
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        found = dict(attrs)
        self.styles += "style" in found

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def parsed(page: str) -> Tags:
    tags = Tags()
    tags.feed(page)
    assert tags.open == []
    return tags


@pytest.mark.parametrize(
    "audit", [clean_audit(), faulty_audit(), hostile_audit()], ids=["clean", "faulty", "hostile"]
)
def test_a_page_is_whole_and_its_links_lead_somewhere(audit):
    page = to_html(audit, made="1 May 2027")
    tags = parsed(page)
    assert page.startswith(PAGE_BEGINS)
    assert len(tags.ids) == len(set(tags.ids))
    assert tags.links
    assert {link[1:] for link in tags.links} <= set(tags.ids)
    assert tags.styles == 0  # the policy would stop them
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_the_policy_names_this_script_and_this_style():
    """Content Security Policy level 3, section 2.3.1: a hash is over the element's text."""
    page = to_html(clean_audit())
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1].replace("&#39;", "'")
    for tag in ("style", "script"):
        text = re.search(rf"<{tag}>(.*?)</{tag}>", page, re.S)[1]
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    assert "http" not in page.replace("http-equiv", "").replace("http://www.w3.org/2000/svg", "")


def test_the_same_audit_gives_the_same_bytes():
    assert to_html(faulty_audit(), made="x") == to_html(faulty_audit(), made="x")


def test_songs_stand_by_fault_and_the_clear_ones_last():
    view = page_view(faulty_audit(), NOTHING)
    assert [song.verdict for song in view.songs] == ["error", "error", "warning", "clear"]
    assert view.songs[0].number == 2
    assert [step.title for step in view.steps][:2] == ["Unreadable file", "Truncated file"]


def test_a_clean_show_has_nothing_to_fix():
    view = page_view(clean_audit(), NOTHING, made="1 May 2027")
    assert (view.answer, view.steps, view.caution) == ("Ready", (), "")
    assert "checked 1 May 2027" in to_html(clean_audit(), made="1 May 2027")


def test_what_was_waived_is_listed_with_its_reason():
    waived = finding(
        "dropout", "error", "Bass.wav", (NAME,), waived={"reason": "the record has it", "until": None}
    )
    page = to_html(audit_of(song(NAME, stem("Bass.wav")), findings=(waived,)))
    assert "Looked at and accepted" in page
    assert "the record has it" in page
    assert "<h1>Ready.</h1>" in page


# --- places enlarged --------------------------------------------------------------------------------


def hole(at_s: float | None = 12.5, **fields):
    return finding(
        "dropout", "error", "Bass.wav", (NAME,), at_s=at_s, value=20.0, limit=2.0, unit="ms", **fields
    )


def test_a_hole_is_shown_with_its_edges():
    place = place_of(hole())
    assert place == Place(song=NAME, stem="Bass.wav", first_s=12.48, span_s=0.06)
    assert length_s(hole()) == pytest.approx(0.02)


@pytest.mark.parametrize("one", [hole(None), replace(hole(), stem=None), replace(hole(), songs=(NAME, "x"))])
def test_what_has_no_place_in_one_stem_is_not_enlarged(one):
    assert place_of(one) is None


def test_four_places_of_a_group_are_read_and_one_is_heard():
    audit = audit_of(song(NAME, stem("Bass.wav")), findings=tuple(hole(float(n)) for n in range(1, 9)))
    assert len(places_of(audit)) == 4
    assert [at_s for _, at_s in clips_of(audit)] == [1.0]


def test_an_excerpt_and_a_clip_stand_in_the_page():
    audit = audit_of(song(NAME, stem("Bass.wav")), findings=(hole(),))
    [place] = places_of(audit)
    traces = (Trace(channel=0, lows=(0.1, 0.0, -0.2), highs=(0.1, 0.0, -0.2)),)
    excerpt = Excerpt(first_s=place.first_s, span_s=place.span_s, column_frames=1, traces=traces)
    sound = Sound(data=b"fLaC", media_type="audio/flac", place_s=4.0, down_db=3.2, why="music")
    page = to_html(audit, extras=Extras(excerpts={place: excerpt}, sounds={place: sound}))
    parsed(page)
    assert "60 ms around 0:12.500, one dot a sample" in page
    assert "Measured 20 ms, limit 2 ms." in page
    assert f"data:audio/flac;base64,{base64.b64encode(b'fLaC').decode()}" in page
    assert "turned down by 3 dB" in page
    assert "volume down" in page


# --- pictures ---------------------------------------------------------------------------------------


def test_levels_become_heights():
    assert [height(level) for level in (0.0, -30.0, -60.0, -90.0, -math.inf, 6.0)] == [1.0, 0.5, 0, 0, 0, 1.0]
    assert [level_db(code) for code in (240, 120, 0)] == [0.0, -60.0, -math.inf]


def test_a_skyline_stands_on_its_foot_and_steps_where_levels_change():
    assert skyline([-math.inf, 0.0, 0.0, -30.0]) == f"M0 {BOX_HEIGHT}H250V0H750V50H1000V{BOX_HEIGHT}Z"
    assert skyline([-math.inf, -80.0]) == ""
    assert skyline([0.0, 0.0], share=0.5) == "M0 100H0V0H500V100Z"


def test_fewer_bins_keep_the_highest():
    assert fewer(bytes([1, 9, 2, 3, 8]), 3) == bytes([9, 3, 8])
    assert fewer(bytes(range(10)), 10) == bytes(range(10))
    assert fewer(b"") == b""


def test_a_wave_is_a_line_of_samples_or_an_area_of_columns():
    assert wave(Trace(channel=0, lows=(1.0, -1.0), highs=(1.0, -1.0)), 1.0) == "M250 0L750 100"
    assert wave(Trace(channel=0, lows=(-1.0, 0.0), highs=(1.0, 0.5)), 1.0) == "M250 0L750 25L750 50L250 100Z"


# --- over the show ----------------------------------------------------------------------------------


def test_loudness_needs_two_songs_and_marks_the_odd_one():
    assert loudness_picture(audit_of(healthy("a")), ["s1"]) is None
    odd = finding("song-loudness-outlier", "warning", None, ("b",))
    picture = loudness_picture(audit_of(healthy("a"), healthy("b"), findings=(odd,)), ["s1", "s2"])
    assert [(line.song, line.words, line.odd) for line in picture.lines] == [
        ("a", "−16.1 LUFS", False), ("b", "−16.1 LUFS", True),
    ]  # fmt: skip


def test_roles_are_told_that_three_songs_have():
    lines = role_picture(audit_of(*(healthy(name) for name in CLEAN_SONGS[:3])))
    assert [(line.role, len(line.dots)) for line in lines] == [("bass", 3), ("drums", 3), ("keys", 3)]
    assert role_picture(audit_of(*(healthy(name) for name in CLEAN_SONGS[:2]))) == []


def coded(name: str, start: str):
    return song(name, stem("LTC.wav", parts=[part(Role.TIMECODE, timecode=track(start))]))


def test_timecode_stands_by_the_hour_and_side_by_side_where_it_overlaps():
    songs = (coded("a", "01:00:00:00"), coded("b", "01:00:30:00"), coded("c", "05:30:00:00"))
    clash = finding("timecode-overlap", "error", None, ("a", "b"))
    hours = code_hours(audit_of(*songs, show_findings=(clash,)), ["s1", "s2", "s3"])
    assert [(hour.hour, hour.lanes) for hour in hours] == [("01", 2), ("05", 1)]
    assert [(span.song, span.lane, span.clash) for span in hours[0].spans] == [("a", 0, True), ("b", 1, True)]
    assert hours[1].spans[0].at_pct == 50.0


def forecast(machine: str, used: float) -> SongForecast:
    disk = ResourceUse(
        resource=Resource.DISK, used=Range(low=used, value=used, high=used), limit=0.5, capacity=1.0, unit=""
    )
    return SongForecast(
        machine=machine, song="a", stems=3, uses=(disk,), confidence=Confidence.HIGH, why="measured",
        frames=256, rate_hz=48000, smallest_buffer_frames=64,
    )  # fmt: skip


def test_load_stands_song_by_machine_the_heaviest_first():
    light = replace(healthy("light"), forecasts=(forecast("FOH", 0.1), forecast("spare", 0.2)))
    heavy = replace(healthy("heavy"), forecasts=(forecast("FOH", 0.4), forecast("spare", 1.2)))
    audit = audit_of(light, heavy, healthy("none"))
    assert machine_names(audit) == ("FOH", "spare")
    lines = load_matrix(audit, ["s1", "s2", "s3"])
    assert [line.song for line in lines] == ["heavy", "light"]
    assert [(cell.words, cell.fit) for cell in lines[0].cells] == [
        ("80 % disk", "fits"),
        ("240 % disk", "over"),
    ]
    assert [load_words(one) for one in (light, heavy, healthy("none"))] == ["40 % disk", "240 % disk", ""]
    page = to_html(audit)
    parsed(page)
    assert "Load, song by machine" in page


# --- words ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (-29.26, "dBFS", "−29.3 dBFS"), (20.0, "ms", "20 ms"), (2.345, "ms", "2.35 ms"),
        (17.26, "ms", "17.3 ms"),
        (250.0, "frames", "250 frames"), (1234.5, "Hz", "1234 Hz"), (-math.inf, "dBFS", "silence"),
        (0.4, "%", "0.40 %"), (math.nan, "dB", "–"), (3.0, None, "3"),
    ],
)  # fmt: skip
def test_figures_have_as_many_digits_as_somebody_can_use(value, unit, words):
    assert figure(value, unit) == words


@pytest.mark.parametrize(("rule", "title"), [("dc-offset", "DC offset"), ("silent-stem", "Silent stem")])
def test_titles_come_from_the_rules_names(rule, title):
    assert title_of(rule) == title


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("drops out", "Drops out"),
        ("clipped: 3", "Clipped: 3"),
        ("a.wav is", "a.wav is"),
        ("16-bit", "16-bit"),
    ],
)
def test_a_sentence_begins_large_unless_with_a_name(text, words):
    assert sentence(text) == words


def test_the_first_sentence_stands_alone_where_there_is_little_room():
    assert first_sentence("Bounce it again. Then listen.") == "Bounce it again."
    assert first_sentence("Bounce it.") == "Bounce it."


def test_twenty_songs_of_twelve_stems_stay_under_three_megabytes():
    audit = large_show(20, 12)
    excerpts = excerpts_for(places_of(audit))
    assert len(excerpts) == 7 * 4
    page = to_html(audit, extras=Extras(excerpts=excerpts, sounds={}))
    assert 0.3e6 < len(page.encode()) < 3e6


def test_of_songs_with_errors_the_one_with_most_comes_first():
    few, many = (
        (finding("dropout", "error", "Bass.wav", ("a",), at_s=1.0),),
        tuple(finding("dropout", "error", "Bass.wav", ("b",), at_s=float(n)) for n in range(1, 4)),
    )
    view = page_view(
        audit_of(song("a", stem("Bass.wav")), song("b", stem("Bass.wav")), findings=few + many), NOTHING
    )
    assert [(one.name, one.words) for one in view.songs] == [("b", "3 errors"), ("a", "1 error")]


def test_the_name_in_the_settings_goes_before_the_folders():
    audit = clean_audit()
    named = replace(audit.evidence, settings=ShowSettings(source="show.toml", name="Spring Leg"))
    assert "<title>Ready: Spring Leg</title>" in to_html(replace(audit, evidence=named))
    assert "<title>Ready: Harbour Lights Tour</title>" in to_html(audit)
