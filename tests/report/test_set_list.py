"""The set list and the outputs in the reports."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from datetime import date

import pytest
from rich.console import Console

from audit.findings import ShowAudit, Unmeasured
from audit.report.first import fix_first
from audit.report.html.render import to_html
from audit.report.html.view import page_view
from audit.report.json_report import to_json
from audit.report.sheet.rows import crew_sheet
from audit.report.terminal import print_report
from audit.results import OutputSum
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings.model import Waiver
from audit.waivers import waive
from tests.evidence import part
from tests.report.samples import finding
from tests.report.test_page import NOTHING
from tests.rules.test_setlist import STEPS, at, tonight


def audited(**more) -> ShowAudit:
    return judge(tonight(("A", "B"), ("Gone", "C"), songs=STEPS, **more), RULES, version="test")


def words(audit: ShowAudit, width: int = 80) -> str:
    console = Console(file=io.StringIO(), width=width, no_color=True)
    print_report(audit, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_the_terminal_tells_the_order_with_its_times():
    text = words(audited(starts=1230, ends=1240, changeover_s=30.0, interval_s=120.0))
    flat = " ".join(text.split())
    lines = [line.split() for line in text.splitlines()]
    assert ["20:30", "A", "1:00", "−16.0", "clear"] in lines
    assert ["20:31", "B", "1:00", "−22.5", "clear"] in lines
    assert text.splitlines()[0] == "Not ready for set list Tonight, 4 songs: 1 not on disk."
    assert ["20:34", "Gone", "–", "–", "not", "on", "disk"] in lines
    assert (
        "4 songs in 2 parts, at least 6:00 with changeovers (1 song of unknown length not counted), over at "
        "20:36 at the earliest, must be over at 20:40." in flat
    )
    assert (
        "loudness in this order: 6.5 LU quieter from A to B in any order: 13.5 LU louder from B to C" in flat
    )
    assert "no set list" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_fault_outside_the_set_list_is_told_apart():
    """Whether the night can go on is another question than whether the whole folder is right."""
    audit = judge(tonight(("A", "B"), songs=STEPS), RULES, version="test")
    for faulty, answer, why in (("C", "Ready", ""), ("B", "Not ready", ": 1 with errors")):
        songs = tuple(
            replace(one, findings=(finding("dropout", "error", None, (faulty,)),))
            if one.evidence.name == faulty
            else one
            for one in audit.songs
        )
        made = replace(audit, songs=songs)
        page = page_view(made, NOTHING)
        assert (page.answer, page.why) == (answer, f"for set list Tonight, 2 songs{why}.")
        assert page.of_all.startswith("The whole show: not ready: 1 error in 1 of 3 songs")
        lines = words(made).splitlines()
        assert lines[0] == f"{answer} for set list Tonight, 2 songs{why}."
        assert lines[1].startswith("The whole show: not ready: 1 error in 1 of 3 songs")
        assert lines[0] in lines[-5:]
        told = json.loads(to_json(made))["show"]["set_list"]["verdict"]
        assert told == ("error" if faulty == "B" else "clear")
        assert (["1:00", "B", "1:00", "−22.5", "1", "error"] in [one.split() for one in lines]) is (
            faulty == "B"
        )


@pytest.mark.parametrize(
    ("seconds", "over"),
    [(119.0, "00:01"), (120.0, "00:01"), (120.5, "00:02"), (121.0, "00:02"), (60.0 * 3 + 0.0001, "00:02")],
)
def test_over_is_over(seconds: float, over: str):
    """From 23:59 with an end at 00:01: a second more is 00:02, as the rule on the set's time has it."""
    songs = (at("A", minutes=seconds / 60),)
    audit = judge(tonight(("A",), songs=songs, starts=23 * 60 + 59, ends=1), RULES, version="test")
    flat = " ".join(words(audit).split())
    assert f"over at {over}, must be over at 00:01." in flat
    assert ("set-overruns" in flat) is (over != "00:01")
    assert crew_sheet(audit, answer="").lines[0].total == over


def test_songs_of_unknown_length_make_every_total_the_least():
    told = json.loads(to_json(audited()))["show"]["set_list"]
    assert told["verdict"] == "error"  # one song is not on disk
    assert (told["without_length"], told["length_s"]) == (1, 180.0)
    made = crew_sheet(audited(), answer="")
    assert made.total == "at least 3:00"
    assert "1 song of unknown length not counted" in made.foot
    whole = judge(tonight(("A", "B"), songs=STEPS), RULES, version="test")
    assert json.loads(to_json(whole))["show"]["set_list"]["without_length"] == 0
    assert crew_sheet(whole, answer="").total == "2:00"
    assert "at least" not in words(whole)


def test_without_a_set_list_nothing_is_said_of_one():
    audit = judge(replace(tonight(songs=STEPS), order=None, orders=()), RULES, version="test")
    assert "Set list" not in words(audit)
    assert json.loads(to_json(audit))["show"]["set_list"] is None


def test_the_json_report_has_all_of_it():
    told = json.loads(to_json(audited(starts=1230, ends=1240)))["show"]["set_list"]
    assert [(one["name"], one["song"], one["half"], one["begins_s"]) for one in told["songs"]] == [
        ("A", "A", 1, 0.0), ("B", "B", 1, 60.0), ("Gone", None, 2, 120.0), ("C", "C", 2, 120.0),
    ]  # fmt: skip
    assert (told["length_s"], told["time_s"], told["missing"]) == (180.0, 600.0, ["Gone"])
    assert told["largest_step"] == {"songs": ["B", "C"], "lu": 13.5}


