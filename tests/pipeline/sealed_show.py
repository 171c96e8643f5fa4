"""A small show with a steady click, sealed once, and copies of it to plant changes in."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from audit.folder.walk import walk
from audit.pipeline.scan import scan_show
from audit.pipeline.sealed.against_seal import verify_show
from audit.pipeline.sealed.sealing import make_seal
from audit.results import SealCheck
from audit.seal.model import Seal

RATE_HZ, SECONDS, BAR_S = 48_000, 16, 2.0
OLD_NS = 1_700_000_001_234_567_890
BASS, KEYS, PAD, SILENT = (
    "Night Ferry/Bass.wav",
    "Night Ferry/Keys.wav",
    "Night Ferry/Pad.wav",
    "Night Ferry/Strings.wav",
)
MONO, CAFE = "Night Ferry/E-Git.wav", "Café Lumière/Bass.wav"
LOOP, CHORDS = "Night Ferry/Loop.wav", "Night Ferry/Synth.wav"
LTC = "Night Ferry/Timecode.wav"

Wave = npt.NDArray[np.float64]


def music(seed: int, channels: int = 2) -> Wave:
    """Notes every half second, with a little noise; the sides differ. Shape (frames, channels)."""
    rng = np.random.default_rng(seed)
    wave = np.zeros(RATE_HZ * SECONDS)
    for beat in range(2 * SECONDS):
        start, freq_hz = beat * RATE_HZ // 2, 110.0 * 2.0 ** (rng.integers(0, 24) / 12.0)
        time_s = np.arange(min(len(wave) - start, int(0.7 * RATE_HZ))) / RATE_HZ
        wave[start : start + len(time_s)] += (
            rng.uniform(0.1, 0.25) * np.sin(2.0 * np.pi * freq_hz * time_s) * np.exp(-4.0 * time_s)
        )
    wave += 1e-4 * rng.standard_normal(len(wave))
    return np.stack([wave, 0.8 * np.roll(wave, 33)], axis=1)[:, :channels]


def loop(bars: int = 20) -> Wave:
    """Twenty bars to the sample alike, but for the noise of a played recording, and a last hit."""
    rng = np.random.default_rng(5)
    bar = music(80)[: int(BAR_S * RATE_HZ)]
    wave = np.tile(bar, (bars, 1))
    wave[-RATE_HZ // 2 :] = 1.5 * wave[: RATE_HZ // 2]
    return wave + 1e-5 * rng.standard_normal(wave.shape)


def chords() -> Wave:
    """Held tones, all of them equally loud from beginning to end."""
    time_s = np.arange(RATE_HZ * SECONDS) / RATE_HZ
    tones = [np.sin(2.0 * np.pi * freq_hz * time_s) for freq_hz in (220.0, 277.18, 329.63)]
    return 0.1 * np.stack([tones[0] + tones[1], tones[0] + tones[2]], axis=1)


def timecode() -> Wave:
    """As biphase mark code: a wave as high all the time, here of bits by chance."""
    bits = np.random.default_rng(8).integers(0, 2, SECONDS * 25 * 80)
    flips = np.stack([np.ones_like(bits), bits], axis=1).reshape(-1)
    levels = np.repeat(1.0 - 2.0 * (np.cumsum(flips) % 2), RATE_HZ // (25 * 80 * 2))
    return np.convolve(levels, [0.25, 0.5, 0.25], "same")[: RATE_HZ * SECONDS, None]


def click() -> Wave:
    """120 bpm in 4/4, the first beat of a bar higher."""
    wave = np.zeros((RATE_HZ * SECONDS, 1))
    time_s = np.arange(960) / RATE_HZ
    for beat in range(2 * SECONDS):
        freq_hz, peak = (2000.0, 0.6) if beat % 4 == 0 else (1200.0, 0.4)
        tick = peak * np.sin(2.0 * np.pi * freq_hz * time_s) * np.exp(-200.0 * time_s)
        wave[beat * RATE_HZ // 2 : beat * RATE_HZ // 2 + 960, 0] = tick
    return wave


def write(
    path: Path, wave: Wave, *, rate_hz: int = RATE_HZ, subtype: str = "PCM_24", format: str = "WAV"
) -> Path:
    """A file as a bounce leaves it: another file than the one that was there, saved later."""
    path.unlink(missing_ok=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(str(path), wave, rate_hz, subtype=subtype, format=format)
    os.utime(path, ns=(OLD_NS + 10**12, OLD_NS + 10**12))
    return path


def read(path: Path) -> Wave:
    return soundfile.read(str(path), always_2d=True)[0]


@dataclass(frozen=True)
class Sealed:
    """The show as it was sealed. Not to be changed: `copied` gives a copy."""

    path: Path
    seal: Seal

    def copied(self, to: Path) -> Path:
        """A copy whose files share their bytes with the original until they are replaced."""
        for path in self.path.rglob("*.wav"):
            target = to / path.relative_to(self.path)
            target.parent.mkdir(parents=True, exist_ok=True)
            os.link(path, target)
        return to

    def own(self, path: Path) -> Path:
        """The file as one that may be written to, with its time."""
        other = path.with_suffix(".tmp")
        shutil.copy2(path, other)
        other.replace(path)
        return path


def sealed_show(base: Path) -> Sealed:
    show = base / "Harbour Lights Tour"
    for seed, path in enumerate((BASS, KEYS, PAD, CAFE)):
        write(show / path, music(seed))
    write(show / MONO, music(7, channels=1))
    write(show / LOOP, loop())
    write(show / CHORDS, chords())
    write(show / LTC, 0.5 * timecode())
    write(show / SILENT, np.zeros((RATE_HZ * SECONDS, 2)))
    write(show / "Night Ferry" / "Click.wav", click())
    for path in show.rglob("*.wav"):
        os.utime(path, ns=(OLD_NS, OLD_NS))
    audit = scan_show(show, jobs=2)
    return Sealed(path=show, seal=make_seal(audit, sealed_at="2026-05-01T18:00:00+00:00", jobs=2))


def verified(sealed: Sealed, show: Path, *, quick: bool = False) -> SealCheck:
    check = verify_show(walk(show), sealed.seal, quick=quick, jobs=2).seal
    assert check is not None
    return check
