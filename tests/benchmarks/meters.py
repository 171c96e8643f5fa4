"""Decoding, decoding with the loudness and peak meters, and ffmpeg's ebur128, on one file.

Times are of the processor, user and system, all threads and ffmpeg's process included: what else the machine
does meanwhile hardly shows in them.
"""

from __future__ import annotations

import resource
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import soundfile

from audit.measure.loudness import LoudnessMeter
from audit.measure.peaks import PeakMeter

BLOCK_FRAMES = 65_536
ROUNDS = 5
FFMPEG = "ffmpeg ebur128=peak=true"

Meters = tuple[type[LoudnessMeter] | type[PeakMeter], ...]


def compare(file: Path) -> Iterator[str]:
    """Lines of text: seconds (best of a few rounds) and ratios."""
    runs: dict[str, Callable[[], None]] = {
        "decode alone": lambda: _run(file, ()),
        "decode + loudness": lambda: _run(file, (LoudnessMeter,)),
        "decode + peaks": lambda: _run(file, (PeakMeter,)),
        "decode + loudness and peaks": lambda: _run(file, (LoudnessMeter, PeakMeter)),
    }
    if shutil.which("ffmpeg") is not None:
        runs[FFMPEG] = lambda: _run_ffmpeg(file)
    times_s = _best(runs)
    yield f"{file.stem}, {soundfile.info(str(file)).duration:.0f} s stereo"
    for name, seconds in times_s.items():
        ratios = ""
        if FFMPEG in times_s and name != FFMPEG:
            beyond = (seconds - times_s["decode alone"]) / times_s[FFMPEG]
            ratios = f"   {seconds / times_s[FFMPEG]:.2f} of ffmpeg, {beyond:.2f} beyond decoding"
        yield f"  {name:<28}{seconds:.3f} s{ratios}"


def _best(runs: dict[str, Callable[[], None]]) -> dict[str, float]:
    """The shortest time of each. They take turns, so that a busy machine is unfair to none of them.

    The first round is not counted: it compiles, and fills the disk's cache.
    """
    times_s: dict[str, list[float]] = {name: [] for name in runs}
    for _ in range(ROUNDS + 1):
        for name, run in runs.items():
            begin_s = _processor_s()
            run()
            times_s[name].append(_processor_s() - begin_s)
    return {name: min(times[1:]) for name, times in times_s.items()}


def _processor_s() -> float:
    """Processor time so far of this process and of those it has waited for."""
    usages = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def _run(file: Path, kinds: Meters) -> None:
    with soundfile.SoundFile(file) as sound:
        meters = [kind(sound.samplerate, sound.channels) for kind in kinds]
        for block in sound.blocks(BLOCK_FRAMES, dtype="float32", always_2d=True):
            for meter in meters:
                meter.add(block)
        for meter in meters:
            meter.result()


def _run_ffmpeg(file: Path) -> None:
    subprocess.run(
        ["ffmpeg", "-v", "error", "-threads", "1", "-i", file, "-af", "ebur128=peak=true", "-f", "null", "-"],
        check=True,
    )
