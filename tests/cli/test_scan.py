"""`stemaudit scan` on small real folders: exit codes, where the words go, the JSON file, interruptions."""

from __future__ import annotations

import json
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from functools import cache, partial
from pathlib import Path

import pytest

from audit.cli.scan import exit_code
from audit.cli.values import FailOn
from audit.findings import Unmeasured
from tests.cli import command, folders, terminal
from tests.cli.command import environment
from tests.cli.warm import run
from tests.report.samples import audit_of, finding, healthy

scan = cache(partial(command.run, "scan", "--jobs", "1"))
"""A scan that several tests look at is run once, with one process: these shows are seconds long."""


@pytest.fixture(scope="module")
def clean(tmp_path_factory) -> Path:
    return folders.write_show(tmp_path_factory.mktemp("clean") / "Harbour Lights Tour")


@pytest.fixture(scope="module")
def clipped(tmp_path_factory) -> Path:
    show = folders.write_show(tmp_path_factory.mktemp("clipped") / "Harbour Lights Tour")
    folders.clip(show / "Tin Roof" / "Keys.wav")
    return show


@pytest.fixture(scope="module")
def warned(tmp_path_factory) -> Path:
    show = folders.write_show(tmp_path_factory.mktemp("warned") / "Harbour Lights Tour")
    folders.write_tone(show / "Tin Roof" / "Keys.wav", freq_hz=330.0, subtype="PCM_16")
    return show


@pytest.fixture(scope="module")
def broken(tmp_path_factory) -> Path:
    show = folders.write_show(tmp_path_factory.mktemp("broken") / "Harbour Lights Tour")
    (show / "Tin Roof" / "Keys.wav").write_bytes(b"this is no audio" * 1000)
    return show


def test_a_clean_show_is_code_0_and_left_as_it_was(clean):
    def state():
        return {path: (path.stat().st_mtime_ns, path.stat().st_size) for path in sorted(clean.rglob("*"))}

    before = state()
    done = scan(clean)
    assert done.stdout.startswith("Ready: no fault in 2 songs, 6 stems.\n")
    assert (done.stderr, done.returncode) == ("", 0)
    assert state() == before


def test_a_song_can_be_scanned_on_its_own(clean):
    done = scan(clean / "Night Ferry")
    assert done.stdout.startswith("Ready: no fault in 1 song, 3 stems.\n")
    assert done.returncode == 0


def test_an_error_is_code_1_and_told(clipped):
    done = scan(clipped)
    assert done.returncode == 1
    assert done.stdout.startswith("Not ready: ")
    assert "sample-clipping in Keys.wav at 0:0" in done.stdout
    assert "Caution: turn monitors and in-ears down" in done.stdout


def test_a_warning_counts_where_asked(warned):
    done = scan(warned, "--fail-on", "warning")
    assert done.returncode == 1
    assert done.stdout.startswith("Have a look first: 1 warning in 1 of 2 songs")
    assert "bit-depth-mismatch in Keys.wav" in done.stdout


@pytest.mark.parametrize(
    ("worst", "complete", "codes"),
    [  # --fail-on error, warning, note, never
        (None, True, (0, 0, 0, 0)),
        ("note", True, (0, 0, 1, 0)),
        ("warning", True, (0, 1, 1, 0)),
        ("error", True, (1, 1, 1, 0)),
        (None, False, (3, 3, 3, 3)),
        ("note", False, (3, 3, 1, 3)),
        ("warning", False, (3, 1, 1, 3)),
        ("error", False, (1, 1, 1, 3)),
    ],
)
def test_exit_codes_by_severity_threshold_and_completeness(worst, complete, codes):
    found = (finding("dropout", worst, "Bass.wav", ("S",)),) if worst else ()
    gaps = {} if complete else {"S": (Unmeasured(rule="dropout", stem="Bass.wav", reason="broke"),)}
    audit = audit_of(healthy("S"), findings=found, unmeasured=gaps)
    assert tuple(exit_code(audit, choice.threshold) for choice in FailOn) == codes


def test_an_unanswered_question_is_code_3(broken):
    done = scan(broken, "--only", "dc-offset")
    assert done.returncode == 3
    assert "Could not be checked" in done.stdout
    assert "Ready" not in done.stdout


def test_an_unreadable_file_is_code_1_though_incomplete(broken):
    done = scan(broken)
    assert done.returncode == 1
    assert "unreadable-file in Keys.wav" in done.stdout


def test_a_restricted_scan_says_so(clipped):
    done = scan(clipped, "--skip", "sample-clipping,true-peak-over,crew-level-jump", "--song", "Night Ferry")
    assert done.returncode == 0
    assert "Only part of the audit ran" in done.stdout
    assert "Ready" not in done.stdout
    assert "Tin Roof" not in done.stdout


def test_quiet_says_nothing_where_all_is_well(clean):
    done = scan(clean, "--quiet")
    assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)


def test_quiet_says_what_counts(clipped):
    done = scan(clipped, "--quiet")
    assert done.returncode == 1
    assert done.stdout.startswith("Not ready: ")
    assert "sample-clipping in Keys.wav" in done.stdout
    assert "LUFS" not in done.stdout


@pytest.mark.parametrize("words", [("nowhere",), ("Night Ferry", "--song", "Nonesuch")])
def test_what_is_not_there_is_code_2_and_one_line(clean, words):
    done = run("scan", *words, cwd=clean)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("stemaudit: ")
    assert done.stderr.count("\n") == 1


