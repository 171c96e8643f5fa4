"""Ways in which stems go wrong: to samples before they are written, and to files afterwards.

Every function really changes what it is given, or raises ValueError: a fault that is not there proves
nothing.
"""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from audit.demo.sound import Samples, add_at, band, frames_of
from audit.units import from_db


def clipped(samples: Samples, *, over_db: float) -> Samples:
    """Turned up until the highest peak would stand `over_db` above full scale, and cut off there."""
    loud = samples * np.float32(from_db(over_db) / np.abs(samples).max())
    return np.asarray(np.clip(loud, -1.0, 1.0), dtype=np.float32)


def with_dc(samples: Samples, offset: float) -> Samples:
    """The whole stem moved off zero."""
    return np.asarray(samples + np.float32(offset), dtype=np.float32)


def opposed(samples: Samples) -> Samples:
    """The right side upside down."""
    turned: Samples = samples.copy()
    turned[:, 1] *= -1
    return turned


def silenced(samples: Samples) -> Samples:
    """Nothing left of it."""
    return np.zeros_like(samples)


def muted(samples: Samples, first: int, frames: int) -> Samples:
    """A hole: a muted region."""
    if not samples[first : first + frames].any():
        raise ValueError(f"nothing sounds from frame {first} on")
    holed: Samples = samples.copy()
    holed[first : first + frames] = 0
    return holed


def ended_early(samples: Samples, frames: int) -> Samples:
    """The last frames were not bounced."""
    if not 0 < frames < len(samples):
        raise ValueError(f"cannot take {frames} frames from {len(samples)}")
    return samples[:-frames]


def punched_in(samples: Samples, other: Samples, frame: int) -> Samples:
    """Another take from a frame on."""
    if not 0 < frame < min(len(samples), len(other)):
        raise ValueError(f"there is no frame {frame} to go on from")
    return np.concatenate([samples[:frame], other[frame : len(samples)]])


def delayed(samples: Samples, frames: int) -> Samples:
    """Late, over the same range: silence in front, and as much cut from the end, which has rung out."""
    if not 0 < frames < len(samples) or samples[-frames:].any():
        raise ValueError(f"the last {frames} frames still sound")
    return np.concatenate([np.zeros_like(samples[:frames]), samples[:-frames]])


def leaked(samples: Samples, source: Samples, rate_hz: int, *, below_db: float, late_s: float) -> Samples:
    """What an open microphone hears of a headphone: thin, a little late, on every side.

    source: one channel. below_db: its highest peak under that of the stem.
    """
    heard = band(source[:, 0], rate_hz, 500, 8000)
    heard *= np.float32(from_db(-below_db) * np.abs(samples).max() / np.abs(heard).max())
    mixed: Samples = samples.copy()
    add_at(mixed, heard, frames_of(late_s, rate_hz))
    return mixed


def stuttered(samples: Samples, first: int, frames: int) -> Samples:
    """A buffer that was delivered twice: its block plays again in place of the next."""
    if not samples[first : first + 2 * frames].any():
        raise ValueError(f"nothing sounds from frame {first} on")
    again: Samples = samples.copy()
    again[first + frames : first + 2 * frames] = samples[first : first + frames]
    return again


def converted(samples: Samples, rate_hz: int, wanted_hz: int) -> Samples:
    """Brought to a higher sample rate as a good converter does it; nothing above half the old rate."""
    # Whole seconds, so that the transforms have lengths without large primes; what is added is silent.
    seconds = -(-len(samples) // rate_hz) + 1
    spectrum = np.fft.rfft(samples, seconds * rate_hz, axis=0)
    wave = np.fft.irfft(spectrum, seconds * wanted_hz, axis=0) * (wanted_hz / rate_hz)
    return np.asarray(wave[: round(len(samples) * wanted_hz / rate_hz)], dtype=np.float32)


def cut_short(path: Path, keep: float) -> None:
    """An interrupted copy: the header still promises all of it. keep: share of the bytes, 0 to 1."""
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.truncate(int(size * keep) // 2 * 2)


def left_unfinished(path: Path) -> None:
    """A WAV whose recorder crashed: the sizes in the header were never filled in."""
    with path.open("r+b") as file:
        head = file.read(4096)
        place = head.find(b"data")
        if head[:4] != b"RIFF" or place < 0:
            raise ValueError(f"{path.name} is no plain WAV file")
        file.seek(4)
        file.write(struct.pack("<I", 0))
        file.seek(place + 4)
        file.write(struct.pack("<I", 0))


def decayed(path: Path, at: float = 0.6) -> None:
    """One byte of a file turned over on the disk. at: where, as a share of the file."""
    with path.open("r+b") as file:
        place = int(path.stat().st_size * at)
        file.seek(place)
        byte = file.read(1)
        file.seek(place)
        file.write(bytes([byte[0] ^ 0x5A]))
