"""Prints what measuring costs beside decoding and beside ffmpeg's loudness meter, as ratios of one run."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.material import write_material
from tests.benchmarks.meters import compare


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for file in write_material(Path(folder)):
            for line in compare(file):
                print(line)
            print()


if __name__ == "__main__":
    main()
