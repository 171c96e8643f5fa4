"""Full-band stems: instruments whose energy reaches past 16 kHz, made at any sample rate, for what a codec or
a resampler cuts off.

    STEMS                            (name, kind, take) of all
    full_band(name, rate_hz, seed)   one of them, float32, shape (frames, 2)

Each stem is made at the rate asked for, with energy up to half of it. Every other take has gone through a
converter's anti-alias filter: flat to 0.4535 of the rate and 100 dB down at 0.5465, the half-band kind that
converters' data sheets show [memory]. Between 16 and 20 kHz all lie within 50 dB of the whole stem
(tests/test_full_band.py).
"""

from __future__ import annotations

import zlib
from collections.abc import Callable

import numpy as np

from tests.waves import Samples

Wave = np.ndarray
SECONDS = 8.0
TAKES = 3


def _bursts(rng: np.random.Generator, frames: int, rate: int, step_s: float, tau_s: float) -> Wave:
    """An envelope of decays at even steps, with human levels."""
    shape = np.zeros(frames)
    for at in np.arange(0.0, frames / rate - step_s, step_s):
        first = round((at + rng.uniform(0, 0.004)) * rate)
        t = np.arange(min(frames - first, round(6 * tau_s * rate))) / rate
        shape[first : first + len(t)] += rng.uniform(0.4, 1.0) * np.exp(-t / tau_s)
    return shape


def _white(rng: np.random.Generator, frames: int) -> Wave:
    return rng.standard_normal((frames, 2))


def _tilted(rng: np.random.Generator, frames: int, rate: int, low_hz: float, db_per_octave: float) -> Wave:
    """Noise from `low_hz` on that falls (or rises) by so many dB an octave above it."""
    freq = np.maximum(np.fft.rfftfreq(frames, 1 / rate), 1.0)
    gain = np.where(freq < low_hz, (freq / low_hz) ** 4, (freq / low_hz) ** (db_per_octave / 6.02))
    return np.fft.irfft(np.fft.rfft(_white(rng, frames), axis=0) * gain[:, None], n=frames, axis=0)


def _partials(frames: int, rate: int, freqs: Wave, levels: Wave, phases: Wave) -> Wave:
    """Sines below half the rate, added up by their spectrum."""
    wave = np.zeros(frames)
    t = np.arange(frames) / rate
    for freq, level, phase in zip(freqs, levels, phases, strict=True):
        if freq < rate / 2:
            wave += level * np.sin(2 * np.pi * freq * t + phase)
    return wave


TABLE = 65_536
"""Points of a period: read between them in straight lines, 200 partials err by −87 dB, (π·200/65536)²/2."""


