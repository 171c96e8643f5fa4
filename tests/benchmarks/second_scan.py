"""What a second scan costs beside the first: `python -m tests.benchmarks.second_scan [STEMS [SECONDS]]`.

A show of songs of ten short stems each is written and scanned as a user does, in a process of its own with
all of its start-up; then scanned again, and once more after one stem was bounced anew. Prints ratios.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from tests.cli.command import environment

RATE_HZ, A_SONG = 48_000, 10
NAMES = ("Bass", "Drums", "E-Git", "Keys", "Pad", "Strings", "Perc", "Lead Vox", "BGV", "Synth")


def write_stem(path: Path, seed: int, seconds: float) -> None:
    """Notes of a timbre and a tune of its own: stems that are alike would have to be compared one by one."""
    rng = np.random.default_rng(seed)
    note = np.arange(RATE_HZ // 2) / RATE_HZ
    strengths = rng.uniform(0.0, 1.0, 8) ** 3
    notes = []
    for _ in range(max(1, int(2 * seconds))):
        pitch_hz = 80.0 * 2.0 ** (rng.integers(0, 30) / 12.0)
        tones = sum(s * np.sin(2 * np.pi * pitch_hz * k * note) for k, s in enumerate(strengths, start=1))
        notes.append(rng.uniform(0.03, 0.1) * tones * np.exp(-rng.uniform(1.0, 9.0) * note))
    wave = np.concatenate(notes)
    wave += 1e-4 * rng.standard_normal(len(wave))
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, np.stack([wave, np.roll(wave, 40)], axis=1), RATE_HZ, subtype="PCM_24")
    when_ns = 1_700_000_001_000_000_000 + random.Random(seed).randrange(1, 10**9)
    os.utime(path, ns=(when_ns, when_ns))


def scan_s(show: Path, *words: str) -> tuple[float, str]:
    """Seconds of a whole command, and what it said of the cache."""
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "audit", "scan", str(show), *words],
        env=environment(STEMAUDIT_CACHE_DIR=str(show.parent / "kept")), capture_output=True, text=True,
        encoding="utf-8",
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    return time.perf_counter() - began, done.stderr.strip()


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 6.0
    with tempfile.TemporaryDirectory() as folder:
        show = Path(folder) / "Show"
        for number in range(count):
            song, place = divmod(number, A_SONG)
            write_stem(show / f"{song + 1:03d} Song" / f"{NAMES[place]}.wav", number, seconds)
        first, _ = scan_s(show)
        second, said = min(scan_s(show) for _ in range(3))
        print(f"unchanged, {count} stems of {seconds:.0f} s: {second / first:.4f} of the first scan")
        print(f"  ({first:.1f} s, then {second:.2f} s: {said})")
        with_json, _ = min(scan_s(show, "--json", f"{folder}/report.json") for _ in range(3))
        print(f"  with a JSON report: {with_json / first:.4f} ({with_json:.2f} s)")
        write_stem(show / "001 Song" / "Keys.wav", 9999, seconds)
        changed, said = scan_s(show)
        song, _ = scan_s(show / "001 Song", "--no-cache")
        print(f"one stem of one song changed: {changed / first:.4f} of the first scan")
        print(f"  ({changed:.2f} s, that song alone without a cache {song:.2f} s: {said})")


if __name__ == "__main__":
    main()
