"""Audio through a lossy codec, or through a resampler and back to samples, by ffmpeg."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
import soundfile

from tests.waves import Samples

SUFFIX = {"libmp3lame": "mp3", "aac": "m4a", "libopus": "opus", "libvorbis": "ogg"}


def need_encoder(encoder: str) -> None:
    """Skips the test where ffmpeg, or this encoder of it, is not installed."""
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed: nothing can be coded")
    known = subprocess.run(["ffmpeg", "-v", "error", "-encoders"], capture_output=True, text=True, check=True)
    if f" {encoder} " not in known.stdout:
        pytest.skip(f"ffmpeg was built without {encoder}")


def coded(samples: Samples, rate_hz: int, encoder: str, kbit: int, folder: Path) -> Samples:
    """Coded at so many kbit/s and decoded to 24 bits again, at the same rate."""
    before, between, after = folder / "before.wav", folder / f"coded.{SUFFIX[encoder]}", folder / "after.wav"
    soundfile.write(before, samples, rate_hz, subtype="PCM_24")
    _ffmpeg("-i", str(before), "-c:a", encoder, "-b:a", f"{kbit}k", str(between))
    _ffmpeg("-i", str(between), "-ar", str(rate_hz), "-c:a", "pcm_s24le", str(after))
    return soundfile.read(after, dtype="float32", always_2d=True)[0]


def converted(samples: Samples, from_hz: int, to_hz: int, folder: Path, *, filters: str = "") -> Samples:
    """Through ffmpeg's resampler. filters: "aresample=resampler=soxr" for the better one."""
    before, after = folder / "slow.wav", folder / "fast.wav"
    soundfile.write(before, samples, from_hz, subtype="PCM_24")
    extra = ("-af", filters) if filters else ()
    _ffmpeg("-i", str(before), *extra, "-ar", str(to_hz), "-c:a", "pcm_s24le", str(after))
    return soundfile.read(after, dtype="float32", always_2d=True)[0]


def at_tempo(samples: Samples, rate_hz: int, ratio: float, folder: Path) -> Samples:
    """Faster by the ratio at the same pitch, by ffmpeg's atempo (overlapping waveforms)."""
    before, after = folder / "before.wav", folder / "after.wav"
    soundfile.write(before, samples, rate_hz, subtype="PCM_24")
    _ffmpeg("-i", str(before), "-af", f"atempo={ratio:.6f}", "-c:a", "pcm_s24le", str(after))
    return soundfile.read(after, dtype="float32", always_2d=True)[0]


def _ffmpeg(*arguments: str) -> None:
    subprocess.run(["ffmpeg", "-v", "error", "-nostdin", "-y", *arguments], check=True)
