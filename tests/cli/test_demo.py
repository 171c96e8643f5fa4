"""`stemaudit demo`: the invented show in a folder of its own, never in somebody else's."""

from __future__ import annotations

import json
from pathlib import Path

from audit.demo.plants import PLANTED
from audit.demo.setlist import SET_LIST
from audit.demo.show import MARKER
from tests.cli.warm import run
from tests.conftest import DemoRun

EXAMPLE = "stemaudit demo"
"""As its help shows it, and as `demo_run` runs it."""


def test_the_demo_ends_with_a_report_and_code_0(demo_run: DemoRun):
    done = demo_run.done
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("The demo show lies in stemaudit-demo")
    assert "\nNot ready: " in done.stdout
    assert "Scan it yourself: stemaudit scan stemaudit-demo" in done.stdout
    assert done.stderr == ""


def test_every_planted_fault_is_in_the_report(demo_run: DemoRun):
    """In the later scan's, too, which the user is told to make; it finds what the first one heard."""
    scanned = run("scan", "stemaudit-demo", "--json", "-", cwd=demo_run.home, **demo_run.kept)
    report = json.loads(scanned.stdout)
    found = {
        (next(entry.title for entry in SET_LIST if entry.title in name), finding["stem"], finding["rule"])
        for one in [*(song["findings"] for song in report["songs"]), report["show_findings"]]
        for finding in one
        for name in finding["songs"]
    }
    missing = [each for each in PLANTED if (each.song, each.stem, each.rule) not in found]
    assert PLANTED
    assert not missing
    assert not [each.rule for each in PLANTED if each.rule not in demo_run.done.stdout]


def test_the_demo_stays_in_its_folder(demo_run: DemoRun):
    home = demo_run.home
    assert [path.name for path in home.iterdir()] == ["stemaudit-demo"]
    assert (home / "stemaudit-demo" / MARKER).is_file()
    assert len(list((home / "stemaudit-demo").rglob("*.wav"))) > 30


def test_the_mark_is_no_matter_for_the_report(demo_run: DemoRun):
    assert MARKER not in demo_run.done.stdout


def test_a_foreign_folder_is_left_alone(tmp_path):
    (tmp_path / "Bass.wav").write_bytes(b"mine")
    done = run("demo", "--into", tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"stemaudit: {tmp_path} holds files that the demo did not write")
    assert [path.name for path in tmp_path.iterdir()] == ["Bass.wav"]
    assert (tmp_path / "Bass.wav").read_bytes() == b"mine"


def test_a_file_in_the_way_is_one_line_and_code_2(tmp_path):
    (tmp_path / "taken").write_text("")
    done = run("demo", "--into", Path("taken"), cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith("stemaudit: taken is a file")
    assert done.stderr.count("\n") == 1
