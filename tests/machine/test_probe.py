"""Measuring this machine: the numbers hold together, and nothing is left behind."""

from __future__ import annotations

import shutil
import time
from collections import namedtuple
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from audit.errors import UsageError
from audit.load.figure import Provenance
from audit.machine import cpu_probe, material
from audit.machine.cold import is_suspect
from audit.machine.disk_probe import measure_disk
from audit.machine.hindrance import Hindrance
from audit.machine.mixer import Mixer
from audit.machine.probe import probe


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("disk")
    paths = []
    for number in range(4):
        path = folder / f"{number}.raw"
        path.write_bytes(bytes(1_000_000))
        paths.append(path)
    return paths


def test_a_refill_takes_what_latency_and_transfer_say(files: list[Path]):
    """An injected 5 ms a read must turn up in them, whatever the disk is."""
    found = measure_disk(files, 144_000, Hindrance(read_delay_s=0.005))
    refill_s = found.latency.value + 144_000 / found.transfer.value
    assert 0.005 < refill_s < 0.02
    assert found.latency.value > 0.0045
    assert not found.warm_suspect or "fadvise" not in found.words


@pytest.mark.parametrize(
    ("cold_s", "warm_s", "suspect"),
    [(19e-6, 1e-6, True), (21e-6, 1e-6, False), (100e-6, 34e-6, True), (100e-6, 33e-6, False)],
)
def test_reads_out_of_memory_are_suspected(cold_s: float, warm_s: float, suspect: bool):
    assert is_suspect(cold_s, warm_s) is suspect


def test_packed_formats_cost_more_than_plain_ones(tmp_path: Path):
    files = material.write_formats(tmp_path, 3.0)
    assert {"pcm16", "pcm24", "float32", "flac24"} <= set(files)
    cost = {name: cpu_probe.decode_ns(path, 0.5).value for name, path in files.items()}
    assert cost["float32"] < cost["pcm24"] < cost["flac24"]
    assert 0.05 < cpu_probe.speed_of({n: cpu_probe.decode_ns(p, 0.5) for n, p in files.items()}).value < 20


def test_a_hindered_mixer_does_its_work_so_many_times():
    """The best of many passes in processor time, as other jobs take the processor and the cache."""
    block = np.ones((64, 1024), dtype=np.float32)

    def best_s(hindrance: Hindrance) -> float:
        mixer, took = Mixer(64, 1024, hindrance), []
        for _ in range(30):
            start = time.thread_time()
            mixer.mix(block)
            took.append(time.thread_time() - start)
        return min(took)

    assert 2.0 < best_s(Hindrance(mix_times=9)) / best_s(Hindrance(mix_times=3)) < 4.5


def test_mixing_costs_something():
    figure = cpu_probe.mix_ns(64, 1024)
    assert 0.01 < figure.value < 1000
    assert figure.provenance is Provenance.MEASURED


def test_waking_up_is_never_early():
    figure, words = cpu_probe.lateness(0.5)
    assert 0.0 < figure.value < 1.0
    assert words.startswith("p50 ")


def test_a_sustained_run_gives_a_factor_up_to_one(tmp_path: Path):
    told: list[str] = []
    path = material.write_formats(tmp_path, 2.0)["pcm24"]
    factor = cpu_probe.sustained(path, 3.0, told.append)
    assert 0.2 < factor.value <= 1.0
    assert told[0] == "sustained run, 1 of 3 s"


def test_a_probe_fills_a_profile_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("audit.machine.probe.LATENESS_QUICK_S", 0.5)
    steps: list[str] = []
    made = probe(tmp_path, name="here", day=date(2026, 11, 28), tell=steps.append)
    assert list(tmp_path.iterdir()) == []
    assert len(steps) >= 8
    measured = {name for name, f in made.figures().items() if f.provenance is Provenance.MEASURED}
    assert {"cpu.cores", "cpu.speed", "disk.L", "disk.B", "memory.available", "cpu.lateness"} <= measured
    assert made.figures()["cpu.throttle"].provenance is Provenance.ESTIMATE
    assert made.host["date"] == "2026-11-28"


def test_what_was_written_goes_when_it_is_interrupted(tmp_path: Path):
    def interrupt() -> None:
        with material.folder_on(tmp_path) as folder:
            (folder / "x").write_bytes(b"x")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupt()
    assert list(tmp_path.iterdir()) == []


def test_a_full_drive_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage(10**9, 9 * 10**8, 10**8))
    with pytest.raises(UsageError, match=r"has 0\.1 GB left"):
        probe(tmp_path, name="here", day=date(2026, 11, 28))
    assert list(tmp_path.iterdir()) == []
