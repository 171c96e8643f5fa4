"""A command that is killed leaves whole outputs or none, untouched stems, and a memory that can be used.

STEMAUDIT_KILLS=200 makes it the long run; DEVELOPERS.md holds its last result.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.command import environment, run
from tests.cli.folders import write_show, write_tone
from tests.faults.running import state_of

KILLS = int(os.environ.get("STEMAUDIT_KILLS", "6"))
KINDS = ("scan", "seal", "watch")


def words(kind: str, show: Path, out: Path) -> tuple[str, ...]:
    return {
        "scan": ("scan", str(show), "--json", str(out / "a.json"), "--html", str(out / "a.html")),
        "seal": ("seal", str(show), "--out", str(out / "a.seal")),
        "watch": ("watch", str(show), "--no-bell"),
    }[kind]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="no such signal there")
@pytest.mark.parametrize("kind", KINDS)
def test_a_killed_command_harms_nothing(tmp_path: Path, kind: str):
    show = write_show(tmp_path / "Tour", seconds=1.0)
    out, kept = tmp_path / "out", str(tmp_path / "kept")
    out.mkdir()
    cold = run("scan", show, "--no-cache").stdout
    began = time.monotonic()
    run("scan", show, STEMAUDIT_CACHE_DIR=str(tmp_path / "first"))
    whole_s = time.monotonic() - began
    moments, killed = random.Random(f"{kind}{KILLS}"), 0
    for number in range(4 * KILLS):
        if killed >= max(1, KILLS // len(KINDS)):
            break
        # A change each time, so that there is something to hear and to keep.
        write_tone(show / "Tin Roof" / "Keys.wav", freq_hz=330.0 + number, seed=number, seconds=1.0)
        before = state_of(show)
        process = subprocess.Popen(
            [sys.executable, "-m", "audit", *words(kind, show, out)],
            env=environment(STEMAUDIT_CACHE_DIR=kept), stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        time.sleep(moments.uniform(0.1, 1.1) * whole_s)
        if process.poll() is None:
            killed += 1
            os.killpg(process.pid, signal.SIGKILL)
        else:
            whole_s *= 0.8
        process.wait()
        assert state_of(show) == before
        if (out / "a.json").exists():
            json.loads((out / "a.json").read_text(encoding="utf-8"))
        if (out / "a.html").exists():
            assert (out / "a.html").read_text(encoding="utf-8").rstrip().endswith("</html>")
        if (out / "a.seal").exists():
            assert run("verify", show, "--seal", out / "a.seal", "--quick").returncode in (0, 1)
    assert killed == max(1, KILLS // len(KINDS))
    write_show(tmp_path / "Tour", seconds=1.0)
    done = run("scan", show, STEMAUDIT_CACHE_DIR=kept)
    assert done.stdout == cold
    assert "begun anew" not in done.stderr
