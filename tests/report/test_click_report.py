"""The click in the reports: a table with --verbose, an object a song in the JSON."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import pytest
from rich.console import Console

from audit.report.json_report import to_json
from audit.report.terminal import print_report
from audit.results import ClickRun, ClickTempo
from tests.report.samples import audit_of, healthy
from tests.rules.test_click import counted, extra, gap, jump, miscount, pause, track


def printed(*songs, verbose: bool = True) -> list[str]:
    console = Console(file=io.StringIO(), width=100, force_terminal=False)
    print_report(audit_of(*songs), console, verbose=verbose)
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined]


RAMP = replace(
    track(),
    bpm=108.0,
    runs=(ClickRun(first_beat=0, beats=64, bpm_first=100.0, bpm_last=126.04, steady=False),),
    metre=None,
    count_in_beats=None,
)


def test_every_song_with_a_click_has_a_line():
    lines = printed(counted(track()), healthy("Silent Mill"), counted(RAMP, "Downhill"))
    first = next(n for n, line in enumerate(lines) if "Count-in" in line)
    assert lines[first].split() == ["Click", "BPM", "Metre", "Count-in", "First", "beat", "Beats"]
    assert lines[first + 1].split() == ["Night", "Ferry", "120", "4/4", "4", "0:00.500", "64"]
    assert lines[first + 2].split() == ["Downhill", "100", "to", "126", "–", "–", "0:00.500", "64"]
    assert lines[first + 3] == ""


def test_the_table_is_for_those_who_ask():
    assert not any("Count-in" in line for line in printed(counted(track()), verbose=False))
    assert not any("Count-in" in line for line in printed(healthy("Silent Mill")))


def test_the_json_tells_everything():
    click = track(
        gaps=(gap(12.0, 1),),
        extras=(extra(14.06, 60.0),),
        pauses=(pause(20.0, 30.0),),
        subdivision=2,
        jumps=(jump(40.25, 250.0, ("Bass.wav",)),),
        miscounts=(miscount(-1),),
    )
    ramp = ClickTempo(at_s=20.5, bpm_first=120.0, bpm_last=96.0)
    click = replace(click, runs=(replace(click.runs[0], tempi=(ramp,)),))
    songs = json.loads(to_json(audit_of(counted(click), healthy("Silent Mill"))))["songs"]
    told = {song["name"]: song["click"] for song in songs}
    assert told["Silent Mill"] is None
    found = told["Night Ferry"]
    assert (found["stem"], found["first_beat_s"], found["bpm"]) == ("Click.wav", 0.5, 120.0)
    assert (found["beats"], found["metre"], found["count_in_beats"]) == (64, "4/4", 4)
    assert found["ticks_a_beat"] == 2
    assert found["gaps"] == [{"at_s": 12.0, "beats": 1}]
    assert found["extras"] == [{"at_s": 14.06, "off_ms": 60.0, "instead_of_beat": False}]
    assert found["pauses"] == [{"start_s": 20.0, "end_s": 30.0}]
    assert found["tempo_changes"] == []
    assert found["jumps"] == [
        {
            "at_s": 40.25, "by_ms": pytest.approx(250.0), "stems_on_old_beats": ["Bass.wav"],
            "stems_on_new_beats": [],
        }
    ]  # fmt: skip
    assert found["miscounts"] == [
        {
            "at_s": 16.0, "next_bar_s": 17.5, "beats_too_many": -1, "beats_a_bar": 4,
            "stems_on_old_bars": ["Bass.wav", "Drums.wav", "Keys.wav"],
        }
    ]  # fmt: skip
    assert found["runs"] == [
        {
            "first_beat_s": 0.5, "beats": 64, "bpm_first": 120.0, "bpm_last": 120.0, "steady": True,
            "tempi": [{"at_s": 20.5, "bpm_first": 120.0, "bpm_last": 96.0}],
        }
    ]  # fmt: skip
    assert len(found["beats_s"]) == len(found["accents"]) == 64
