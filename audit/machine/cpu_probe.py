"""What decoding, converting and mixing cost here, and how late a thread wakes up."""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from audit.load.costs import CODECS
from audit.load.figure import Figure, Provenance
from audit.machine.hindrance import FREE, Hindrance
from audit.machine.mixer import Mixer
from audit.machine.streaming import SongStream

REPEATS = 5
STREAMS = 16
ROUNDS = 11
PAUSE_S = 0.1
PERIOD_S = 256 / 48000


def _figure(values: list[float], unit: str, source: str) -> Figure:
    sd = statistics.stdev(values) if len(values) > 1 else None
    return Figure(
        value=statistics.median(values), unit=unit, provenance=Provenance.MEASURED, sd=sd, source=source
    )


def decode_ns(path: Path, refill_s: float) -> Figure:
    """Decoding one sample and laying it where the mixer finds it, as a player does: a song's stems in turn, a
    refill each, from memory, then asleep until the next round. Thread time, median of the rounds.

    Without the sleep the same work seems up to a third cheaper than it is in a show: processor and caches
    have nothing else to do meanwhile.
    """
    with open(path, "rb") as file:  # into memory, where it is not yet
        while file.read(1 << 20):
            pass
    rate_hz = _rate_of(path)
    with SongStream([path] * STREAMS, rate_hz=rate_hz, refill_s=refill_s, slots=2) as song:
        for number, stem in enumerate(song.stems):
            stem.skip(number * refill_s / STREAMS)  # no two at the same place
        samples = song.rows * song.slot_frames

        def refill_all(number: int) -> None:
            for stem in range(STREAMS):
                song.refill(stem, number)

        values = _paced_ns(refill_all, samples)
    return _figure(values, "ns", f"{STREAMS} stems, refills of {refill_s:g} s")


def resample_ns(frames: int) -> Figure:
    """Converting one sample from 44.1 to 48 kHz, likewise: many streams in turn, then asleep."""
    import soxr

    streams = [soxr.ResampleStream(44100, 48000, 2, dtype="float32", quality="HQ") for _ in range(STREAMS)]
    rng = np.random.default_rng(3)
    blocks = [rng.standard_normal((frames, 2), dtype=np.float32) for _ in streams]

    def convert(_: int) -> None:
        for stream, block in zip(streams, blocks, strict=True):
            np.concatenate([block[:0], stream.resample_chunk(block)])

    return _figure(_paced_ns(convert, STREAMS * blocks[0].size), "ns", "soxr HQ, 44.1 to 48 kHz")


def _paced_ns(work: Callable[[int], None], samples: int) -> list[float]:
    """What a sample costs in each round of the work, with sleep between the rounds."""
    values = []
    for number in range(ROUNDS + 1):
        start = time.thread_time()
        work(number)
        values.append((time.thread_time() - start) / samples * 1e9)
        time.sleep(PAUSE_S)
    return values[1:]  # the first one warms up


def _rate_of(path: Path) -> int:
    import soundfile

    return int(soundfile.info(str(path)).samplerate)


def mix_ns(rows: int, frames: int, hindrance: Hindrance = FREE) -> Figure:
    """Gain and sum of one sample, by this program's own mixer.

    By the clock on the wall: a buffer is due by that clock, whoever else takes the processor meanwhile;
    the slowest of the passes counts, as for the disk.
    """
    ring = np.random.default_rng(4).standard_normal((rows, 40 * frames)).astype(np.float32)
    mixer = Mixer(rows, frames, hindrance)
    values = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        for at in range(0, ring.shape[1] - frames, frames):
            mixer.mix(ring[:, at : at + frames])
        values.append((time.perf_counter() - start) / (39 * rows * frames) * 1e9)
    middle = _figure(values, "ns", f"{rows} channels, {frames} frames, slowest of {REPEATS} passes")
    return replace(middle, value=max(values))


def lateness(seconds: float, period_s: float = PERIOD_S) -> tuple[Figure, str]:
    """How late a sleeping thread wakes: the 99.9th percentile, and the other ones in words.

    It bounds the lateness of a real audio thread from above. One in a thousand is also what a rehearsal
    forgives (audit.results.rehearsal).
    """
    late: list[float] = []
    start, number = time.perf_counter(), 0
    while number * period_s < seconds or len(late) < 2:
        # What fell due while the system slept is one late waking, not many.
        number = max(number + 1, math.ceil((time.perf_counter() - start) / period_s))
        due = start + number * period_s
        time.sleep(max(0.0, due - time.perf_counter()))
        late.append(time.perf_counter() - due)
    p50, p99, p999 = np.percentile(late, [50, 99, 99.9])
    words = f"p50 {1e6 * p50:.0f}, p99 {1e6 * p99:.0f}, longest {1e6 * max(late):.0f} us"
    figure = Figure(
        value=max(float(p999), 1e-6), unit="s", provenance=Provenance.MEASURED, source=f"p99.9; {words}"
    )
    return figure, words


def denormal_ratio() -> float:
    """How much slower this processor multiplies numbers that are almost nothing."""
    took = []
    for scale in (1.0, 1e-40):
        block = np.full(1 << 18, scale, dtype=np.float32)
        out = np.empty_like(block)
        best = float("inf")
        for _ in range(7):
            start = time.thread_time()
            np.multiply(block, np.float32(0.999), out=out)
            best = min(best, time.thread_time() - start)
        took.append(best)
    return took[1] / max(took[0], 1e-9)


def sustained(path: Path, seconds: float, tell: Callable[[str], None]) -> Figure:
    """The throttle factor: decoding and mixing in the last minute over the first, by medians of seconds."""
    import soundfile

    rates: list[float] = []
    start = time.perf_counter()
    mixer = Mixer(2, 65536)
    with soundfile.SoundFile(str(path)) as file:
        out = np.empty((65536, file.channels), dtype=np.float32)
        while time.perf_counter() - start < seconds:
            began, samples = time.perf_counter(), 0
            while time.perf_counter() - began < 1.0:
                if len(file.read(out=out)) < len(out):
                    file.seek(0)
                mixer.mix(out.T)
                samples += out.size
            rates.append(samples / (time.perf_counter() - began))
            tell(f"sustained run, {len(rates)} of {seconds:.0f} s")
    part = max(1, min(60, len(rates) // 3))
    first, last = statistics.median(rates[:part]), statistics.median(rates[-part:])
    return Figure(
        value=min(1.0, last / first), unit="1", provenance=Provenance.MEASURED, source=f"{seconds:.0f} s run"
    )


def speed_of(costs: dict[str, Figure]) -> Figure:
    """One core beside the cost table's, from every format that was timed: the median of the ratios."""
    ratios = [CODECS[name].decode_ns / figure.value for name, figure in costs.items() if name in CODECS]
    return _figure(ratios, "1", f"{len(ratios)} formats")
