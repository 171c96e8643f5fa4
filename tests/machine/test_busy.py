"""What other programs take while this one measures is seen, and a profile measured beside them says so."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

import psutil
import pytest

from audit.load.demand import EngineSetup
from audit.load.figure import estimate
from audit.load.forecast import forecast_song
from audit.machine.busy import BUSY, KEY, Others, busy_words
from audit.machine.classes import CLASSES
from audit.machine.profile import read_profile, staleness
from audit.machine.written import write_profile
from audit.results.load import Confidence
from tests.load.machines import song, stems, strong

CORES = psutil.cpu_count() or 1


@contextmanager
def at_work(programs: int) -> Iterator[None]:
    """Other programs that each take a core, as far as there are any."""
    started = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(programs)]
    try:
        time.sleep(0.2)
        yield
    finally:
        for process in started:
            process.kill()
            process.wait()


def test_other_programs_are_seen():
    with at_work(CORES):
        others = Others()
        time.sleep(1.0)
        assert others.share() > 0.5


def test_its_own_work_is_not_another_programs():
    """However busy the machine is: what this process burns is taken off."""
    others = Others()
    start = time.process_time()
    while time.process_time() - start < 1.0:
        sum(range(1000))
    share = others.share()
    at, busy_s, own_s = others._start
    elapsed_s = time.perf_counter() - at
    whole = (others._busy_s() - busy_s) / (elapsed_s * CORES)
    assert whole - share == pytest.approx((others._own_s() - own_s) / (elapsed_s * CORES), abs=0.05)


@pytest.mark.parametrize(("share", "told"), [(0.0, False), (BUSY, False), (BUSY + 0.01, True), (1.0, True)])
def test_it_is_told_from_a_tenth_on(share: float, told: bool):
    assert (busy_words(share) is not None) is told


def test_a_profile_measured_beside_others_stays_a_guess(tmp_path: Path):
    words = busy_words(0.43)
    assert words == "other programs took 43 % of the processor"
    host = {"date": "2026-11-20", KEY: words}
    write_profile(tmp_path / "foh.toml", replace(CLASSES["laptop-8core-nvme"], host=host))
    profile, _ = read_profile(tmp_path / "foh.toml")
    stale = staleness(profile, date(2026, 11, 21))
    assert stale == "other programs took 43 % of the processor while it was probed"
    made = forecast_song(song(stems(20)), strong(), EngineSetup(), stale=stale)
    assert (made.confidence, made.why) == (Confidence.LOW, stale)
    guess = replace(strong(), callback_base=estimate(5e-3, "s", "a player"))
    assert forecast_song(song(stems(20)), guess, EngineSetup(), stale=stale).why.endswith(f"; {stale}")
