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
from audit.report.enlarged import clips_of, length_s, place_of, places_of, shown_of
from audit.report.figures import figure, measured_words, sentence, title_of, with_cautions
from audit.report.html.faults import Extras
from audit.report.html.overview import load_matrix, loudness_picture, machine_names, role_picture
from audit.report.html.pictures import BOX_HEIGHT, fewer, height, level_db, skyline, wave
from audit.report.html.render import to_html
from audit.report.html.timecode_map import code_map
from audit.report.html.view import page_view
from audit.report.load_words import load_words
from audit.report.names import PAGE_BEGINS
from audit.report.sheet.rows import crew_sheet
from audit.results import ClickTrack, Envelope, Excerpt, Place, Sound, Trace
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
    hours = code_map(audit_of(*songs, show_findings=(clash,)), ["s1", "s2", "s3"]).hours
    assert [(hour.hour, hour.lanes) for hour in hours] == [("01", 2), ("05", 1)]
    assert [(span.song, span.lane, span.clash) for span in hours[0].spans] == [("a", 0, True), ("b", 1, True)]
    assert hours[1].spans[0].at_pct == 50.0


def test_the_map_is_drawn_as_large_as_its_longest_song_allows():
    def ticks(start: str) -> list[str]:
        found = code_map(audit_of(coded("a", "01:00:00:00"), coded("b", start)), ["s1", "s2"])
        return [words for _, words in found.ticks]

    assert ticks("02:00:00:00") == ["0:00", "0:15", "0:30", "0:45", "1:00"]
    assert ticks("02:00:00:01")[-1] == "2:00"
    assert ticks("02:03:30:00")[-1] == "5:00"
    assert ticks("02:59:30:00")[-1] == "1:00:00"


def test_songs_without_timecode_stand_in_the_map_and_jumps_are_marked():
    first, second = track("01:00:00:00", 10.0), track("01:00:30:00", 20.0)
    runs = (*first.runs, replace(second.runs[0], start_s=10.0, end_s=30.0))
    jumping = replace(first, runs=runs, jump_count=1, last=second.last, end_s=30.0)
    songs = (
        song("a", stem("LTC.wav", parts=[part(Role.TIMECODE, timecode=jumping)])),
        song("b", stem("Bass.wav")),
    )
    made = code_map(audit_of(*songs), ["s1", "s2"])
    [span] = made.hours[0].spans
    assert span.runs == ((0.0, 16.67), (50.0, 33.33))
    assert (span.jumps_pct, span.jumps) == ((50.0,), "1 jump")
    assert made.without == (("s2", "b"),)
    page = to_html(audit_of(*songs))
    parsed(page)
    assert 'class="jump"' in page
    assert code_map(audit_of(song("b", stem("Bass.wav"))), ["s1"]) is None


def test_the_first_thing_to_fix_is_in_the_first_song():
    """By what it does on stage, not by numbers: a leak of the click before four other errors."""
    many = tuple(finding("dropout", "error", "Bass.wav", ("a",), at_s=float(n)) for n in range(1, 5))
    leak = finding("click-bleed", "error", "Bass.wav", ("b",))
    view = page_view(
        audit_of(song("a", stem("Bass.wav")), song("b", stem("Bass.wav")), findings=(*many, leak)), NOTHING
    )
    assert [one.name for one in view.songs] == ["b", "a"]
    assert [step.where.split(",")[0] for step in view.steps] == ["b", "a"]
    assert view.songs[0].worst == "Click bleed, Bass.wav"


def test_a_cure_of_one_stem_is_not_told_as_that_of_all():
    """ "Move it 3872 samples earlier" mends the first of three."""
    early = finding("offset-from-click", "error", "Drums.wav", ("a",))
    late = replace(finding("offset-from-click", "error", "Bass.wav", ("b",)), advice="Move it later.")
    songs = (song("a", stem("Drums.wav")), song("b", stem("Bass.wav")))
    (step,) = page_view(audit_of(*songs, findings=(early, late)), NOTHING).steps
    assert step.cure.startswith(f"a, Drums.wav: {early.advice} The others have cures of their own.")
    (step,) = page_view(audit_of(*songs, findings=(early, replace(late, advice=early.advice))), NOTHING).steps
    assert step.cure.startswith(early.advice)


def test_in_a_song_the_most_urgent_fault_stands_first():
    """Under its song as in the table of songs, on the terminal and on the sheet."""
    faults = (
        finding("dropout", "error", "A.wav", (NAME,), at_s=1.0),
        finding("silent-stem", "error", "Click.wav", (NAME,)),
        finding("click-bleed", "warning", "A.wav", (NAME,)),
    )
    audit = audit_of(song(NAME, stem("A.wav"), stem("Click.wav")), findings=faults)
    [one] = page_view(audit, NOTHING).songs
    assert [fault.rule for fault in one.faults] == ["silent-stem", "dropout", "click-bleed"]
    assert one.worst == "Silent stem, Click.wav"
    [line] = crew_sheet(audit, answer="Not ready").lines
    assert (
        line.warning
        == "Click: silent-stem was measured; A: dropout was measured; A: click-bleed was measured"
    )