def test_the_json_report_has_the_outputs():
    first = replace(
        STEPS[0],
        outputs=(
            OutputSum(output=1, peaks=part(STEPS[0].stems[0].role).measures.peaks, from_stems=("Bass.wav",)),
        ),
    )
    audit = judge(tonight(("A",), songs=(first,)), RULES, version="test")
    (out,) = json.loads(to_json(audit))["songs"][0]["outputs"]
    assert (out["output"], out["true_peak_dbtp"], out["from_stems"]) == (1, -5.8, ["Bass.wav"])


def test_waived_faults_stay_in_the_report_with_their_reason():
    audit = audited()
    waivers = (Waiver(rule="set-list-missing", reason="comes by courier", until=date(2027, 1, 2)),)
    waived, _ = waive(audit, waivers, date(2026, 12, 1))
    text = " ".join(words(waived).split())
    assert "Waived: looked at and accepted, counted nowhere" in text
    assert "set-list-missing the whole show: comes by courier (until 2027-01-02)" in text
    assert "1 waived" in text
    assert "Waived" not in words(audit)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({}, "4 songs in 2 parts, at least 3:00 (1 song"),
        ({"changeover_s": 1.0}, "at least 3:02 with changeovers"),
    ],
)
def test_the_least_a_set_takes_is_not_rounded_up(more, says):
    """Three songs of a minute, one that is not there; changeovers only where the settings know of some."""
    assert says in " ".join(words(audited(**more)).split())


def test_a_short_set_is_told_to_the_second():
    audit = judge(tonight(("A",), songs=STEPS), RULES, version="test")
    assert "1 song, 1:00." in words(audit)


def test_what_the_night_needs_is_mended_first():
    """Two songs with the same fault, and a worse one in a song that nobody plays."""
    audit = judge(tonight(("A", "B"), songs=STEPS), RULES, version="test")
    rules = {"B": "origin-time-mismatch", "C": "click-bleed"}
    songs = tuple(
        replace(one, findings=(finding(rule, "error", None, (one.evidence.name,)),))
        if (rule := rules.get(one.evidence.name))
        else one
        for one in audit.songs
    )
    assert [thing.first.rule for thing in fix_first(replace(audit, songs=songs))] == [rules["B"], rules["C"]]
    without = replace(audit, songs=songs, evidence=replace(audit.evidence, order=None))
    assert [thing.first.rule for thing in fix_first(without)] == [rules["C"], rules["B"]]


def faulty(rules: dict[str, tuple[str, ...]], *night: str) -> ShowAudit:
    """The songs A, B and C with errors of these rules, on a night with these songs."""
    audit = judge(tonight(night, songs=STEPS), RULES, version="test")
    songs = tuple(
        replace(one, findings=tuple(finding(rule, "error", None, (name,)) for rule in rules.get(name, ())))
        for one in audit.songs
        if (name := one.evidence.name)
    )
    return replace(audit, songs=songs)


BAD = ("click-bleed", "silent-stem", "key-mismatch", "dropout")


def test_what_is_not_for_tonight_stands_apart():
    """Nobody who opens the doors in a minute has to look songs up to see that none is played."""
    audit = faulty({"C": BAD}, "A", "B")
    lines = words(audit).splitlines()
    at = lines.index("Nothing to fix for tonight")
    assert lines[at + 1 : at + 5] == [
        "Not tonight: in songs outside the set list", "  1. click-bleed in C", "  2. silent-stem in C",
        "  3. key-mismatch in C",
    ]  # fmt: skip
    assert "Fix these first" not in lines
    assert "C, not tonight" in lines
    view = page_view(audit, NOTHING)
    assert (view.steps, [step.where for step in view.later]) == ((), ["C"] * 3)
    page = to_html(audit, extras=NOTHING)
    assert "Not tonight: in songs outside the set list" in page
    assert "first</h2>" not in page


def test_one_fault_of_two_songs_is_two_things_where_one_is_for_tonight():
    audit = faulty({"A": ("dropout",), "B": ("dropout", "silent-stem"), "C": ("click-bleed",)}, "B")
    lines = words(audit).splitlines()
    at = lines.index("Fix these first")
    assert lines[at + 1 : at + 5] == [
        "  1. silent-stem in B", "  2. dropout in B", "Not tonight: in songs outside the set list",
        "  1. click-bleed in C",
    ]  # fmt: skip
    assert "Nothing to fix for tonight" not in lines
    assert [line for line in lines if line.endswith(", not tonight")] == ["A, not tonight", "C, not tonight"]
    page = to_html(audit, extras=NOTHING)
    assert page.index("Fix these first</h2>") < page.index("Not tonight: in songs")


def test_a_night_that_was_not_checked_in_full_is_not_said_to_need_nothing():
    audit = faulty({"C": BAD}, "A")
    gap = Unmeasured(rule="dropout", stem="Bass.wav", reason="cannot be read")
    songs = (replace(audit.songs[0], unmeasured=(gap,)), *audit.songs[1:])
    text = words(replace(audit, songs=songs))
    assert "Not tonight: in songs outside the set list" in text
    assert "Nothing to fix for tonight" not in text


def test_without_a_set_list_no_song_is_for_another_night():
    audit = faulty({"C": BAD}, "A")
    text = words(replace(audit, evidence=replace(audit.evidence, order=None)))
    assert "Fix these first" in text
    assert "tonight" not in text.lower()
