"""Memory does not grow with a stem's length."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests import signals

RATE = 44_100

SCAN_AND_TELL = """
import resource, sys
from pathlib import Path
from audit.folder.walk import walk
from audit.pipeline.song.listen import listen
song = listen(walk(Path(sys.argv[1])).songs[0], lambda stem, done: None)
assert song.stems[0].audio.frames == int(sys.argv[2]), song
assert song.mix.loudness.integrated_lufs > -30
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def looped(path: Path, minutes: float) -> int:
    """A stereo stem of looped music; the frames written."""
    bar, _ = signals.music_bed(20.0, rate_hz=RATE)
    bar16 = (np.repeat(bar[:, :1], 2, axis=1) * 20_000).astype(np.int16)
    bar16[:, 1] = np.roll(bar16[:, 1], 37)
    frames = round(minutes * 60 * RATE)
    path.parent.mkdir(parents=True)
    with soundfile.SoundFile(str(path), "w", RATE, 2, subtype="PCM_16", format="WAV") as out:
        written = 0
        while written < frames:
            out.write(bar16[: frames - written])
            written += min(len(bar16), frames - written)
    return frames


def peak_kib(folder: Path, frames: int) -> int:
    """Peak memory of a fresh process that hears the song, in KiB (Linux's unit of ru_maxrss)."""
    done = subprocess.run(
        [sys.executable, "-c", SCAN_AND_TELL, str(folder), str(frames)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return int(done.stdout)


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="ru_maxrss has another unit elsewhere")
def test_two_hours_need_no_more_memory_than_three_minutes(tmp_path: Path):
    short = tmp_path / "short"
    long = tmp_path / "long"
    short_frames = looped(short / "Backing Track.wav", 3)
    long_frames = looped(long / "Backing Track.wav", 120)
    try:
        peak_kib(short, short_frames)  # compiles what is not compiled yet; not counted
        three_minutes, two_hours = peak_kib(short, short_frames), peak_kib(long, long_frames)
    finally:
        (long / "Backing Track.wav").unlink()  # 1.9 GB
    print(f"3 min: {three_minutes / 1024:.0f} MiB, 2 h: {two_hours / 1024:.0f} MiB")
    assert abs(two_hours - three_minutes) < 20 * 1000 * 1000 / 1024
