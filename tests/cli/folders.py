"""Small real shows on disk: seconds long, written with soundfile."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile as sf

RATE_HZ = 48000


def write_tone(
    path: Path,
    *,
    level: float = 0.1,
    freq_hz: float = 220.0,
    seconds: float = 2.0,
    seed: int = 1,
    subtype: str = "PCM_24",
) -> Path:
    """A stereo tone with a little noise (so that no two are alike) that fades out."""
    path.parent.mkdir(parents=True, exist_ok=True)
    frames = round(seconds * RATE_HZ)
    time_s = np.arange(frames) / RATE_HZ
    tone = level * np.sin(2 * np.pi * freq_hz * time_s)
    noise = np.random.default_rng(seed).normal(0.0, level / 30, (frames, 2))
    fade = np.minimum(1.0, (frames - np.arange(frames)) / (0.5 * RATE_HZ)) * np.minimum(
        1.0, np.arange(frames) / 480
    )
    samples = (tone[:, None] + noise) * fade[:, None]
    sf.write(path, samples, RATE_HZ, subtype=subtype)
    return path


def write_song(folder: Path, *, seed: int = 1, seconds: float = 2.0) -> Path:
    """A healthy song of three stems."""
    for number, (name, freq_hz) in enumerate((("Bass", 82.0), ("Keys", 330.0), ("Guitar", 247.0))):
        write_tone(folder / f"{name}.wav", freq_hz=freq_hz, seed=seed * 10 + number, seconds=seconds)
    return folder


def write_show(folder: Path, *, seconds: float = 2.0) -> Path:
    """A healthy show of two songs."""
    write_song(folder / "Night Ferry", seed=1, seconds=seconds)
    write_song(folder / "Tin Roof", seed=2, seconds=seconds)
    return folder


def clip(path: Path) -> None:
    """The same tone far over full scale: long flat runs."""
    write_tone(path, level=4.0)
