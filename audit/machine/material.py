"""Files to time: one of each format, and stems to read like a song's, in a folder that goes again."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from audit.errors import UsageError

RATE_HZ = 48000
FORMATS = {
    "pcm16": ("WAV", "PCM_16", ".wav"),
    "pcm24": ("WAV", "PCM_24", ".wav"),
    "float32": ("WAV", "FLOAT", ".wav"),
    "flac16": ("FLAC", "PCM_16", ".flac"),
    "flac24": ("FLAC", "PCM_24", ".flac"),
    "ogg": ("OGG", "VORBIS", ".ogg"),
    "mp3": ("MP3", "MPEG_LAYER_III", ".mp3"),
}
"""Codec of the cost table -> what libsndfile calls it. One that this libsndfile cannot write is left out."""

DISK_FILES = 24
DISK_FILE_BYTES = 6_000_000
ROOM_LEFT = 4
"""The drive must have so many times the room that is written."""


@contextmanager
def folder_on(disk: Path) -> Iterator[Path]:
    """A folder for the probe's files, gone at the end, also after Ctrl-C. Raises UsageError."""
    needed = ROOM_LEFT * (DISK_FILES * DISK_FILE_BYTES + 100_000_000)
    try:
        free = shutil.disk_usage(disk).free
        if free < needed:
            raise UsageError(
                f"{disk}: has {free / 1e9:.1f} GB left, and the probe, which never fills a drive, wants "
                f"{needed / 1e9:.1f} GB of room: free some, or name another folder with --disk"
            )
        made = tempfile.mkdtemp(prefix="stemaudit-probe-", dir=disk)
    except OSError as error:
        raise UsageError(
            f"{disk}: nothing can be written there: {error.strerror}: name another folder with --disk"
        ) from None
    try:
        yield Path(made)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def music(seconds: float, seed: int = 5) -> np.ndarray:
    """Something that packs like music: decaying chords with a little noise, shape (frames, 2), float32."""
    rng = np.random.default_rng(seed)
    frames = round(seconds * RATE_HZ)
    time_s = np.arange(frames) / RATE_HZ
    made = 0.002 * rng.standard_normal((frames, 2))
    beat = np.exp(-4.0 * (time_s % 0.5))
    for freq_hz in (82.4, 164.8, 207.7, 246.9, 329.6, 1318.5):
        for side in (0, 1):
            made[:, side] += 0.08 * beat * np.sin(2 * np.pi * freq_hz * (1 + 0.002 * side) * time_s)
    return made.astype(np.float32)


def write_formats(folder: Path, seconds: float) -> dict[str, Path]:
    """One file of each format that can be written here."""
    import soundfile

    samples = music(seconds)
    found = {}
    for codec, (container, subtype, ending) in FORMATS.items():
        if not soundfile.check_format(container, subtype):
            continue
        path = folder / f"{codec}{ending}"
        try:
            soundfile.write(path, samples, RATE_HZ, subtype=subtype, format=container)
        except soundfile.SoundFileError:
            continue
        found[codec] = path
    return found


def write_stems(folder: Path) -> list[Path]:
    """Files of a stem's size with bytes that no drive can pack, on the disk for sure."""
    import os

    rng = np.random.default_rng(11)
    paths = []
    for number in range(DISK_FILES):
        path = folder / f"stem {number:02d}.raw"
        with path.open("wb") as file:
            file.write(rng.bytes(DISK_FILE_BYTES))
            file.flush()
            os.fsync(file.fileno())
        paths.append(path)
    return paths
