"""Runs the command as a user does: in a process of its own, in a chosen environment."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from itertools import count
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
LEFT_OUT = {
    "NO_COLOR", "FORCE_COLOR", "COLUMNS", "TERM", "PYTHONIOENCODING", "LC_ALL", "LANG", "PYTHONUTF8",
    "PYTHONDONTWRITEBYTECODE",  # hundreds of processes would each translate the program anew
}  # fmt: skip
ENVIRONMENT = {key: value for key, value in os.environ.items() if key not in LEFT_OUT}


CACHES = tempfile.TemporaryDirectory(prefix="stemaudit-tests-", ignore_cleanup_errors=True)
NUMBERS = count()


def environment(**extra: str) -> dict[str, str]:
    """The tests' environment without what changes a terminal's look, and with the project importable.

    Every process remembers nothing of earlier scans, unless `extra` names a STEMAUDIT_CACHE_DIR.
    """
    return {
        **ENVIRONMENT, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "TERM": "xterm-256color",
        "STEMAUDIT_CACHE_DIR": f"{CACHES.name}/{next(NUMBERS)}", **extra,
    }  # fmt: skip


def run(*words: str | Path, cwd: Path | None = None, **extra: str) -> subprocess.CompletedProcess[str]:
    """`stemaudit WORDS` to its end; output as text, exit code in `returncode`."""
    return subprocess.run(
        [sys.executable, "-m", "audit", *map(str, words)],
        cwd=cwd,
        env=environment(**extra),
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
    )


def modules_after(*words: str, **extra: str) -> set[str]:
    """The modules that are loaded when `stemaudit WORDS` ends."""
    code = (
        "import sys, atexit\n"
        "atexit.register(lambda: sys.stderr.write('MODULES ' + ' '.join(sys.modules)))\n"
        f"sys.argv = ['stemaudit', *{list(words)!r}]\n"
        "from audit.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(**extra), capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return set(done.stderr.partition("MODULES ")[2].split())
