"""The re-bounce list: who is asked for what; nothing that a new bounce would not mend."""

from __future__ import annotations

import csv
import io

import pytest

from audit.report.names import REBOUNCE_BEGINS
from audit.report.rebounce import CREW, MUSIC, NEW_BOUNCE, rebounce_list, requests
from audit.results import ClickTrack
from tests.evidence import song, stem
from tests.report.samples import audit_of, clean_audit, finding, hostile_audit
from tests.rule_ids import FIXED_IDS

NAME = "03 Slow Escalator"


def click(first_beat_s: float = 1.5, count_in_beats: int | None = 8, metre: str | None = "4/4") -> ClickTrack:
    return ClickTrack(
        beats_s=(first_beat_s, first_beat_s + 0.5), accents=(True, False), runs=(), bpm=120.0, metre=metre,
        count_in_beats=count_in_beats, first_beat_s=first_beat_s, music_s=first_beat_s + 4.0,
    )  # fmt: skip


def of(*findings, stems=None, **fields):
    stems = stems or [stem("Click.wav"), stem("Bass.wav"), stem("Keys.wav")]
    audit = audit_of(song(NAME, *stems, **fields), findings=findings)
    return requests(audit)


def fault(rule: str, name: str | None, severity: str = "error", **fields):
    return finding(rule, severity, name, (NAME,), **fields)


def test_the_wanted_line_says_format_start_length_and_level():
    [request] = of(fault("dropout", "Bass.wav", at_s=12.5), click=click())
    assert request.wanted == (
        "48 kHz, 24-bit WAV, stereo, from the others' start, 0:01.500 ahead of the click's first beat "
        "(2 bars before the music), 1:00.000 long, same level"
    )
    assert (request.group, request.song, request.stem) == (MUSIC, NAME, "Bass.wav")
    assert request.places == "0:12.500"


@pytest.mark.parametrize(
    ("track", "start"),
    [
        (None, "from the same start as the song's other stems"),
        (click(0.0), "from the click's first beat (2 bars before the music)"),
        (click(0.0, 6), "from the click's first beat (6 beats before the music)"),
        (click(0.0, 4), "from the click's first beat (1 bar before the music)"),
        (click(0.0, 4, None), "from the click's first beat (4 beats before the music)"),
        (click(0.0, None), "from the click's first beat"),
    ],
)
def test_the_start_is_told_in_bars_where_the_click_tells_them(track, start):
    [request] = of(fault("dropout", "Bass.wav"), click=track)
    assert f", {start}, " in request.wanted


def test_the_length_is_that_of_the_other_stems():
    stems = [stem("Click.wav"), stem("Keys.wav"), stem("Bass.wav", seconds=41.0)]
    [request] = of(fault("length-mismatch", "Bass.wav"), stems=stems)
    assert "1:00.000 long" in request.wanted


@pytest.mark.parametrize(
    ("rule", "fields", "level"),
    [
        ("dropout", {}, ", same level"),
        ("sample-clipping", {}, "peaks below −1 dBTP"),
        ("true-peak-over", {"value": 1.4, "limit": 0.0}, "at least 1.5 dB lower"),
        ("crew-level-jump", {}, "at the level it has in the other songs"),
    ],
)
def test_the_level_asked_for_follows_the_fault(rule, fields, level):
    [request] = of(fault(rule, "Bass.wav", **fields))
    assert request.wanted.endswith(level)


def test_what_may_be_a_bad_copy_is_asked_for_as_it_is_first():
    [request] = of(fault("truncated-file", "Bass.wav"))
    assert request.wanted.startswith(
        "the same file again; if it is so at its source too, a new bounce: 48 kHz"
    )


def test_several_faults_of_a_stem_are_one_request():
    [request] = of(
        fault("dropout", "Bass.wav", at_s=1.0, message="a hole"),
        fault("dropout", "Bass.wav", at_s=2.0, message="a hole"),
        fault("dc-offset", "Bass.wav", severity="warning", message="an offset"),
    )
    assert request.wrong == "a hole; an offset"
    assert request.places == "0:01.000, 0:02.000"
    assert request.rules == ("dropout", "dc-offset")


def test_music_comes_first_and_the_crews_stems_are_a_group_of_their_own():
    found = of(fault("click-gap", "Click.wav"), fault("dropout", "Keys.wav"))
    assert [(request.group, request.stem) for request in found] == [(MUSIC, "Keys.wav"), (CREW, "Click.wav")]


def test_a_missing_role_is_asked_for_without_a_name():
    [request] = of(fault("missing-role", None, measured={"roles": ("timecode",)}))
    assert (request.group, request.stem) == (CREW, "(no stem yet)")


@pytest.mark.parametrize(
    "one",
    [
        fault("two-versions", "Bass.wav"),
        fault("stray-file", None, severity="note"),
        fault("dropout", "Bass.wav", severity="note"),
        fault("dropout", "Bass.wav", waived={"reason": "known"}),
        fault("song-loudness-outlier", None, severity="warning"),
    ],
    ids=lambda one: f"{one.rule}-{one.severity.value}",
)
def test_what_no_bounce_mends_is_not_asked_for(one):
    assert of(one) == []


def test_every_rule_of_the_list_exists():
    assert NEW_BOUNCE <= FIXED_IDS


@pytest.mark.parametrize("kind", ["md", "txt", "csv"])
def test_a_clean_show_asks_for_nothing(kind):
    text = rebounce_list(clean_audit(), kind)
    assert text.lstrip("\ufeff").startswith(REBOUNCE_BEGINS)
    if kind == "csv":
        assert len(list(csv.reader(io.StringIO(text)))) == 1
    else:
        assert "Nothing: no stem of this show needs a new bounce." in text


@pytest.mark.parametrize("kind", ["md", "txt", "csv"])
def test_hostile_names_stay_text(kind):
    text = rebounce_list(hostile_audit(), kind)
    assert "\x1b" not in text
    assert "\u202e" not in text
    if kind == "md":
        assert "**\\[bold red\\]Bass\\[/bold red\\].wav**" in text
    if kind == "csv":
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) == 11
        assert {len(row) for row in rows} == {8}