def test_without_a_fault_there_is_nothing_to_open():
    assert 'id="open"' not in to_html(clean_audit())
    assert 'id="open"' in to_html(faulty_audit())


def test_the_loudness_of_the_songs_stands_in_the_order_of_the_songs():
    odd = finding("dropout", "error", "Bass.wav", ("b",))
    view = page_view(audit_of(healthy("a"), healthy("b"), findings=(odd,)), NOTHING)
    assert [line.song for line in view.loudness.lines] == [one.name for one in view.songs] == ["b", "a"]


def test_a_fault_without_a_place_stands_at_the_head_of_its_song():
    whole = finding("silent-stem", "error", "Bass.wav", (NAME,))
    placed = finding("dropout", "error", "Bass.wav", (NAME,), at_s=12.0)
    [one] = page_view(audit_of(song(NAME, stem("Bass.wav")), findings=(whole, placed)), NOTHING).songs
    assert [words for _, _, words in one.band.head] == ["error: Silent stem, Bass.wav"]
    assert len(one.band.marks) == 1
    [of_song] = page_view(
        audit_of(song(NAME, stem("Bass.wav")), findings=(finding("missing-role", "error", None, (NAME,)),)),
        NOTHING,
    ).songs
    assert [words for _, _, words in of_song.band.head] == ["error: Missing role, the song"]


def test_a_missing_timecode_is_headed_so():
    gone = finding(
        "missing-role", "warning", None, (NAME,), measured={"missing": "no timecode", "roles": ("timecode",)}
    )
    view = page_view(audit_of(song(NAME, stem("Bass.wav")), findings=(gone,)), NOTHING)
    assert view.songs[0].faults[0].title == view.steps[0].title == "No timecode"


@pytest.mark.parametrize(
    ("message", "below"),
    [
        ("no bass: 80 % of the other songs have it", "80 % of the other songs have it"),
        ("no bass, which the settings require", "the settings require it"),
    ],
)
def test_what_is_missing_is_said_once(message: str, below: str):
    for severity in ("warning", "note"):
        fault = finding(
            "missing-role", severity, None, (NAME,), message=message,
            measured={"missing": "no bass", "roles": ("bass",)},
        )  # fmt: skip
        made = page_view(audit_of(song(NAME, stem("Drums.wav")), findings=(fault,)), NOTHING).songs[0]
        if severity == "note":
            assert made.notes == (("No bass", "", below),) or list(made.notes) == [("No bass", "", below)]
        else:
            assert made.faults[0].message == below[:1].upper() + below[1:]


# --- enlarged beside something ----------------------------------------------------------------------


def pushed(rule: str, value: float, **measured) -> object:
    return finding(rule, "error", "Drums.wav", (NAME,), value=value, measured=measured)


def loud_at(*seconds: float) -> Envelope:
    """Silent but for 50 ms from each of these."""
    peaks = bytearray(6000)
    for second in seconds:
        peaks[round(100 * second) : round(100 * second) + 5] = bytes([230] * 5)
    return Envelope(bin_s=0.01, peaks=bytes(peaks), levels=bytes(peaks))


def drummed(*seconds: float):
    made = stem("Drums.wav", activity={"first_sound_frame": round(48_000 * seconds[0])})
    measures = replace(made.parts[0].measures, envelope=loud_at(*seconds))
    made = replace(made, parts=(replace(made.parts[0], measures=measures),))
    beats = tuple(0.5 + 0.5 * n for n in range(60))
    click = ClickTrack(
        beats_s=beats, accents=(), runs=(), bpm=120.0, metre="4/4", count_in_beats=4, first_beat_s=0.5
    )
    return song(NAME, stem("Click.wav"), made, click=click, click_stem="Click.wav")


def test_a_stem_beside_the_beat_is_shown_with_the_click():
    shown = shown_of(pushed("offset-from-click", 25.0), drummed(2.525, 7.025))
    assert shown.moment_s in (2.5, 7.0)
    assert shown.size_s == pytest.approx(0.025)
    assert (shown.place.stem, shown.beside.stem) == ("Drums.wav", "Click.wav")
    assert shown.place.first_s == shown.beside.first_s
    assert shown.place.span_s == 0.25


def test_a_stem_a_bar_late_is_shown_from_where_it_should_begin():
    shown = shown_of(pushed("shifted-by-beats", 4.0, seconds=2.0), drummed(4.5))
    assert (shown.moment_s, shown.size_s, shown.place.span_s) == (2.5, 2.0, 6.0)
    early = shown_of(pushed("shifted-by-beats", -4.0, seconds=2.0), drummed(4.5))
    assert (early.moment_s, early.size_s) == (6.5, -2.0)


def test_without_a_click_or_a_picture_of_the_stem_nothing_is_shown():
    assert shown_of(pushed("offset-from-click", 25.0), song(NAME, stem("Drums.wav"))) is None
    assert shown_of(pushed("offset-from-click", 25.0)) is None


