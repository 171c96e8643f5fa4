"""The long run: `python -m tests.fuzz [--containers 50000] [--streams 5000] [--seed 1] [--keep FOLDER]`.

Broken files, a few hundred at a time, go through `stemaudit scan`; a batch with a fault is halved until the
files that make it are known. They are written to FOLDER. Exit code 1 where there was any.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random

from tests.fuzz.batch import Batch
from tests.fuzz.mutations import broken
from tests.fuzz.specimens import Specimen, chunked, streams

FILES_A_BATCH = 400

Wreck = tuple[str, bytes, str]


def wrecks(specimens: tuple[Specimen, ...], count: int, seed: int) -> Iterator[Wreck]:
    """`count` broken files: suffix, bytes, what was done. The same for the same seed."""
    rng = Random(seed)
    for _ in range(count):
        specimen = rng.choice(specimens)
        data, what = broken(specimen, rng)
        # A name may lie about the container as well.
        suffix = specimen.suffix if rng.random() < 0.95 else rng.choice(("wav", "aif", "flac", "caf", "mp3"))
        yield suffix, data, what


def faults_of(files: list[Wreck], jobs: int = 2) -> list[str]:
    """What goes wrong with these files together."""
    with tempfile.TemporaryDirectory(prefix="stemaudit-fuzz-") as folder:
        batch = Batch(Path(folder))
        for wreck in files:
            batch.add(*wreck)
        return batch.judge(jobs)


def culprits(files: list[Wreck]) -> list[tuple[Wreck, list[str]]]:
    """The single files that show a fault by themselves; empty where only their company does."""
    if len(files) == 1:
        found = faults_of(files)
        return [(files[0], found)] if found else []
    halves = (files[: len(files) // 2], files[len(files) // 2 :])
    return [one for half in halves if faults_of(half) for one in culprits(half)]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--containers", type=int, default=50_000)
    parser.add_argument("--streams", type=int, default=5_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path("stemaudit-out/fuzz"))
    asked = parser.parse_args()
    count, bad, began_s = 0, 0, time.monotonic()
    for specimens, wanted in ((chunked(), asked.containers), (streams(), asked.streams)):
        files = list[Wreck]()
        for number, wreck in enumerate(wrecks(specimens, wanted, asked.seed), start=1):
            files.append(wreck)
            if len(files) == FILES_A_BATCH or number == wanted:
                bad += _tried(files, asked.keep)
                count += len(files)
                files = []
                print(f"{count} files, {bad} with a fault, {time.monotonic() - began_s:.0f} s", flush=True)
    return 1 if bad else 0


def _tried(files: list[Wreck], keep: Path) -> int:
    faults = faults_of(files)
    if not faults:
        return 0
    print("\n".join(faults[:10]), flush=True)
    found = culprits(files)
    for (suffix, data, what), words in found:
        keep.mkdir(parents=True, exist_ok=True)
        path = keep / f"{len(list(keep.iterdir())):04d}.{suffix}"
        path.write_bytes(data)
        print(f"{path}: {what}: {'; '.join(words)}", flush=True)
    return max(1, len(found))


if __name__ == "__main__":
    raise SystemExit(main())
