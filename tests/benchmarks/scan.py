"""What a whole scan costs: `python -m tests.benchmarks.scan [--seconds 300] [--rounds 1] [FOLDER …]`.

For each show (the tour of 40 stems as WAV and as FLAC, ../shared/corpus where it is there, or FOLDERs) one
table, all measured in one run on the same files: bare decoding in blocks of 65,536 frames with soundfile,
decoding with the core measures (levels, peaks, loudness, clipping, container), ffmpeg's ebur128=peak=true on
one file after another, and `stemaudit scan` with every rule, nothing remembered, by one worker and by two.
Processor time (all processes, user and system) stands for what one worker costs, as a busy machine hardly
shows in it; what two workers gain is told by the clock, and means something on an idle machine with two cores
only. Memory is the largest sum over all processes, of what they share one copy. Python's byte code and
numba's kernels are there when a scan begins, as after a first one.
"""

from __future__ import annotations

import argparse
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import psutil
import soundfile

from audit.decode.blocks import BLOCK_FRAMES, open_blocks
from audit.decode.header import read_header
from audit.measure.clipping import ClippingMeter
from audit.measure.levels import LevelMeter
from audit.measure.loudness import LoudnessMeter
from audit.measure.peaks import PeakMeter
from tests.benchmarks.tour import SECONDS, write_tour
from tests.shared import SHARED

MOST_CORE, MOST_ALL, AIM_ALL, LEAST_GAIN = 0.35, 1.0, 0.5, 1.6
SHORT_S = 20.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--seconds", type=float, default=SECONDS, help="length of the tour's songs")
    parser.add_argument("--rounds", type=int, default=1, help="scans by one and by two workers; medians")
    asked = parser.parse_args()
    with _compiled(), _shows(asked.folders, asked.seconds) as shows:
        for name, folder in shows:
            for line in compare(name, folder, asked.rounds):
                print(line, flush=True)


@contextmanager
def _compiled() -> Iterator[None]:
    """Scans find byte code, as an installation has it, whatever this shell says of writing any."""
    with tempfile.TemporaryDirectory(prefix="stemaudit-scan-") as place:
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(Path(place) / "code")
        write_tour(Path(place) / "show", seconds=SHORT_S)
        _scan(Path(place) / "show", 1)
        yield


@contextmanager
def _shows(folders: list[Path], seconds: float) -> Iterator[Iterator[tuple[str, Path]]]:
    """Name and folder of every show; each of ours is written when it is reached and gone after it."""

    def ours() -> Iterator[tuple[str, Path]]:
        for container in ("WAV", "FLAC"):
            with tempfile.TemporaryDirectory(prefix="stemaudit-tour-") as folder:
                write_tour(Path(folder), container=container, seconds=seconds)
                yield f"tour, {container}", Path(folder)
        if (SHARED / "corpus").is_dir():
            yield "corpus", SHARED / "corpus"

    yield ((folder.name, folder) for folder in folders) if folders else ours()


def compare(name: str, folder: Path, rounds: int) -> Iterator[str]:
    """Lines of one table."""
    files = sorted(path for path in folder.rglob("*") if path.suffix.lower() in {".wav", ".flac", ".aiff"})
    heard_s = sum(soundfile.info(str(file)).duration for file in files)
    yield f"{name}: {len(files)} stems, {heard_s / 60:.0f} min of audio"
    _decode(files[:1])
    _core(files[:1])  # compiles, and fills no more than one file's worth of the disk's cache
    decode_s = _processor_s(lambda: _decode(files))
    core_s = _processor_s(lambda: _core(files))
    ffmpeg_s = _processor_s(lambda: _ffmpeg(files)) if shutil.which("ffmpeg") else None
    scans = {jobs: [_scan(folder, jobs) for _ in range(rounds)] for jobs in (1, 2)}
    one_s = statistics.median(used for used, _, _ in scans[1])
    rows = {
        "decode alone": decode_s, "ffmpeg ebur128=peak=true": ffmpeg_s, "decode + core measures": core_s,
        "scan, every rule, one worker": one_s,
    }  # fmt: skip
    for label, seconds in rows.items():
        if seconds is not None:
            beside = f"   {seconds / ffmpeg_s:5.2f} of ffmpeg" if ffmpeg_s else ""
            yield f"  {label:<30}{seconds:8.1f} s{beside}   {seconds / decode_s:5.1f} x decode"
    gains = [one / two for (_, one, _), (_, two, _) in zip(scans[1], scans[2], strict=True)]
    yield f"  two workers by the clock: {statistics.median(gains):.2f} x one (aim {LEAST_GAIN})"
    for jobs in (1, 2):
        once, each = (max(peaks[k] for _, _, peaks in scans[jobs]) / 1e6 for k in (0, 1))
        told = f"  memory, {jobs} at work: {once:.0f} MB"
        yield told if once == each else f"{told} ({each:.0f} where each process counts what all share)"
    yield f"  aims: core {MOST_CORE}, every rule {MOST_ALL} (better {AIM_ALL}) of ffmpeg"
    yield ""


