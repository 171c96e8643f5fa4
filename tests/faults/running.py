"""A scan as a user runs it, and its JSON report as a script reads it."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.cli import warm


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


def scan(folder: Path, *words: str, env: dict[str, str] | None = None) -> Told:
    """`stemaudit scan FOLDER --json - --no-cache`, to its end."""
    return under_way(folder, *words, env=env)()


def under_way(folder: Path, *words: str, env: dict[str, str] | None = None) -> Callable[[], Told]:
    """The same, begun; calling what comes back waits for its end."""
    done = warm.started("scan", folder, "--json", "-", "--no-cache", "--quiet", *words, **(env or {}))
    return lambda: _told(done())


def _told(done: warm.Done) -> Told:
    assert "Traceback" not in done.stderr, done.stderr
    report = json.loads(done.stdout) if done.stdout.strip() else None
    return Told(done.returncode, report, done.stderr)


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
