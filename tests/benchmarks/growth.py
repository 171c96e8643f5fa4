"""How a scan grows with a show: `python -m tests.benchmarks.growth [--most 2000]`.

Prints processor time a stem for shows of 10, 50, 200, 1000 and 2000 stems in songs of ten: what each stem
beyond the first ten costs, as those carry what is loaded once (wanted: the same within 10 %), and how soon a
cold scan's first line stands on a terminal (wanted: 2 s). The songs are one song's stems, each copy changed
by a sample's worth of noise, so that no two stems are the same audio.
"""

from __future__ import annotations

import argparse
import os
import pty
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import soundfile

from tests.benchmarks.tour import write_tour

SIZES = (10, 50, 200, 1000, 2000)
SECONDS = 12.0
WANTED_SPREAD, WANTED_FIRST_S = 0.10, 2.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--most", type=int, default=SIZES[-1], help="stems of the largest show")
    most = parser.parse_args().most
    sizes = [size for size in SIZES if size <= most]
    with tempfile.TemporaryDirectory(prefix="stemaudit-growth-") as folder:
        show = Path(folder) / "Show"
        write_tour(Path(folder) / "one", seconds=SECONDS)
        model = sorted((Path(folder) / "one").iterdir())[0]
        print(f"first line on a terminal after {_first_line_s(model.parent):.2f} s (wanted {WANTED_FIRST_S})")
        per_stem: list[float] = []
        first_s = 0.0
        for size in sizes:
            for number in range(len(list(show.iterdir())) if show.exists() else 0, size // 10):
                _another(model, show / f"{number + 1:03d} - Song {_word(number)}", number)
            used_s = _used_s(
                ["scan", str(show), "--no-cache", "--quiet", "--fail-on", "never", "--jobs", "1"]
            )
            if size == sizes[0]:
                first_s = used_s
                print(f"{size:5} stems: {used_s:.1f} s of processor time, start included", flush=True)
                continue
            per_stem.append((used_s - first_s) / (size - sizes[0]))
            print(f"{size:5} stems: {1000 * per_stem[-1]:6.1f} ms of processor time a stem more", flush=True)
        print(f"largest over smallest: {max(per_stem) / min(per_stem):.2f} (wanted {1 + WANTED_SPREAD:.2f})")


def _word(number: int) -> str:
    """A title of its own for each song."""
    return "".join(
        "bdfgklmnprstvz"[number // 14**k % 14] + "aeiou"[(number + k) % 5] for k in range(3)
    ).title()


def _another(model: Path, target: Path, seed: int) -> None:
    target.mkdir(parents=True)
    rng = np.random.default_rng(seed)
    for file in sorted(model.iterdir()):
        samples, rate_hz = soundfile.read(file, dtype="int32", always_2d=True)
        samples += (rng.integers(0, 2, samples.shape) << 8).astype(np.int32) * (samples != 0)
        soundfile.write(target / file.name, samples, rate_hz, subtype="PCM_24")


def _used_s(words: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "audit", *words], stdout=subprocess.DEVNULL, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def _first_line_s(show: Path) -> float:
    """Seconds from a cold scan's start to the first letters on a terminal, the second time it is asked."""
    taken = 0.0
    for _ in range(2):
        ours, theirs = pty.openpty()
        began = time.perf_counter()
        scan = subprocess.Popen(
            [sys.executable, "-m", "audit", "scan", str(show), "--no-cache"], stdout=theirs, stderr=theirs
        )
        os.close(theirs)
        shown = b""
        while not shown.strip():
            shown = os.read(ours, 1000)
        taken = time.perf_counter() - began
        scan.kill()
        scan.wait()
        os.close(ours)
    return taken


if __name__ == "__main__":
    main()
