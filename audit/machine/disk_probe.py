"""How long the disk takes for reads of a refill's size, from files that are not in memory."""

from __future__ import annotations

import os
import random
import statistics
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audit.load.figure import Figure, Provenance
from audit.machine.cold import drop, is_suspect, keep_out
from audit.machine.hindrance import FREE, Hindrance

SMALL_BYTES = 4096
READS = 240
PASSES = 3
LONGEST_S = 6.0
"""A pass ends after this long, however few reads it had: a slow drive must not take the evening."""

FEWEST_READS = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class DiskFigures:
    """latency, transfer: such that their sum for a refill is what a refill really took."""

    latency: Figure
    transfer: Figure
    warm_suspect: bool
    words: str


def measure_disk(
    paths: Sequence[Path], refill_bytes: int, hindrance: Hindrance = FREE, *, reads: int = READS
) -> DiskFigures:
    """Random reads, cold, of 4 kB and of a refill, each in three passes of which the slowest mean counts."""
    draw = random.Random(17)
    method = drop(paths)
    small = [_pass(paths, SMALL_BYTES, draw, hindrance, reads) for _ in range(PASSES) if drop(paths)]
    large = [_pass(paths, refill_bytes, draw, hindrance, reads) for _ in range(PASSES) if drop(paths)]
    _pass(paths, SMALL_BYTES, random.Random(3), hindrance, reads)
    warm = _pass(paths, SMALL_BYTES, random.Random(3), FREE, reads)
    slow_small, slow_large = max(small, key=statistics.mean), max(large, key=statistics.mean)
    refill_s = statistics.mean(slow_large)
    # What a small read takes is not all of what a large one waits: never more than half of it is left to B.
    latency_s = min(statistics.mean(slow_small), 0.9 * refill_s)
    bytes_per_s = refill_bytes / (refill_s - latency_s)
    cold_median = statistics.median(slow_small)
    suspect = method != "fadvise" or (
        hindrance.read_delay_s == 0 and is_suspect(cold_median, statistics.median(warm))
    )
    words = (
        f"{method}, {len(slow_large)} reads of {refill_bytes} bytes, longest {1e3 * max(slow_large):.1f} ms"
    )

    def measured(value: float, unit: str, sd: float | None = None) -> Figure:
        return Figure(value=value, unit=unit, provenance=Provenance.MEASURED, sd=sd, source=words)

    return DiskFigures(
        latency=measured(latency_s, "s", statistics.stdev(slow_large)),
        transfer=measured(bytes_per_s, "B/s"),
        warm_suspect=suspect,
        words=words,
    )


def _pass(
    paths: Sequence[Path], size: int, draw: random.Random, hindrance: Hindrance, reads: int
) -> list[float]:
    """Seconds of each read: a place of a file at random, as when a refill comes round."""
    handles = [os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0)) for path in paths]
    took: list[float] = []
    try:
        ends = [os.fstat(handle).st_size - size for handle in handles]
        for handle in handles:
            keep_out(handle)
        start = time.perf_counter()
        for number in range(reads):
            which = draw.randrange(len(handles))
            at = draw.randrange(max(1, ends[which])) // 4096 * 4096
            began = time.perf_counter()
            hindrance.before_read()
            os.lseek(handles[which], at, os.SEEK_SET)
            os.read(handles[which], size)
            ended = time.perf_counter()
            took.append(ended - began)
            if ended - start > LONGEST_S and number >= FEWEST_READS:
                break
    finally:
        for handle in handles:
            os.close(handle)
    return took
