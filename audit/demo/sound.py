"""The workshop every instrument shares: oscillators, envelopes, noise, filters, echoes. Pure and seeded.

Mono: float32, shape (frames,). Samples: float32, shape (frames, channels). Full scale 1.0.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Mono = NDArray[np.float32]
Samples = NDArray[np.float32]
Array = NDArray[np.floating[Any]]

TABLE = 4096
CEILING_HZ = 19_500.0
"""Pitched sounds have no partial above this; cymbals and noise go up to the Nyquist frequency."""


def seeded(*words: object) -> np.random.Generator:
    """A random generator that depends on the words and on nothing else."""
    return np.random.default_rng(zlib.crc32("/".join(map(str, words)).encode()))


def pitch_hz(midi: float) -> float:
    """Equal temperament, A4 = 69 = 440 Hz."""
    return float(440.0 * 2.0 ** ((midi - 69) / 12))


def scaled(sound: Samples, gain: float) -> Samples:
    """The sound made louder or softer; its type and shape stay."""
    return np.asarray(sound * np.float32(gain), dtype=np.float32)


def frames_of(seconds: float, rate_hz: int) -> int:
    return round(seconds * rate_hz)


def times(frames: int, rate_hz: int) -> Array:
    """Seconds of every frame."""
    return np.arange(frames) / rate_hz


def fall(frames: int, rate_hz: int, t60_s: float) -> Mono:
    """Exponential decay from 1.0 that loses 60 dB in `t60_s`."""
    return np.asarray(np.exp(times(frames, rate_hz) * (-6.9078 / t60_s)), dtype=np.float32)


def fade(sound: Mono, rate_hz: int, attack_s: float, release_s: float) -> Mono:
    """The sound with raised-cosine ends, so that neither starts nor ends with a step."""
    shaped: Mono = sound.copy()
    for seconds, place in ((attack_s, slice(None)), (release_s, slice(None, None, -1))):
        count = min(max(frames_of(seconds, rate_hz), 1), sound.size)
        ramp = 0.5 - 0.5 * np.cos(np.pi * np.arange(count) / count)
        view = shaped[place]
        view[:count] *= ramp.astype(np.float32)
    return shaped


@lru_cache(maxsize=512)
def _table(amplitudes: tuple[float, ...], phase_seed: int) -> Mono:
    spectrum = np.zeros(TABLE // 2 + 1, dtype=np.complex128)
    count = min(len(amplitudes), TABLE // 2 - 1)
    phases = np.zeros(count)
    if phase_seed:
        phases = np.random.default_rng(phase_seed).uniform(0, 2 * np.pi, count)
    spectrum[1 : count + 1] = -0.5j * TABLE * np.array(amplitudes[:count]) * np.exp(1j * phases)
    wave = np.fft.irfft(spectrum)
    return np.append(wave, wave[0]).astype(np.float32)


def wave_of(freq_hz: float, rate_hz: int, level: Callable[[Array], Array], *, phase_seed: int = 0) -> Mono:
    """One period of a tone whose partial at f hertz has the amplitude `level(f)`; none above the ceiling.

    phase_seed: 0 gives sine phases (an attack at the very start), others scatter them (a softer crest).
    """
    top = min(CEILING_HZ, 0.44 * rate_hz)
    partials = freq_hz * np.arange(1, max(int(top / freq_hz), 1) + 1)
    return _table(tuple(np.round(level(partials), 7).tolist()), phase_seed)


def oscillate(wave: Mono, freq_hz: float | Array, frames: int, rate_hz: int, *, phase: float = 0.0) -> Mono:
    """The wave read at a steady pitch, or at one that moves (one value a frame). phase: in periods."""
    turns: Array
    if isinstance(freq_hz, np.ndarray):
        turns = phase + np.cumsum(freq_hz) / rate_hz
    else:
        turns = phase + np.arange(frames) * (freq_hz / rate_hz)
    place = (turns - np.floor(turns)) * TABLE
    whole = place.astype(np.int32)
    part = (place - whole).astype(np.float32)
    here = wave[whole]
    return here + (wave[whole + 1] - here) * part


def vibrato(freq_hz: float, frames: int, rate_hz: int, *, cents: float, speed_hz: float, after_s: float,
            seed: object) -> Array:  # fmt: skip
    """A pitch that begins straight and then swings; every seed swings a little differently."""
    random = seeded("vibrato", seed)
    speed = speed_hz * random.uniform(0.94, 1.06)
    start = random.uniform(0, 2 * np.pi)
    # A swing of five a second needs no value for every frame.
    every = 64
    coarse = np.arange(0, frames + every, every) / rate_hz
    depth = cents * np.clip((coarse - after_s) / 0.35, 0.0, 1.0)
    bent = freq_hz * 2.0 ** (depth * np.sin(2 * np.pi * speed * coarse + start) / 1200)
    return np.interp(np.arange(frames), np.arange(coarse.size) * every, bent)


def noise(frames: int, *seed: object) -> Mono:
    """White Gaussian noise of RMS 1.0."""
    return seeded("noise", *seed).standard_normal(frames, dtype=np.float32)


def band(sound: Mono, rate_hz: int, low_hz: float | None, high_hz: float | None, order: int = 2) -> Mono:
    """Butterworth band-pass, high-pass or low-pass of a mono sound."""
    from scipy.signal import sosfilt

    return np.asarray(sosfilt(_sections(rate_hz, low_hz, high_hz, order), sound), dtype=np.float32)


@lru_cache(maxsize=256)  # a drum's filters are asked for with every stroke
def _sections(rate_hz: int, low_hz: float | None, high_hz: float | None, order: int) -> Array:
    from scipy.signal import butter

    top = 0.47 * rate_hz
    if low_hz is not None and high_hz is not None:
        return np.asarray(butter(order, [low_hz, min(high_hz, top)], "bandpass", fs=rate_hz, output="sos"))
    if low_hz is not None:
        return np.asarray(butter(order, low_hz, "highpass", fs=rate_hz, output="sos"))
    return np.asarray(butter(order, min(high_hz or top, top), "lowpass", fs=rate_hz, output="sos"))


def placed(sound: Mono, pan: float) -> Samples:
    """A mono sound in the stereo picture, constant power; pan −1 left … 1 right."""
    angle = (pan + 1) * np.pi / 4
    return np.stack([scaled(sound, np.cos(angle)), scaled(sound, np.sin(angle))], axis=1)


def add_at(bus: Samples, sound: Samples | Mono, frame: int, gain: float = 1.0) -> None:
    """Mix a sound into the bus; what lies outside the bus is dropped."""
    if sound.ndim == 1:
        sound = sound[:, None]
    start, end = max(frame, 0), min(frame + len(sound), len(bus))
    if end > start:
        bus[start:end] += sound[start - frame : end - frame] * np.float32(gain)


def echoed(bus: Samples, rate_hz: int, delay_s: float, feedback: float, level: float) -> Samples:
    """A stereo delay whose repeats change sides and die away below −60 dB."""
    wet: Samples = bus.copy()
    tap = bus[:, ::-1] * np.float32(level)
    step = frames_of(delay_s, rate_hz)
    repeats = int(np.ceil(np.log(1e-3 / level) / np.log(feedback))) if level > 1e-3 else 0
    for number in range(1, repeats + 1):
        if number * step >= len(bus):
            break
        wet[number * step :] += tap[: len(bus) - number * step]
        tap = tap[:, ::-1] * np.float32(feedback)
    return wet


@lru_cache(maxsize=16)
def _room(rate_hz: int, t60_s: float, seed: int) -> Samples:
    frames = frames_of(t60_s * 1.2, rate_hz)
    sides = [band(noise(frames, "room", side, seed), rate_hz, 180, 9000, 1) for side in (0, 1)]
    tail = np.stack(sides, axis=1) * fall(frames, rate_hz, t60_s)[:, None]
    tail[: frames_of(0.004, rate_hz)] = 0.0
    ends = fade(np.ones(frames, np.float32), rate_hz, 0.004, t60_s * 0.2)
    return np.asarray(tail * ends[:, None] / np.sqrt(np.sum(tail[:, 0] ** 2)), dtype=np.float32)


def in_room(sound: Samples, rate_hz: int, *, t60_s: float, level: float, seed: int = 1) -> Samples:
    """A stereo sound with the room around it; longer than the sound by the room's decay."""
    from scipy.signal import oaconvolve

    room = _room(rate_hz, t60_s, seed)
    out = np.zeros((len(sound) + len(room) - 1, 2), dtype=np.float32)
    out[: len(sound)] = sound
    for side in (0, 1):
        out[:, side] += np.float32(level) * oaconvolve(sound[:, side], room[:, side])
    return out


def driven(bus: Samples, amount: float) -> Samples:
    """Gentle, symmetric saturation: no DC, no corner that a clip detector could take for clipping."""
    return scaled(np.tanh(bus * np.float32(amount)), 1.0 / np.tanh(amount))


def trembled(bus: Samples, rate_hz: int, speed_hz: float, depth: float, *, opposed: bool) -> Samples:
    """Slow swinging of the level: both sides together, or against each other (a rotating speaker)."""
    t = times(len(bus), rate_hz)
    swing = (depth * np.sin(2 * np.pi * speed_hz * t)).astype(np.float32)
    moved: Samples = bus.copy()
    moved[:, 0] *= 1 + swing
    moved[:, 1] *= 1 - swing if opposed else 1 + swing
    return moved
