"""Stems on their way to disk: a song in memory, and PCM files with dither."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import soundfile

from audit.demo.band import PLAYERS, click_track, perform
from audit.demo.desk import song_gain
from audit.demo.score import Composition
from audit.demo.sound import Samples, frames_of, scaled, seeded
from audit.demo.timecode import encode_timecode
from audit.facts import Role
from audit.timecode import FPS_25, FrameRate, Label


@dataclass(slots=True, kw_only=True)
class Recording:
    """One stem before it is written. samples: float32, shape (frames, channels)."""

    samples: Samples
    role: Role
    rate_hz: int = 48_000
    bits: int = 24
    dithered: bool = True
    dither_seed: str | None = None  # default: the file's name


@dataclass(slots=True, kw_only=True)
class Session:
    """One song in memory: its recordings by file name, and what is done to the files afterwards."""

    song: Composition
    gain: float
    recordings: dict[str, Recording] = field(default_factory=dict)
    afterwards: list[Callable[[Path], None]] = field(default_factory=list)

    def played(self, role: Role, rate_hz: int, *, song: Composition | None = None) -> Samples:
        """A musical part once more, at the song's level; of another version of the song, if given."""
        song = song or self.song
        return scaled(perform(song, PLAYERS[role], rate_hz).samples, self.gain)


def record(
    song: Composition, names: dict[str, Role], *, lufs: float, timecode_start: Label, rate_hz: int = 48_000
) -> Session:
    """Play every part of a song and set its level.

    names: file name and role of each stem. lufs: what the sum of the musical stems should reach.
    """
    takes = {
        name: perform(song, PLAYERS[role], rate_hz).samples for name, role in names.items() if role.audience
    }
    session = Session(song=song, gain=song_gain(takes.values(), rate_hz, lufs=lufs))
    for name, role in names.items():
        if role is Role.CLICK:
            samples = click_track(song, rate_hz).samples
        elif role is Role.TIMECODE:
            samples = timecode_track(song, rate_hz, timecode_start)
        elif role is Role.GUIDE:
            samples = perform(song, PLAYERS[role], rate_hz).samples
        else:
            samples = scaled(takes[name], session.gain)
        session.recordings[name] = Recording(samples=samples, role=role, rate_hz=rate_hz)
    return session


def timecode_track(
    song: Composition, rate_hz: int, start: Label, *, rate: FrameRate = FPS_25, level_dbfs: float = -12.0
) -> Samples:
    """Timecode from the file's first frame for as many whole frames as fit; shape (frames, 1)."""
    length = frames_of(song.end_s, rate_hz)
    wave = encode_timecode(
        start, int(length / rate_hz * rate.frames_per_s), rate, rate_hz, level_dbfs=level_dbfs
    )
    track = np.zeros((length, 1), dtype=np.float32)
    track[: len(wave), 0] = wave[:length]
    return track


def write_recording(path: Path, recording: Recording) -> None:
    """Write a stem; the name's extension says the container.

    Dither is triangular, two steps wide, seeded by the name; a stem without a single sound stays digital
    silence, as workstations print it.
    """
    full_scale = 2 ** (recording.bits - 1)
    steps = recording.samples.astype(np.float64) * full_scale
    if recording.dithered and steps.any():
        random = seeded("dither", recording.dither_seed or path.name)
        steps += random.random(steps.shape, dtype=np.float32)
        steps -= random.random(steps.shape, dtype=np.float32)
    np.rint(steps, out=steps)
    np.clip(steps, 1 - full_scale, full_scale - 1, out=steps)
    whole = steps.astype(np.int32)
    whole <<= 32 - recording.bits  # soundfile takes 32-bit words and keeps their upper bits
    soundfile.write(path, whole, recording.rate_hz, subtype=f"PCM_{recording.bits}")
