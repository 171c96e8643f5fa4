"""A scan as a user runs it, and its JSON report as a script reads it."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.cli.command import environment


@dataclass(frozen=True, slots=True)
class Told:
    """What a scan said. report: None where it wrote none."""

    code: int
    report: dict[str, Any] | None
    complaints: str

    def stems(self) -> set[str]:
        """`Song/Stem.wav` of every stem in the report."""
        assert self.report is not None, self.complaints
        return {f"{song['name']}/{stem['file']}" for song in self.report["songs"] for stem in song["stems"]}

    def findings(self) -> dict[str, set[str]]:
        """Rule -> stems."""
        assert self.report is not None, self.complaints
        found: dict[str, set[str]] = {}
        for song in self.report["songs"]:
            for finding in song["findings"]:
                found.setdefault(finding["rule"], set()).add(str(finding["stem"]))
        return found

    def unmeasured(self) -> set[str]:
        assert self.report is not None, self.complaints
        return {str(one["stem"]) for song in self.report["songs"] for one in song["unmeasured"]}


def scan(folder: Path, *words: str, env: dict[str, str] | None = None, timeout_s: float = 120) -> Told:
    """`stemaudit scan FOLDER --json - --no-cache`, to its end."""
    return finished(started(folder, *words, env=env), timeout_s)


def started(folder: Path, *words: str, env: dict[str, str] | None = None) -> subprocess.Popen[str]:
    """The same, under way."""
    return subprocess.Popen(
        [sys.executable, "-m", "audit", "scan", str(folder), "--json", "-", "--no-cache", "--quiet", *words],
        env={**environment(), **(env or {})}, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        encoding="utf-8", errors="replace",
    )  # fmt: skip


def finished(process: subprocess.Popen[str], timeout_s: float = 120) -> Told:
    output, complaints = process.communicate(timeout=timeout_s)
    assert "Traceback" not in complaints, complaints
    report = json.loads(output) if output.strip() else None
    return Told(process.returncode, report, complaints)


def state_of(folder: Path) -> dict[str, tuple[str, int, int]]:
    """Hash, time of change and mode of every file below a folder: what no command may alter."""
    found = {}
    for root, _, files in os.walk(folder):
        for name in files:
            path = Path(root) / name
            status = path.lstat()
            digest = hashlib.blake2b(path.read_bytes()).hexdigest() if path.is_file() else ""
            found[str(path.relative_to(folder))] = (digest, status.st_mtime_ns, status.st_mode)
    return found
