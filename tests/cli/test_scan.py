"""`stemaudit scan` on small real folders: exit codes, where the words go, the JSON file, interruptions."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli import folders
from tests.cli.command import environment, run


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
    folders.turn_off_center(show / "Tin Roof" / "Keys.wav")
    return show


@pytest.fixture(scope="module")
def broken(tmp_path_factory) -> Path:
    show = folders.write_show(tmp_path_factory.mktemp("broken") / "Harbour Lights Tour")
    (show / "Tin Roof" / "Keys.wav").write_bytes(b"this is no audio" * 1000)
    return show


def test_a_clean_show_is_code_0(clean):
    done = run("scan", clean)
    assert done.stdout.startswith("Ready: no fault found in 2 songs, 6 stems.\n")
    assert done.stderr == ""
    assert done.returncode == 0


def test_a_song_can_be_scanned_on_its_own(clean):
    done = run("scan", clean / "Night Ferry")
    assert done.stdout.startswith("Ready: no fault found in 1 song, 3 stems.\n")
    assert done.returncode == 0


def test_an_error_is_code_1_and_told(clipped):
    done = run("scan", clipped)
    assert done.returncode == 1
    assert done.stdout.startswith("Not ready: ")
    assert "sample-clipping in Keys.wav at 0:0" in done.stdout
    assert "Caution: turn monitors and in-ears down" in done.stdout


def test_a_warning_counts_only_where_asked(warned):
    codes = {
        word: run("scan", warned, "--fail-on", word).returncode for word in ("error", "warning", "never")
    }
    assert codes == {"error": 0, "warning": 1, "never": 0}


def test_an_error_counts_unless_never(clipped):
    codes = {word: run("scan", clipped, "--fail-on", word).returncode for word in ("note", "never")}
    assert codes == {"note": 1, "never": 0}


def test_an_unanswered_question_is_code_3(broken):
    done = run("scan", broken, "--only", "dc-offset")
    assert done.returncode == 3
    assert "Could not be checked" in done.stdout
    assert "Ready" not in done.stdout


def test_an_unreadable_file_is_code_1_though_incomplete(broken):
    done = run("scan", broken)
    assert done.returncode == 1
    assert "unreadable-file in Keys.wav" in done.stdout


def test_a_restricted_scan_says_so(clipped):
    done = run(
        "scan", clipped, "--skip", "sample-clipping,true-peak-over,crew-level-jump", "--song", "Night Ferry"
    )
    assert done.returncode == 0
    assert "Only part of the audit ran" in done.stdout
    assert "Ready" not in done.stdout
    assert "Tin Roof" not in done.stdout


def test_quiet_says_nothing_where_all_is_well(clean, warned):
    for show in (clean, warned):
        done = run("scan", show, "--quiet")
        assert (done.stdout, done.stderr, done.returncode) == ("", "", 0)


def test_quiet_says_what_counts(clipped):
    done = run("scan", clipped, "--quiet")
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


def test_a_second_report_replaces_the_first(clean, tmp_path):
    target = tmp_path / "report.json"
    target.write_text('{"schema": 1}')
    assert run("scan", clean, "--json", target, "--quiet").returncode == 0
    assert json.loads(target.read_text())["show"]["name"] == "Harbour Lights Tour"


def test_json_on_standard_output_is_alone_there(clipped):
    done = run("scan", clipped, "--json", "-")
    assert json.loads(done.stdout)["summary"]["errors"] >= 1
    assert done.stderr.startswith("Not ready")
    quiet = run("scan", clipped, "--json", "-", "--quiet")
    assert quiet.stdout == done.stdout
    assert quiet.stderr == ""


def test_the_same_show_twice_gives_the_same_bytes(clean):
    first, second = (run("scan", clean, "--json", "-", "--quiet", "--jobs", jobs).stdout for jobs in "12")
    assert first == second
    assert first


@pytest.mark.parametrize("target", ["nowhere/report.json", ".", "Night Ferry/Bass.wav"])
def test_a_report_that_cannot_be_written_stops_before_the_scan(clean, target):
    bass = (clean / "Night Ferry" / "Bass.wav").read_bytes()
    done = run("scan", ".", "--json", target, cwd=clean)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"stemaudit: {target}: ")
    assert (clean / "Night Ferry" / "Bass.wav").read_bytes() == bass


def test_in_a_pipe_there_is_no_control_code_and_no_progress(clipped):
    done = run("scan", clipped)
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
    for number in range(4):
        folders.write_tone(show / f"Song {number}" / "Bass.wav", seconds=240, seed=number)
    target = tmp_path / "report.json"
    process = subprocess.Popen(
        [sys.executable, "-m", "audit", "scan", str(show), "--json", str(target), "--jobs", "2"],
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    time.sleep(2.0)
    assert process.poll() is None
    os.killpg(process.pid, signal.SIGINT)  # what a terminal does: the workers get it, too
    asked = time.monotonic()
    out, said = process.communicate(timeout=30)
    assert time.monotonic() - asked < 3.0
    assert process.returncode == 130
    assert (out, said) == ("", "Interrupted: nothing was written.\n")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["Long Show"]
    with pytest.raises(ProcessLookupError):
        os.killpg(process.pid, 0)


def test_the_show_is_left_as_it_was(clean):
    def state():
        return {p: (p.stat().st_mtime_ns, p.stat().st_size) for p in sorted(clean.rglob("*"))}

    before = state()
    run("scan", clean)
    assert state() == before
