"""Broken files go through the program as a user runs it; its report is held against their folder.

    Batch(folder).add(name, data); .judge() -> faults, in words

A fault is: a crash or a traceback, a file that stands nowhere in the report, an exit code that does not fit
the summary, a report that is no JSON, a scan that takes longer than ten seconds a file, a process above 1 GB.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import psutil

NAMES = ("Keys", "Bass", "Drums", "Pad", "Guitar", "Organ", "Brass", "Strings")
STEMS_A_SONG = len(NAMES)
SECONDS_A_FILE, START_UP_S = 10.0, 30.0
MOST_BYTES = 1_000_000_000
LOOK_EVERY_S = 0.1


class Batch:
    """Files in songs of eight, in a folder that nothing else lies in."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.files: dict[str, str] = {}

    def add(self, suffix: str, data: bytes, what: str) -> None:
        """what: how the file was broken, for the words of a fault."""
        number = len(self.files)
        song = self.folder / f"{number // STEMS_A_SONG + 1:04d} - Wreck"
        song.mkdir(exist_ok=True)
        name = f"{NAMES[number % STEMS_A_SONG]}.{suffix}"
        (song / name).write_bytes(data)
        self.files[f"{song.name}/{name}"] = what

    def judge(self, jobs: int = 2) -> list[str]:
        """What went wrong; empty where nothing did."""
        limit_s = START_UP_S + SECONDS_A_FILE * len(self.files) / jobs
        scan = subprocess.Popen(
            [sys.executable, "-m", "audit", "scan", self.folder, "--json", "-", "--quiet", "--no-cache",
             "--jobs", str(jobs)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, errors="replace",
        )  # fmt: skip
        end_s, peak = time.monotonic() + limit_s, 0
        while True:
            try:
                told, complaints = scan.communicate(timeout=LOOK_EVERY_S)
                break
            except subprocess.TimeoutExpired:
                peak = max(peak, _largest(scan.pid))
            if time.monotonic() > end_s:
                scan.send_signal(signal.SIGINT)
                scan.communicate()
                return [f"hung: not done after {limit_s:.0f} s"]
        grown = [f"a process took {peak / 1e6:.0f} MB"] if peak > MOST_BYTES else []
        return [*self._faults(scan.returncode, told, complaints), *grown]

    def _faults(self, code: int, told: str, complaints: str) -> list[str]:
        faults = []
        if "Traceback" in complaints:
            faults.append("a traceback: " + complaints.strip().splitlines()[-1])
        try:
            report = json.loads(told, parse_constant=_refuse)
        except ValueError as error:
            return [*faults, f"exit code {code}, and its report is no JSON: {error}: {complaints[-400:]}"]
        heard = {f"{song['folder']}/{stem['file']}" for song in report["songs"] for stem in song["stems"]}
        passed = {entry["path"] for entry in report["passed_over"]}
        for name in self.files:
            if name not in heard and name not in passed:
                faults.append(f"stands nowhere in the report: {name}")
        summary = report["summary"]
        expected = 1 if summary["errors"] else 3 if summary["incomplete"] else 0
        if code != expected:
            faults.append(f"exit code {code}, but the summary asks for {expected}")
        return faults + _own_faults(report)


def _refuse(word: str) -> float:
    raise ValueError(f"{word} is no JSON")


def _own_faults(report: dict[str, Any]) -> list[str]:
    """Places where the program itself failed, or a decoder died: legal for the user, told to us."""
    return [
        f"{song['folder']}/{one['stem']}: {one['reason']}"
        for song in report["songs"]
        for one in song["unmeasured"]
        if "stemaudit itself failed" in one["reason"] or "given up" in one["reason"]
    ]


def _largest(pid: int) -> int:
    """Bytes of the largest of a process and its children, now."""
    try:
        root = psutil.Process(pid)
        return max(one.memory_info().rss for one in (root, *root.children(recursive=True)))
    except psutil.Error:  # it has just ended
        return 0