def _saw(rng: np.random.Generator, frames: int, rate: int, freq: float, tilt: float = 1.0) -> Wave:
    """A band-limited saw with slow vibrato, both sides a little apart: partials up to half the rate."""
    spectrum = np.zeros(TABLE // 2 + 1, dtype=complex)
    partials = np.arange(1, int(rate / 2 / freq / 1.01))
    spectrum[partials] = -0.5j * TABLE / partials**tilt
    period = np.append(np.fft.irfft(spectrum, n=TABLE), 0.0)
    t = np.arange(frames) / rate
    sides = []
    for side in range(2):
        turn = freq * (t + 0.0008 * np.sin(2 * np.pi * rng.uniform(3, 6) * t + side) / 6) + side / 6
        sides.append(np.interp(turn % 1.0 * TABLE, np.arange(TABLE + 1), period))
    return np.stack(sides, axis=1)


def drum_kit(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    t = np.arange(frames) / rate
    beat = 60 / rng.uniform(80, 140)
    kick = np.sin(2 * np.pi * (50 * t)) * _bursts(rng, frames, rate, beat, 0.08)
    snare = _tilted(rng, frames, rate, 200, -3) * _bursts(rng, frames, rate, 2 * beat, 0.07)[:, None]
    cymbal = _tilted(rng, frames, rate, 3000, -2) * _bursts(rng, frames, rate, 4 * beat, 0.9)[:, None]
    return kick[:, None] + 0.4 * snare + 0.2 * cymbal


def hats(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    step = 30 / rng.uniform(80, 140)
    return _tilted(rng, frames, rate, 6000, -1) * _bursts(rng, frames, rate, step, 0.04)[:, None]


def shaker(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    step = 15 / rng.uniform(80, 140)
    swell = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(frames) / rate / step)
    return _tilted(rng, frames, rate, 4000, -6) * swell[:, None] ** 2


def tambourine(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    freqs = rng.uniform(4000, 21_000, 60)
    ring = _partials(frames, rate, freqs, rng.uniform(0.2, 1, 60), rng.uniform(0, 6, 60))
    shape = _bursts(rng, frames, rate, 60 / rng.uniform(80, 140), 0.12)
    return (ring[:, None] + 3 * _tilted(rng, frames, rate, 5000, -3)) * shape[:, None]


def riser(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    return _white(rng, frames) * np.linspace(0.001, 1, frames)[:, None] ** rng.uniform(1, 3)


def supersaw(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    root = rng.uniform(110, 220)
    return sum((_saw(rng, frames, rate, root * r) for r in (1, 1.2599, 1.4983)), np.zeros((frames, 2)))


def distorted_guitar(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    chord = _saw(rng, frames, rate, rng.uniform(80, 120), 1.2) + _saw(rng, frames, rate, 165.0, 1.2)
    strum = 0.2 + _bursts(rng, frames, rate, 0.5, 0.3)[:, None]
    return np.tanh(4 * chord * strum) + 0.003 * _white(rng, frames)


def lead_vocal(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    voice = _saw(rng, frames, rate, rng.uniform(150, 280), 1.6)
    phrase = np.clip(np.sin(2 * np.pi * np.arange(frames) / rate / 2.1), 0, 1)[:, None]
    hiss = _tilted(rng, frames, rate, 5000, -4) * _bursts(rng, frames, rate, 0.7, 0.06)[:, None]
    return phrase * (voice + 0.02 * _tilted(rng, frames, rate, 3000, -4)) + 0.3 * hiss


def acoustic_guitar(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    shape = _bursts(rng, frames, rate, 0.3, 0.35)[:, None]
    pick = _tilted(rng, frames, rate, 2500, -5) * _bursts(rng, frames, rate, 0.3, 0.015)[:, None]
    return shape * _saw(rng, frames, rate, rng.uniform(100, 200), 1.4) + 0.2 * pick


def strings(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    swell = (0.6 + 0.4 * np.sin(2 * np.pi * np.arange(frames) / rate / 3))[:, None]
    return swell * (
        _saw(rng, frames, rate, rng.uniform(200, 400), 1.3) + 0.05 * _tilted(rng, frames, rate, 2000, -3)
    )


def claps(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    return _tilted(rng, frames, rate, 1200, -5) * _bursts(rng, frames, rate, 1.0, 0.05)[:, None]


def vinyl_loop(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    crackle = (rng.random((frames, 2)) < 3e-4) * rng.standard_normal((frames, 2))
    return 0.3 * drum_kit(rng, frames, rate) + crackle + 0.003 * _white(rng, frames)


def brass(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    shape = np.clip(_bursts(rng, frames, rate, 0.8, 0.4), 0, 1)[:, None]
    return np.tanh(2 * shape * _saw(rng, frames, rate, rng.uniform(180, 300), 1.1))


def piano(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    shape = _bursts(rng, frames, rate, 0.5, 0.4)[:, None]
    hammer = _tilted(rng, frames, rate, 1500, -4) * _bursts(rng, frames, rate, 0.5, 0.01)[:, None]
    return shape * _saw(rng, frames, rate, rng.uniform(130, 260), 1.8) + 0.5 * hammer


def band(rng: np.random.Generator, frames: int, rate: int) -> Wave:
    parts = [make(rng, frames, rate) for make in (drum_kit, strings, lead_vocal, shaker)]
    return sum((part / np.abs(part).max() for part in parts), np.zeros((frames, 2)))


KINDS: tuple[Callable[[np.random.Generator, int, int], Wave], ...] = (
    drum_kit, hats, shaker, tambourine, riser, supersaw, distorted_guitar, lead_vocal, acoustic_guitar,
    strings, claps, vinyl_loop, brass, piano, band,
)  # fmt: skip

STEMS: tuple[str, ...] = tuple(f"{make.__name__} {take}" for make in KINDS for take in range(TAKES))


def full_band(name: str, rate_hz: int = 48_000, *, seed: int = 11, peak: float = 0.5) -> Samples:
    """The stem of this name. The same name, rate and seed give the same samples."""
    kind, take = name.rsplit(" ", 1)
    make = next(make for make in KINDS if make.__name__ == kind)
    rng = np.random.default_rng((seed, zlib.crc32(name.encode())))
    if int(take) % 2:
        wide = make(rng, round(2 * SECONDS * rate_hz), 2 * rate_hz)
        wave = _converted(wide)
    else:
        wave = make(rng, round(SECONDS * rate_hz), rate_hz)
    return np.ascontiguousarray(wave * (peak / np.abs(wave).max()), dtype=np.float32)


def _converted(wide: Wave) -> Wave:
    """Every other sample behind a converter's filter (a Kaiser window of 100 dB, half-band)."""
    from scipy.signal import firwin, kaiserord, upfirdn

    taps, beta = kaiserord(100.0, 0.093)
    return upfirdn(firwin(taps | 1, 0.5, window=("kaiser", beta)), wide, down=2, axis=0)[: len(wide) // 2]
