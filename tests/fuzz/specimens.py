"""Small sound files of every container, to be broken: a quarter of a second each, whole and playable."""

from __future__ import annotations

import io
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

from tests import containers

RATE_HZ = 44_100
FRAMES = 11_025


@dataclass(frozen=True, slots=True, kw_only=True)
class Specimen:
    """A whole file. kind: how its chunks are laid out ("riff", "form", "caf", "w64"), or "stream"."""

    name: str
    suffix: str
    kind: str
    data: bytes


def _music(channels: int) -> np.ndarray:
    """A decaying chord every eighth of a second, so that decoders and meters have something to chew on."""
    time_s = np.arange(FRAMES) / RATE_HZ
    chord = sum(np.sin(2 * np.pi * hz * time_s) for hz in (220.0, 277.2, 329.6, 3520.0))
    wave = 0.2 * np.asarray(chord) * np.exp(-12.0 * (time_s % 0.125))
    return np.stack([np.roll(wave, 13 * channel) for channel in range(channels)], axis=1)


def _codes(channels: int, bits: int) -> np.ndarray:
    return np.round(_music(channels) * (2 ** (bits - 1) - 1)).astype(np.int64)


def _wave(channels: int, bits: int, **more: object) -> bytes:
    audio = (
        containers.unsigned_8(_codes(channels, 8))
        if bits == 8
        else containers.pcm_bytes(_codes(channels, bits), bits // 8)
    )
    extensible = bool(more.pop("extensible", False))
    shape = containers.wave_format(channels=channels, rate_hz=RATE_HZ, bits=bits, extensible=extensible)
    return containers.wave(audio, shape, **more)  # type: ignore[arg-type]


def _rf64() -> bytes:
    audio = containers.pcm_bytes(_codes(2, 24), 3)
    return containers.wave(
        audio, containers.wave_format(channels=2, rate_hz=RATE_HZ, bits=24), magic=b"RF64",
        riff_size=0xFFFFFFFF, data_size=0xFFFFFFFF, ds64=containers.ds64(len(audio), FRAMES),
    )  # fmt: skip


def _written(format_: str, subtype: str, channels: int = 2) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, _music(channels), RATE_HZ, format=format_, subtype=subtype)
    return file.getvalue()


def _coded(suffix: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "a.wav", Path(folder) / f"b.{suffix}"
        soundfile.write(source, _music(2), RATE_HZ)
        subprocess.run(["ffmpeg", "-v", "error", "-i", source, target], check=True)
        return target.read_bytes()


def _list_chunk() -> bytes:
    return containers.chunk(
        b"LIST", b"INFO" + containers.chunk(b"INAM", b"Stem") + containers.chunk(b"ICMT", b"x")
    )


@cache
def chunked() -> tuple[Specimen, ...]:
    """WAVE in its kinds, RF64, Wave64, AIFF, AIFC, CAF."""
    makers: tuple[tuple[str, str, str, Callable[[], bytes]], ...] = (
        ("16 bit", "wav", "riff", lambda: _wave(2, 16)),
        ("24 bit, extensible", "wav", "riff", lambda: _wave(2, 24, extensible=True)),
        ("8 bit, mono", "wav", "riff", lambda: _wave(1, 8)),
        ("bext and list", "wav", "riff", lambda: _wave(
            1, 24, before=[containers.bext(48_000), _list_chunk()], after=[_list_chunk()])),
        ("float", "wav", "riff", lambda: _written("WAV", "FLOAT")),
        ("double", "wav", "riff", lambda: _written("WAV", "DOUBLE")),
        ("a-law", "wav", "riff", lambda: _written("WAV", "ALAW")),
        ("ADPCM", "wav", "riff", lambda: _written("WAV", "MS_ADPCM")),
        ("RF64", "wav", "riff", _rf64),
        ("Wave64", "w64", "w64", lambda: _written("W64", "PCM_24")),
        ("AIFF", "aif", "form", lambda: _written("AIFF", "PCM_24")),
        ("AIFC float", "aiff", "form", lambda: _written("AIFF", "FLOAT")),
        ("CAF", "caf", "caf", lambda: _written("CAF", "PCM_16")),
        ("CAF ALAC", "caf", "caf", lambda: _written("CAF", "ALAC_16")),
    )  # fmt: skip
    return tuple(Specimen(name=n, suffix=s, kind=k, data=make()) for n, s, k, make in makers)


@cache
def streams() -> tuple[Specimen, ...]:
    """Coded streams: FLAC of two widths, Ogg Vorbis and Opus, MP3 with and without a seek table."""
    made = [
        ("FLAC 16", "flac", _written("FLAC", "PCM_16")),
        ("FLAC 24", "flac", _written("FLAC", "PCM_24")),
        ("Ogg Vorbis", "ogg", _written("OGG", "VORBIS")),
        ("MP3", "mp3", _written("MP3", "MPEG_LAYER_III")),
    ]
    if shutil.which("ffmpeg"):
        made.append(("Ogg Opus", "opus", _coded("opus")))
    return tuple(Specimen(name=n, suffix=s, kind="stream", data=data) for n, s, data in made)
