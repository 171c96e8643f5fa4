"""The crew sheet: the night's order, totals, and one page that cannot be misread."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import re
import zlib
from dataclasses import replace
from datetime import datetime, timezone

import pytest
from rich.console import Console

from audit.findings import Unmeasured
from audit.report.sheet.pdf import sheet_pdf
from audit.report.sheet.rows import Sheet, SheetLine, _clause, crew_sheet
from audit.report.sheet.text import print_sheet, sheet_csv, sheet_html
from audit.report.verdict import night_answer
from audit.settings.model import NO_SETTINGS, Output, SetEntry, SetList, ShowSettings
from audit.settings.order import running_order
from audit.timecode import FPS_30
from tests.evidence import mix, song, stem
from tests.report.samples import audit_of, clean_audit, finding, hostile_audit
from tests.rules.test_click import track
from tests.rules.timecode_tracks import coded as coded_song
from tests.rules.timecode_tracks import ltc
from tests.rules.timecode_tracks import track as code_track

DAY = datetime(2027, 5, 1, tzinfo=timezone.utc)
A, B, C = "01 - Night Ferry", "02 - Salt Road", "03 - Last Tram"


def songs():
    found = []
    for name, title, seconds in ((A, "Night Ferry", 60.0), (B, "Salt Road", 90.0), (C, "Last Tram", 30.0)):
        stems = (stem("Click.wav", seconds=seconds), stem("Bass.wav", seconds=seconds))
        found.append(song(name, *stems, facts={"title": title}))
    return found


def audit(*findings, settings: ShowSettings = NO_SETTINGS, set_list: SetList | None = None):
    made = audit_of(*songs(), findings=findings)
    named = [(one.name, one.names) for one in made.evidence.songs]
    order = running_order(set_list, named) if set_list is not None else None
    return replace(made, evidence=replace(made.evidence, settings=settings, order=order))


def night(*halves: tuple[str, ...], **fields) -> SetList:
    entries = tuple(tuple(SetEntry(name=name) for name in half) for half in halves)
    return SetList(name="Night 1", halves=entries, **fields)


def sheet(set_list: SetList | None = None, *findings, **fields) -> Sheet:
    return crew_sheet(audit(*findings, set_list=set_list, **fields), answer="Ready", made="1 May 2027")


def test_without_a_set_list_the_folder_orders_the_songs():
    made = sheet()
    assert [(line.order, line.song, line.length, line.total) for line in made.lines] == [
        ("1", "Night Ferry", "1:00", "1:00"),
        ("2", "Salt Road", "1:30", "2:30"),
        ("3", "Last Tram", "0:30", "3:00"),
    ]  # fmt: skip
    assert (made.total, made.clock_times) == ("3:00", False)


def test_a_set_list_orders_them_and_counts_changeovers_and_the_interval():
    made = sheet(
        night(("Last Tram", "01 - night ferry"), ("Salt Road",), changeover_s=10.0, interval_s=600.0)
    )
    assert [(line.order, line.song, line.total) for line in made.lines] == [
        ("1", "Last Tram", "0:30"), ("2", "Night Ferry", "1:40"), ("", "Interval, 10:00", ""),
        ("3", "Salt Road", "13:10"),
    ]  # fmt: skip
    assert made.lines[2].interval
    assert "changeovers and the interval" in made.foot


def test_a_start_turns_totals_into_times_of_the_day():
    made = sheet(night(("Night Ferry", "Salt Road"), starts=23 * 60 + 59, ends=30))
    assert [line.total for line in made.lines] == ["00:00", "00:02"]  # at 00:01:30 it still plays
    assert dict(made.columns)["total"] == "Ends at"
    assert made.ends == ""


@pytest.mark.parametrize(("ends", "said"), [(20 * 60 + 2, "0:30 over its time"), (20 * 60 + 3, "")])
def test_a_set_that_runs_past_its_end_is_told(ends, said):
    assert sheet(night(("Night Ferry", "Salt Road"), starts=20 * 60, ends=ends)).ends == said


def test_a_song_that_is_not_on_the_disk_is_told():
    [line] = sheet(night(("Rain",))).lines
    assert (line.song, line.warning, line.bad, line.length) == ("Rain", "not on the disk", True, "")


def test_errors_mark_the_song_and_stand_in_words_under_it():
    made = sheet(
        None,
        finding("click-gap", "error", "Click.wav", (A,)),
        finding("click-gap", "error", "Click.wav", (A,)),
        finding("dc-offset", "warning", "Bass.wav", (B,)),
        finding("dual-mono", "note", "Bass.wav", (C,)),
        finding("dropout", "error", "Bass.wav", (C,), waived={"reason": "the record has it"}),
    )
    assert [(line.warning, line.bad) for line in made.lines] == [
        ("Click gap (Click.wav)", True), ("Bass: dc-offset was measured", False), ("", False),
    ]  # fmt: skip


def test_a_song_with_many_faults_tells_three_and_how_many_more():
    rules = ("click-gap", "dropout", "splice-click", "dc-offset", "comb-pair")
    [line, *_] = sheet(None, *(finding(rule, "error", "Bass.wav", (A,)) for rule in rules)).lines
    assert line.warning.count("Bass: ") == 3
    assert line.warning.endswith("; 2 more")


@pytest.mark.parametrize(
    ("message", "said"),
    [
        ("late by 1 bar (1.905 s, 91429 samples): moved by that", "late by 1 bar"),
        (
            "the numbers skip 250 frames: 02:00:27:00 follows 02:00:16:24 at once",
            "the numbers skip 250 frames",
        ),
        ("25 frames a second, the settings say 30", "25 frames a second, the settings say 30"),
        ("clipped: 1491 places at full scale, the longest 9 samples", "clipped: 1491 places at full scale"),
        ("x" * 57, ""),
        ("x" * 40 + ", " + "y" * 40, "x" * 40),
    ],
)
def test_a_fault_is_said_in_a_clause(message: str, said: str):
    assert _clause(message) == said


def clicked(name: str, bpm: float = 120.0, **fields):
    made = track(**fields)
    runs = tuple(replace(run, bpm_first=bpm, bpm_last=bpm) for run in made.runs)
    made = replace(made, bpm=bpm, runs=runs)
    return song(name, stem("Click.wav"), stem("Bass.wav"), click=made, click_stem="Click.wav")


def test_the_foot_says_at_what_rate_the_timecode_runs():
    bass = stem("Bass.wav")
    same = [song(name, ltc(code_track()), bass) for name in ("A", "B")]
    made = crew_sheet(audit_of(*same), answer="Ready")
    assert made.foot.startswith("Timecode runs at 25 frames a second; lengths are")
    other = song("C", ltc(code_track(rate=FPS_30)), bass)
    mixed = crew_sheet(audit_of(*same, other), answer="Ready")
    assert "Timecode runs at 25 frames a second; 30 in C; lengths are" in mixed.foot
    assert crew_sheet(audit_of(song("D", bass)), answer="Ready").foot.startswith("Lengths are")


def test_no_timecode_and_unreadable_timecode_are_told_apart():
    code, bass = coded_song("Sure", code_track("05:00:00:00")), stem("Bass.wav")
    lost = song("Lost", ltc(None))
    made = crew_sheet(audit_of(code, lost, song("Bare", bass)), answer="Ready")
    assert [line.timecode for line in made.lines] == ["05:00:00:00", "unreadable", "none"]
    nobody = crew_sheet(audit_of(song("Bare", bass), song("Too", bass)), answer="Ready")
    assert "timecode" not in dict(nobody.columns)


def test_a_song_without_a_click_says_so_and_eighths_are_marked():
    made = crew_sheet(
        audit_of(
            clicked("Four", metre="4/4", bpm=118.0, count_in=4),
            clicked("Six", metre="6/8", bpm=168.0, count_in=6),
            song("Free", stem("Bass.wav")),
            song("Mute", stem("Click.wav", silent=True), stem("Bass.wav")),
            song("Noise", stem("Click.wav"), stem("Bass.wav"), click_stem="Click.wav"),
        ),
        answer="Ready",
    )
    assert [(line.tempo, line.count_in) for line in made.lines] == [
        ("118 · 4/4", "4"), ("♪ 168 · 6/8", "6"), ("no click", ""), ("silent click", ""), ("unreadable", ""),
    ]  # fmt: skip
    assert dict(made.columns)["count_in"] == "Count-in"


def test_songs_not_to_be_played_are_counted_large():
    made = crew_sheet(audit(finding("click-gap", "error", "Click.wav", (A,))), answer="Not ready")
    assert made.verdict == "Not ready: 1 of 3 songs"
    assert '<p class="verdict">Not ready: 1 of 3 songs</p>' in sheet_html(made)
    assert printed(made).splitlines()[0].endswith("Not ready: 1 of 3 songs.")
    assert sheet().verdict == ""
    assert 'class="verdict"' not in sheet_html(sheet())


def test_the_mark_stands_before_the_number_on_screen_and_page():
    made = crew_sheet(audit(finding("click-gap", "error", "Click.wav", (B,))), answer="Not ready")
    assert [line[:5] for line in printed(made).splitlines()[3:6]] == ["    1", "  ! 2", "    3"]
    assert re.search(r'<span class="bad">!<span class="away">[^<]*</span></span> 2</td>', sheet_html(made))


def test_a_narrow_terminal_drops_columns_and_says_which():
    patch = (Output(out=(1, 2), stems=("bass",)), Output(out=(3,), stems=("click",)))
    long = [clicked(f"Song {n} of a name that is long enough to be cut", count_in=4) for n in range(3)]
    made = audit_of(*long)
    made = replace(made, evidence=replace(made.evidence, settings=ShowSettings(outputs=patch)))
    text = printed(crew_sheet(made, answer="Ready"), width=50)
    assert max(map(len, text.splitlines())) <= 50
    assert "Too narrow here for" in text
    assert "outputs" in text.partition("Too narrow")[2]
    assert "Outputs" not in text.partition("Too narrow")[0]
    assert "Too narrow" not in printed(crew_sheet(made, answer="Ready"), width=120)


def printed(made: Sheet, width: int = 100) -> str:
    paper = io.StringIO()
    print_sheet(made, Console(file=paper, width=width, no_color=True))
    return paper.getvalue()


def letters(data: bytes) -> float:
    """The largest letters of the page but for its title's 20, in points."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.S)
    found = b"".join(zlib.decompress(part) for part in streams if part.startswith(b"\x78"))
    return max(size for one in re.findall(rb"/F\d+ ([\d.]+) Tf", found) if (size := float(one)) != 20.0)