def test_the_json_file_holds_the_whole_audit(clipped, tmp_path):
    target = tmp_path / "report.json"
    done = run("scan", clipped, "--json", target)
    assert done.returncode == 1
    assert done.stdout.startswith("Not ready")
    report = json.loads(target.read_text(encoding="utf-8"))
    assert report["schema"] == 1
    assert [song["verdict"] for song in report["songs"]] == ["clear", "error"]
    assert report["songs"][0]["stems"][0]["measures"]["integrated_lufs"] is not None
    assert list(tmp_path.iterdir()) == [target]
    assert stat.S_IMODE(target.stat().st_mode) & 0o400


def test_json_on_standard_output_is_alone_there(clipped):
    done = scan(clipped, "--json", "-")
    assert json.loads(done.stdout)["summary"]["errors"] >= 1
    assert done.stderr == scan(clipped).stdout


def test_the_same_show_gives_the_same_bytes_with_any_number_of_processes(clean):
    one, two = (command.run("scan", clean, "--json", "-", "--quiet", "--jobs", jobs) for jobs in "12")
    assert one.stdout == two.stdout
    assert json.loads(one.stdout)["schema"] == 1
    assert (one.stderr, one.returncode) == ("", 0)


@pytest.mark.parametrize("target", ["nowhere/report.json", ".", "Night Ferry/Bass.wav"])
def test_a_report_that_cannot_be_written_stops_before_the_scan(clean, target):
    bass = (clean / "Night Ferry" / "Bass.wav").read_bytes()
    done = run("scan", ".", "--json", target, cwd=clean)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"stemaudit: {target}: ")
    assert (clean / "Night Ferry" / "Bass.wav").read_bytes() == bass


@pytest.mark.parametrize(
    ("scanned", "target", "song"),
    [
        (".", "Night Ferry/report.json", "Night Ferry"),
        (".", "Tin Roof/Notes/report.json", "Tin Roof"),
        ("Tin Roof", "Tin Roof/report.json", "Tin Roof"),
        (".", "way in/report.json", "Night Ferry"),
    ],
)
def test_a_report_is_not_left_among_stems(clean, tmp_path, scanned, target, song):
    show = shutil.copytree(clean, tmp_path / "show")
    (show / "Tin Roof" / "Notes").mkdir()
    (show / "way in").symlink_to(show / "Night Ferry")
    done = run("scan", scanned, "--json", target, cwd=show)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        f"stemaudit: {target}: lies in the song {song}, where the next scan would find a stray file: "
        "write it outside the songs' folders\n"
    )
    assert not list(show.rglob("*.json"))


def test_a_report_in_the_shows_own_folder_changes_no_later_one(clean, tmp_path):
    show = shutil.copytree(clean, tmp_path / "show")
    for _ in range(2):
        assert run("scan", show, "--jobs", "1", "--json", show / "report.json").returncode == 0
    first, again = (run("scan", folder, "--jobs", "1", "--json", "-") for folder in (clean, show))
    assert again.returncode == 0
    reports = [json.loads(done.stdout) for done in (first, again)]
    assert reports[0]["passed_over"] == []
    assert [entry["path"] for entry in reports[1]["passed_over"]] == ["report.json"]
    assert [report["summary"]["notes"] for report in reports] == [0, 0]
    assert [song["findings"] for song in reports[1]["songs"]] == [[], []]


def test_in_a_pipe_there_is_no_control_code_and_no_progress(clipped):
    done = scan(clipped)
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_an_ascii_pipe_gets_the_report(clipped):
    done = run("scan", clipped, PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert done.returncode == 1
    assert done.stdout.isascii()


def test_a_reader_that_leaves_early_changes_nothing(clipped):
    process = subprocess.Popen(
        [sys.executable, "-m", "audit", "scan", str(clipped)],
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert process.stdout is not None
    process.stdout.close()
    assert process.stderr is not None
    said = process.stderr.read()
    process.stderr.close()
    assert (process.wait(60), said) == (1, b"")


def test_ctrl_c_stops_at_once_and_leaves_nothing(tmp_path):
    show = tmp_path / "Long Show"
    first = folders.write_tone(show / "Song 0" / "Bass.wav", seconds=300)
    for number in range(1, 12):
        (show / f"Song {number}").mkdir()
        os.link(first, show / f"Song {number}" / "Bass.wav")
    target = tmp_path / "report.json"
    with terminal.started("scan", show, "--json", target) as (process, screen):
        before = terminal.read_until(screen, "Song 1")
        os.killpg(process.pid, signal.SIGINT)  # what a terminal does: the workers get it, too
        asked = time.monotonic()
        after = terminal.read_until(screen, None)
        code = process.wait(30)
    assert time.monotonic() - asked < 3.0
    assert code == 130
    assert "Traceback" not in before + after
    assert after.rstrip().endswith("Interrupted: nothing was written.")
    assert [path.name for path in tmp_path.iterdir()] == ["Long Show"]
    assert gone_within(process.pid, seconds=3.0)


def gone_within(group: int, seconds: float) -> bool:
    """Whether the last process of the group ends in this time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            os.killpg(group, 0)
        except ProcessLookupError:
            return True
        time.sleep(0.05)
    return False
