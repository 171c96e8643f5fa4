"""A show as large as a tour's: four songs of five minutes, 20 stereo and 20 mono stems, 48 kHz, 24 bit.

    write_tour(folder, container="WAV")   the files it wrote

The demo's instruments play a minute of each song; the minute is laid over itself again every 32 bars, its
tails ringing into the next, until five minutes are full. Click and timecode run through.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from audit.demo.band import PLAYERS, click_track, perform
from audit.demo.desk import song_gain
from audit.demo.recording import Recording, timecode_track, write_recording
from audit.demo.score import Composition, Section
from audit.demo.sound import Samples
from audit.facts import Role
from audit.timecode import Label

RATE_HZ = 48_000
SECONDS = 300
LOOP_BARS = 32
MONO = {
    "Click": Role.CLICK, "Timecode": Role.TIMECODE, "Guide": Role.GUIDE, "Bass": Role.BASS,
    "Lead Vocal": Role.LEAD_VOCAL,
}  # fmt: skip
STEREO = (
    {"Drums": Role.DRUMS, "Guitar": Role.GUITAR, "Keys": Role.KEYS, "Pad": Role.PAD, "Strings": Role.STRINGS},
    {"Drums": Role.DRUMS, "Guitar": Role.GUITAR, "Piano": Role.PIANO, "Organ": Role.ORGAN,
     "Brass": Role.BRASS},
    {"Drums": Role.DRUMS, "Percussion": Role.PERCUSSION, "Keys": Role.KEYS, "Synth": Role.SYNTH,
     "Backing Vocals": Role.BACKING_VOCALS},
    {"Drums": Role.DRUMS, "Guitar": Role.GUITAR, "Piano": Role.PIANO, "Strings": Role.STRINGS,
     "Choir": Role.CHOIR},
)  # fmt: skip
SONGS = (
    ("Lantern Row", "A minor", 120.0, "Am F C G"),
    ("Quarter to Tide", "D major", 112.0, "D G Bm A"),
    ("Brass on the Pier", "G major", 128.0, "G Em C D"),
    ("Slow Ferry Home", "C major", 104.0, "C Am F G"),
)


def write_tour(folder: Path, *, container: str = "WAV", seconds: float = SECONDS) -> list[Path]:
    """One folder a song in `folder`. container: "WAV" or "FLAC"."""
    files: list[Path] = []
    for number, ((title, key, bpm, chords), stereo) in enumerate(zip(SONGS, STEREO, strict=True), start=1):
        song = folder / f"{number:02d} - {title}"
        song.mkdir(parents=True)
        for name, recording in _song(title, key, bpm, chords, stereo, Label(number), seconds).items():
            files.append(song / f"{name}.{container.lower()}")
            write_recording(files[-1], recording)
    return files


def _song(
    title: str, key: str, bpm: float, chords: str, stereo: dict[str, Role], start: Label, seconds: float
) -> dict[str, Recording]:
    bars = int((seconds - 8.0) * bpm / 240.0)
    whole = _composition(title, key, bpm, chords, bars)
    minute = _composition(title, key, bpm, chords, min(bars, LOOP_BARS))
    loop_frames = round(LOOP_BARS * 240.0 / bpm * RATE_HZ)
    length = round(seconds * RATE_HZ)
    music = {
        name: _laid_over(perform(minute, PLAYERS[role], RATE_HZ).samples, loop_frames, length)
        for name, role in {**MONO, **stereo}.items()
        if role.audience
    }
    gain = song_gain([take[: 60 * RATE_HZ] for take in music.values()], RATE_HZ, lufs=-16.0)
    tracks = {
        "Click": click_track(whole, RATE_HZ).samples,
        "Timecode": timecode_track(whole, RATE_HZ, start),
        "Guide": perform(whole, PLAYERS[Role.GUIDE], RATE_HZ).samples,
        **{name: take * np.float32(gain) for name, take in music.items()},
    }
    return {
        name: Recording(samples=_of_length(tracks[name], length), role=role, rate_hz=RATE_HZ)
        for name, role in {**MONO, **stereo}.items()
    }


def _composition(title: str, key: str, bpm: float, chords: str, bars: int) -> Composition:
    names = tuple(chords.split())
    verse, chorus = bars // 2, bars - bars // 2
    return Composition(
        title=title, key=key, bpm=bpm,
        sections=(
            Section(name="verse", bars=verse, chords=names, energy=0.5),
            Section(name="chorus", bars=chorus, chords=names[1:] + names[:1], energy=0.9),
        ),
    )  # fmt: skip


def _laid_over(take: Samples, every_frames: int, length: int) -> Samples:
    bus = np.zeros((length, take.shape[1]), dtype=np.float32)
    for first in range(0, length, every_frames):
        count = min(len(take), length - first)
        bus[first : first + count] += take[:count]
    return bus


def _of_length(track: Samples, length: int) -> Samples:
    """Cut or filled with silence; the last second fades, as the music stops there."""
    out = np.zeros((length, track.shape[1]), dtype=np.float32)
    out[: len(track)] = track[:length]
    out[-RATE_HZ:] *= np.linspace(1.0, 0.0, RATE_HZ, dtype=np.float32)[:, None]
    return out