def _processor_s(run: Callable[[], object]) -> float:
    before = _used_s()
    run()
    return _used_s() - before


def _used_s() -> float:
    """Processor time of this process and of those it has waited for."""
    usages = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(usage.ru_utime + usage.ru_stime for usage in usages)


def _decode(files: list[Path]) -> None:
    for file in files:
        with soundfile.SoundFile(file) as sound:
            for _ in sound.blocks(65_536, dtype="float32", always_2d=True):
                pass


def _core(files: list[Path]) -> None:
    for file in files:
        status = file.stat()
        header = read_header(file, size_bytes=status.st_size, allocated_bytes=status.st_size)
        shape = header.format
        assert shape is not None
        rate_hz, channels = shape.sample_rate_hz, shape.channels
        meters = (
            LevelMeter(rate_hz, channels), PeakMeter(rate_hz, channels), LoudnessMeter(rate_hz, channels),
            ClippingMeter(rate_hz, channels, bits=shape.bits, is_float=shape.is_float),
        )  # fmt: skip
        with closing(open_blocks(file, header, BLOCK_FRAMES, _nothing)) as blocks:
            for block in blocks:
                for meter in meters:
                    meter.add(block)
        for meter in meters:
            meter.result((0,))


def _nothing() -> None:
    pass


def _ffmpeg(files: list[Path]) -> None:
    for file in files:
        subprocess.run(
            [
                "ffmpeg",
                "-v",
                "error",
                "-threads",
                "1",
                "-i",
                file,
                "-af",
                "ebur128=peak=true",
                "-f",
                "null",
                "-",
            ],
            check=True,
        )


def _scan(folder: Path, jobs: int) -> tuple[float, float, tuple[int, int]]:
    """Processor seconds, seconds by the clock, and bytes of memory of a scan that remembers nothing."""
    before_s, began_s, peak = _used_s(), time.perf_counter(), (0, 0)
    words = ["scan", str(folder), "--jobs", str(jobs), "--no-cache", "--fail-on", "never", "--quiet"]
    scan = subprocess.Popen([sys.executable, "-m", "audit", *words], stdout=subprocess.DEVNULL)
    while scan.poll() is None:
        once, each = _memory(scan.pid)
        peak = max(peak[0], once), max(peak[1], each)
        time.sleep(0.2)
    if scan.returncode not in (0, 3):
        raise SystemExit(f"stemaudit scan ended with {scan.returncode}")
    return _used_s() - before_s, time.perf_counter() - began_s, peak


def _memory(pid: int) -> tuple[int, int]:
    """Bytes that a process and its children hold: pages that they share counted once, where the system tells
    (Linux: PSS), and once for each process."""
    once = each = 0
    try:
        root = psutil.Process(pid)
        for process in (root, *root.children(recursive=True)):
            held = process.memory_full_info()
            once += getattr(held, "pss", held.rss)
            each += held.rss
    except psutil.Error:
        pass
    return once, each


if __name__ == "__main__":
    main()