def test_the_fewer_songs_the_larger_the_letters():
    sizes = [letters(sheet_pdf(many(number), DAY)) for number in (4, 12, 25)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] > 1.3 * sizes[2]


def test_outputs_are_those_of_the_patch_and_only_there_with_one():
    assert "outputs" not in dict(sheet().columns)
    patch = (
        Output(out=(1, 2), stems=("bass",)), Output(out=(3,), stems=("click",)),
        Output(out=(7,), stems=("bass",), songs=("Salt Road",)), Output(out=(9,), stems=("choir",)),
    )  # fmt: skip
    made = sheet(settings=ShowSettings(source="show.toml", outputs=patch))
    assert [line.outputs for line in made.lines] == ["1–3", "1–3, 7", "1–3"]


def pages(data: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b", data))


def many(number: int) -> Sheet:
    line = SheetLine(
        order="1", song="Night Ferry", length="3:20", total="3:20", warning="Click gap (Click.wav)"
    )
    return replace(sheet(), lines=(line,) * number)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_twenty_five_songs_with_warnings_are_one_page(paper):
    data = sheet_pdf(many(25), DAY, paper)
    assert data.startswith(b"%PDF-")
    assert pages(data) == 1


@pytest.mark.parametrize(("number", "wanted"), [(0, 1), (36, 1), (37, 2), (100, 3)])
def test_longer_sets_go_on_further_pages(number, wanted):
    assert pages(sheet_pdf(many(number), DAY)) == wanted


def test_the_same_sheet_gives_the_same_bytes():
    assert sheet_pdf(sheet(), DAY) == sheet_pdf(sheet(), DAY)
    assert sheet_html(sheet()) == sheet_html(sheet())


def test_hostile_names_give_a_sheet_all_the_same():
    made = crew_sheet(hostile_audit(), answer="Not ready")
    assert sheet_pdf(made, DAY).startswith(b"%PDF-")
    page = sheet_html(made)
    assert "\x1b" not in page
    assert "\u202e" not in page
    rows = list(csv.reader(io.StringIO(sheet_csv(made))))
    assert len(rows) == 11
    assert {len(row) for row in rows} == {12}


def test_names_with_tags_stay_text():
    made = crew_sheet(
        audit_of(song('<script>alert(1)</script>"><img src=x onerror=alert(1)>', stem("Bass.wav"))),
        answer="Ready",
    )  # fmt: skip
    page = sheet_html(made)
    assert "<script" not in page
    assert "<img" not in page
    assert "&lt;script&gt;" in page


def test_a_clean_show_warns_of_nothing():
    assert [line.warning for line in crew_sheet(clean_audit(), answer="Ready").lines] == [""] * 8


def test_the_policy_lets_the_sheets_own_style_through():
    page = sheet_html(sheet())
    style = re.search(r"<style>(.*?)</style>", page, re.S)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"sha256-{digest}" in page


def named(*names: tuple[str, str], dbtp: float = -1.0) -> Sheet:
    made = audit_of(
        *(
            song(name, stem("Bass.wav"), facts={"title": title}, mix=mix(peaks={"true_dbtp": dbtp}))
            for name, title in names
        )
    )
    return crew_sheet(made, answer="Ready", made="1 May 2027")


def test_two_songs_of_one_title_keep_their_numbers():
    made = named(("03 - Opener", "Opener"), ("04 - Rain", "Rain"), ("09 - opener", "opener"))
    assert [line.song for line in made.lines] == ["03 - Opener", "Rain", "09 - opener"]


def test_without_a_patch_the_foot_tells_what_would_clip_on_one_pair():
    assert "clip" not in named((A, "Night Ferry")).foot
    assert (
        "on one pair of outputs Night Ferry would clip (+3.1 dBTP)"
        in named((A, "Night Ferry"), dbtp=3.1).foot
    )
    both = named((A, "Night Ferry"), (B, "Salt Road"), dbtp=3.1).foot
    assert "on one pair of outputs 2 songs, most of all Salt Road, would clip (+3.1 dBTP)" in both


def test_the_sheet_answers_for_its_own_songs():
    """A fault in a song that nobody plays tonight keeps no one off the stage; one of the whole show does."""
    tonight = night((A, B))
    fault = finding("dropout", "error", "Bass.wav", (C,))
    late = finding("set-overruns", "warning", None, ())
    assert night_answer(audit(fault)) == "Not ready"
    assert night_answer(audit(fault, set_list=tonight)) == "Ready"
    assert night_answer(audit(fault, set_list=night((A, C)))) == "Not ready"
    assert night_answer(audit(fault, set_list=night((A, "Gone")))) == "Not ready"
    warned = audit(finding("cut-tail", "warning", "Bass.wav", (A,)), set_list=tonight)
    assert night_answer(warned) == "Have a look first"
    over = audit(set_list=tonight)
    assert night_answer(replace(over, show_findings=(late,))) == "Have a look first"
    assert night_answer(audit(set_list=night(("Gone",)))) == "Nothing was checked"


def test_a_song_that_could_not_be_checked_in_full_is_marked_so_and_not_forbidden():
    gap = Unmeasured(rule="dropout", stem="Bass.wav", reason="it cannot be decoded")
    shown = audit(finding("click-gap", "error", "Click.wav", (B,)))
    songs = tuple(replace(s, unmeasured=(gap,)) if s.evidence.name == A else s for s in shown.songs)
    made = crew_sheet(replace(shown, songs=songs), answer="Not ready")
    assert [(line.mark, line.bad, line.unsure) for line in made.lines] == [
        ("?", False, True), ("!", True, False), ("", False, False),
    ]  # fmt: skip
    assert made.verdict == "Not ready: 1 of 3 songs"
    assert made.lines[0].warning == "could not be checked in full"
    assert "“!” before a number: do not play the song as it is; “?” before a number: not checked" in made.foot
    assert [line[:5] for line in printed(made).splitlines()[3:6]] == ["  ? 1", "  ! 2", "    3"]
    assert re.search(
        r'"bad">\?<span class="away"> not checked in full</span></span> 1</td>', sheet_html(made)
    )


def test_a_mark_that_no_song_bears_is_not_explained():
    made = crew_sheet(audit(finding("click-gap", "error", "Click.wav", (B,))), answer="Not ready")
    assert "“?”" not in made.foot
