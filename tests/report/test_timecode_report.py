"""Timecode in the reports: a line a song on the terminal, an object a song in the JSON."""

from __future__ import annotations

import io
import json

import pytest
from rich.console import Console

from audit.report.json_report import to_json
from audit.report.terminal import print_report
from audit.results import JumpKind
from audit.timecode import FPS_29_97_DROP
from tests.report.samples import audit_of, healthy
from tests.rules.timecode_tracks import coded, jump, jumping, track

DROP = track("10:00:00;00", rate=FPS_29_97_DROP, at_s=2.0, user_bits=(1, 2, 3, 4, 5, 6, 7, 8))


def printed(*songs, width: int = 100) -> list[str]:
    console = Console(file=io.StringIO(), width=width, force_terminal=False)
    print_report(audit_of(*songs), console)
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined]


def test_every_song_with_timecode_has_a_line():
    lines = printed(coded("Night Ferry"), healthy("Silent Mill"), coded("Tin Roof", DROP))
    first = next(n for n, line in enumerate(lines) if "Timecode" in line)
    assert lines[first].split() == ["Timecode", "First", "Last", "Rate", "Starts", "dBFS"]
    assert lines[first + 1].split() == [
        "Night", "Ferry", "01:00:00:00", "01:00:59:24", "25", "0:00", "−12.0",
    ]  # fmt: skip
    assert lines[first + 2].split() == [
        "Tin", "Roof", "10:00:00;00", "10:00:59;27", "29.97", "DF", "0:02", "−12.0",
    ]  # fmt: skip
    assert lines[first + 3] == ""


def test_jumps_have_a_column_where_there_are_any():
    lines = printed(
        coded("Night Ferry", jumping(jump(JumpKind.STRAY), jump(JumpKind.HELD))), coded("Tin Roof")
    )
    rows = [line for line in lines if "01:00:59:24" in line]
    assert [row.split()[-1] for row in rows] == ["jumps", "−12.0"]
    assert "2 jumps" in rows[0]


def test_a_show_without_timecode_has_no_table():
    assert not any("Last" in line for line in printed(healthy("Silent Mill")))


@pytest.mark.parametrize("width", [80, 100])
def test_no_line_is_too_long(width: int):
    lines = printed(coded("An exceedingly long song name that goes on and on, and on" * 3, DROP), width=width)
    assert max(map(len, lines)) <= width
    assert any("10:00:59;27" in line for line in lines)


def test_the_json_object():
    report = json.loads(to_json(audit_of(coded("Night Ferry", DROP), healthy("Silent Mill"))))
    code = report["songs"][0]["timecode"]
    assert report["songs"][1]["timecode"] is None
    wanted = {
        "stem": "LTC.wav", "start": "10:00:00;00", "end": "10:00:59;27", "rate": "29.97 DF",
        "drop_frame": True, "jumps": 0, "frames": 1798, "start_s": 2.0, "user_bits": [1, 2, 3, 4, 5, 6, 7, 8],
        "jump_list": [], "backward": False, "level_dbfs": -12.0,
    }  # fmt: skip
    assert {key: code[key] for key in wanted} == wanted
    assert code["runs"] == [
        {
            "start": "10:00:00;00",
            "end": "10:00:59;27",
            "start_s": 2.0,
            "end_s": pytest.approx(61.993, abs=1e-3),
        }
    ]


def test_the_json_names_every_jump():
    report = json.loads(to_json(audit_of(coded("Night Ferry", jumping(jump(JumpKind.FORWARD, 7.5, 3))))))
    code = report["songs"][0]["timecode"]
    assert (code["rate"], code["drop_frame"], code["jumps"]) == ("25", False, 1)
    assert code["jump_list"] == [
        {
            "kind": "forward", "at_s": 7.5, "before": "01:00:19:24", "after": "01:00:20:01", "frames": 3,
            "silent": False,
        }
    ]  # fmt: skip


@pytest.mark.parametrize("width", [40, 48, 60, 80])
@pytest.mark.parametrize("jumps", [1, 12, 1234])
def test_a_narrow_page_leaves_columns_out_and_cuts_no_number(width: int, jumps: int):
    places = [jump(JumpKind.HELD)] * jumps
    lines = printed(coded("A song of a fair length and more", jumping(*places)), width=width)
    head = next(line for line in lines if "Timecode" in line)
    row = next(line for line in lines if "01:00:00:00" in line)
    assert len(row) <= width
    assert row.split()[-2:] == [str(jumps), "jump" if jumps == 1 else "jumps"]
    assert ("dBFS" in head) == ("−12.0" in row)