def test_turned_sides_are_shown_where_they_are_loudest():
    turned = finding("opposite-polarity", "error", "Synth.wav", (NAME,), value=-0.99)
    shown = shown_of(turned, song(NAME, stem("Synth.wav", peaks={"true_at_s": 20.0})))
    assert (shown.place.first_s, shown.place.span_s, shown.moment_s) == (19.99, 0.02, None)


def test_clipping_is_shown_at_its_longest_run():
    clipped = finding(
        "sample-clipping", "error", "Bass.wav", (NAME,), at_s=2.0, value=9.0, measured={"longest_at_s": 18.0}
    )
    assert shown_of(clipped).moment_s == 18.0


def test_both_places_are_read_and_drawn():
    evidence = drummed(2.525)
    audit = audit_of(evidence, findings=(pushed("offset-from-click", 25.0),))
    places = places_of(audit)
    assert [place.stem for place in places] == ["Drums.wav", "Click.wav"]
    page = to_html(audit, extras=Extras(excerpts=excerpts_for(places), sounds={}))
    parsed(page)
    assert "above the click, below this stem; shaded: by what it is late" in page


def test_a_jump_of_timecode_is_shown_with_its_numbers():
    jump = finding(
        "timecode-jump", "error", "LTC.wav", (NAME,), at_s=17.0, value=250.0, unit="frames", limit=1.0,
        measured={"before": "02:00:16:24", "after": "02:00:27:00"},
    )  # fmt: skip
    audit = audit_of(song(NAME, stem("LTC.wav")), findings=(jump,))
    page = to_html(audit, extras=Extras(excerpts=excerpts_for(places_of(audit)), sounds={}))
    assert ">02:00:16:24</text>" in page
    assert ">02:00:27:00</text>" in page
    assert "Measured 250 frames, limit 1 frame." in page


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"found": "44.1 kHz", "usual_words": "48 kHz"}, "measured 44.1 kHz, the show has 48 kHz"),
        ({"level": "digital silence"}, "measured digital silence"),
        ({}, ""),
    ],
)
def test_what_was_measured_is_told_without_a_number_too(fields, words):
    assert measured_words(finding("x", "error", None, (NAME,), measured=fields)) == words


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
        (250.0, "frames", "250 frames"), (1234.5, "Hz", "1234 Hz"), (12_345.0, "Hz", "12\u00a0345 Hz"),
        (11273.4, "ms", "11.273 s"), (30_000.0, "ms", "30 s"), (4.0, "beat", "4 beats"),
        (1.0, "frames", "1 frame"),
        (-0.99, "correlation", "correlation −0.99"), (88_435.0, "ppm", "8.84 %"), (12.1, "LU", "12.1 LU"),
        (100.0, "% of the other songs", "all of the other songs"), (-math.inf, "dBFS", "silence"),
        (0.4, "%", "0.40 %"), (math.nan, "dB", "–"), (3.0, None, "3"),
    ],
)  # fmt: skip
def test_figures_have_as_many_digits_as_somebody_can_use(value, unit, words):
    assert figure(value, unit) == words


def test_levels_that_are_changes_carry_a_sign():
    assert figure(12.1, "LU", changed=True) == "+12.1 LU"
    assert figure(-6.0, "dB", changed=True) == "−6.0 dB"
    assert figure(0.0, "dB", changed=True) == "0.0 dB"


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


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Bounce it again. Then listen.", "Bounce it again."),
        ("Bounce it.", "Bounce it."),
        ("Listen first: +9 ms would look the same. Move it 441 samples later. Then ask.",
         "Listen first: +9 ms would look the same. Move it 441 samples later."),
        ("Mute it. Turn the PA and the ears down before you check. It tells most.",
         "Mute it. Turn the PA and the ears down before you check."),
        ("Bring it down. A file's level says nothing of the sound pressure. Ask.",
         "Bring it down. A file's level says nothing of the sound pressure."),
    ],
)  # fmt: skip
def test_where_there_is_little_room_the_first_sentence_stays_and_every_caution(text, words):
    assert with_cautions(text) == words


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


@pytest.mark.parametrize(
    ("number", "where"),
    [
        (4, "Pad 1.wav, Pad 2.wav, Pad 3.wav and Pad 4.wav"),
        (
            9,
            "Pad 1.wav, Pad 2.wav, Pad 3.wav, Pad 4.wav, Pad 5.wav, Pad 6.wav, Pad 7.wav, Pad 8.wav "
            "and 1 more",
        ),
    ],
)
def test_a_fault_of_many_stems_names_them_while_it_is_closed(number, where):
    names = [f"Pad {each}.wav" for each in range(1, number + 1)]
    faults = tuple(
        finding("duplicate-audio", "error", name, ("Rain",), message=f"holds {name} twice") for name in names
    )
    page = to_html(audit_of(song("Rain", *(stem(name) for name in names)), findings=faults))
    assert f'<bdi class="where">{where}</bdi>' in page
