"""Instruments of the lab's human show: none of them is the demo's.

`sound(name, pitch, length_s, take, rate_hz)` gives one channel, float32; the note's own time is its
first sample, but for what speaks before it (see `LEAD_S`). They need not please: they have the attacks of
what they are called, from sticks (under a millisecond) to bows (a quarter second).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy.signal import butter, lfilter, sosfilt

Wave = np.ndarray

LEAD_S = {"shaker": 0.022, "voice": 0.035, "bowed": 0.08, "reeds": 0.01, "horns": 0.012}
"""By how much a player of it begins before the beat, so that it speaks on it."""


def _time(seconds: float, rate_hz: int) -> Wave:
    return np.arange(max(1, round(seconds * rate_hz))) / rate_hz


def _seeded(name: str, take: int) -> np.random.Generator:
    return np.random.default_rng([*name.encode(), take])


def _band(wave: Wave, rate_hz: int, low_hz: float, high_hz: float) -> Wave:
    high = min(high_hz, 0.45 * rate_hz)
    return sosfilt(butter(2, (low_hz, high), btype="bandpass", fs=rate_hz, output="sos"), wave)


def _freq(pitch: float) -> float:
    return 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)


def _partials(
    t: Wave, freq_hz: float, rate_hz: int, weights: list[float], decays_s: list[float], stretch: float = 0.0
) -> Wave:
    total = np.zeros_like(t)
    for k, (weight, decay) in enumerate(zip(weights, decays_s, strict=True), start=1):
        partial = freq_hz * k * np.sqrt(1.0 + stretch * k * k)
        if partial < 0.45 * rate_hz:
            total += weight * np.sin(2.0 * np.pi * partial * t + k) * np.exp(-t / decay)
    return total


def _rise(t: Wave, attack_s: float) -> Wave:
    return np.minimum(t / attack_s, 1.0)


def _kick(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(0.35, rate_hz)
    phase = 2.0 * np.pi * (52.0 * t + 4.0 * (1.0 - np.exp(-t / 0.018)))
    skin = np.sin(phase) * np.exp(-t / 0.11) * _rise(t, 0.003)
    beater = _band(_seeded("kick", take).standard_normal(len(t)), rate_hz, 1500, 5000) * np.exp(-t / 0.006)
    return skin + 0.25 * beater


def _snare(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(0.3, rate_hz)
    wires = _band(_seeded("snare", take).standard_normal(len(t)), rate_hz, 900, 9000)
    shell = np.sin(2 * np.pi * 205 * t) + 0.6 * np.sin(2 * np.pi * 331 * t)
    return 0.8 * wires * np.exp(-t / 0.07) * _rise(t, 0.0008) + 0.5 * shell * np.exp(-t / 0.05)


def _hat(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(0.4 if length_s > 0.2 else 0.09, rate_hz)
    metal = sum(np.sign(np.sin(2 * np.pi * f * t)) for f in (3137.0, 4211.0, 5503.0, 6907.0))
    hiss = _seeded("hat", take).standard_normal(len(t))
    return (
        0.3 * _band(metal + 2.0 * hiss, rate_hz, 6000, 14000) * np.exp(-t / (0.02 + 0.3 * (length_s > 0.2)))
    )


def _tom(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(0.5, rate_hz)
    tone = np.sin(2 * np.pi * (_freq(pitch) * t + 1.5 * (1 - np.exp(-t / 0.03))))
    stick = _band(_seeded("tom", take).standard_normal(len(t)), rate_hz, 800, 4000) * np.exp(-t / 0.008)
    return tone * np.exp(-t / 0.16) * _rise(t, 0.002) + 0.3 * stick


def _shaker(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """Beads slide for 20 ms before they hit."""
    t = _time(0.11, rate_hz)
    shape = np.where(t < 0.022, (t / 0.022) ** 2, np.exp(-(t - 0.022) / 0.025))
    return 0.5 * _band(_seeded("shaker", take).standard_normal(len(t)), rate_hz, 4000, 12000) * shape


def _conga(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(0.3, rate_hz)
    tone = np.sin(2 * np.pi * _freq(pitch) * t) + 0.4 * np.sin(2 * np.pi * 1.6 * _freq(pitch) * t)
    slap = _band(_seeded("conga", take).standard_normal(len(t)), rate_hz, 500, 3500) * np.exp(-t / 0.01)
    return tone * np.exp(-t / 0.07) * _rise(t, 0.0015) + 0.4 * slap


def _blip(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """A sequencer's pulse."""
    t = _time(0.09, rate_hz)
    return np.sign(np.sin(2 * np.pi * _freq(pitch) * t) + 0.2) * np.exp(-t / 0.03) * _rise(t, 0.001) * 0.5


def _fingered(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    t = _time(length_s + 0.05, rate_hz)
    tone = _partials(t, _freq(pitch), rate_hz, [1.0, 0.7, 0.4, 0.25, 0.1], [0.9, 0.6, 0.35, 0.2, 0.15])
    touch = _band(_seeded("finger", take).standard_normal(len(t)), rate_hz, 300, 1800) * np.exp(-t / 0.01)
    damped = np.minimum(1.0, np.maximum(0.0, (length_s + 0.05 - t) / 0.05))
    return (tone * _rise(t, 0.009) + 0.1 * touch) * damped


def _string(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """Plucked: a delay line with a low-pass in its loop (Karplus & Strong 1983)."""
    frames = max(1, round((length_s + 0.08) * rate_hz))
    period = max(2, round(rate_hz / _freq(pitch)))
    burst = np.zeros(frames)
    burst[:period] = _seeded("string", take).uniform(-1, 1, period)[: len(burst[:period])]
    burst = lfilter([0.6, 0.4], [1.0], burst)
    loop = np.zeros(period + 2)
    loop[0], loop[period], loop[period + 1] = 1.0, -0.4975, -0.4975
    tone = lfilter([1.0], loop, burst)
    fade = round(0.06 * rate_hz)
    if frames > fade:
        tone[-fade:] *= np.linspace(1, 0, fade)
    return 0.6 * tone


def _bars(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """A mallet on wooden bars."""
    t = _time(0.6, rate_hz)
    f = _freq(pitch)
    tone = np.sin(2 * np.pi * f * t) * np.exp(-t / 0.2) + 0.4 * np.sin(2 * np.pi * 3.9 * f * t) * np.exp(
        -t / 0.04
    )
    return tone * _rise(t, 0.0012)


def _upright(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """Hammered strings."""
    t = _time(length_s + 0.1, rate_hz)
    weights = [1.0, 0.6, 0.45, 0.3, 0.2, 0.15, 0.1]
    tone = _partials(t, _freq(pitch), rate_hz, weights, [1.2, 0.9, 0.7, 0.5, 0.3, 0.25, 0.2], 4e-4)
    felt = _band(_seeded("felt", take).standard_normal(len(t)), rate_hz, 200, 1200) * np.exp(-t / 0.012)
    return (tone * _rise(t, 0.003) + 0.15 * felt) * np.clip((length_s + 0.1 - t) / 0.1, 0, 1)


def _reeds(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """An accordion: 35 ms until it speaks."""
    t = _time(length_s, rate_hz)
    weights = [1 / k for k in range(1, 11)]
    tone = _partials(t, _freq(pitch), rate_hz, weights, [9.0] * 10)
    tone += _partials(t, _freq(pitch + 0.12), rate_hz, weights, [9.0] * 10)
    return 0.3 * tone * _rise(t, 0.035) * np.clip((length_s - t) / 0.04, 0, 1)


def _bowed(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """A section of strings that swells."""
    t = _time(length_s + 0.2, rate_hz)
    random = _seeded("bow", take)
    total = np.zeros_like(t)
    for _ in range(3):
        wobble = 0.003 * np.sin(2 * np.pi * random.uniform(4.5, 6.0) * t + random.uniform(0, 6))
        phase = 2 * np.pi * _freq(pitch + random.normal(0, 0.07)) * np.cumsum(1 + wobble) / rate_hz
        total += sum(np.sin(k * phase) / k for k in range(1, 7))
    return 0.25 * total * np.minimum(t / 0.22, 1.0) ** 1.5 * np.clip((length_s + 0.2 - t) / 0.2, 0, 1)


def _horns(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """Brightens as it speaks, within 30 ms."""
    t = _time(length_s, rate_hz)
    rise = _rise(t, 0.03)
    tone = sum(np.sin(2 * np.pi * k * _freq(pitch) * t) * rise ** (0.5 + 0.4 * k) / k for k in range(1, 9))
    return 0.4 * tone * np.clip((length_s - t) / 0.03, 0, 1)


def _voice(pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """A consonant, then a vowel that is scooped into."""
    t = _time(length_s + 0.05, rate_hz)
    random = _seeded("voice", take)
    scoop = -0.8 * np.exp(-t / 0.05) + 0.25 * np.sin(2 * np.pi * 5.3 * t) * np.minimum(t / 0.4, 1)
    phase = 2 * np.pi * np.cumsum(_freq(pitch + scoop)) / rate_hz
    source = sum(np.sin(k * phase) / k for k in range(1, 16))
    first = random.uniform(400, 800)
    vowel = _band(source, rate_hz, first * 0.7, first * 1.4) + 0.5 * _band(source, rate_hz, 1100, 2300)
    noise = _band(random.standard_normal(len(t)), rate_hz, 3000, 8000) * np.exp(-(((t - 0.015) / 0.012) ** 2))
    return (
        vowel * np.minimum(np.maximum(t - 0.025, 0) / 0.05, 1) * np.clip((length_s - t) / 0.06, 0, 1)
        + 0.3 * noise
    )


SOUNDS: dict[str, Callable[[float, float, int, int], Wave]] = {
    "kick": _kick, "snare": _snare, "hat": _hat, "tom": _tom, "shaker": _shaker, "conga": _conga,
    "blip": _blip, "fingered": _fingered, "string": _string, "bars": _bars, "upright": _upright,
    "reeds": _reeds, "bowed": _bowed, "horns": _horns, "voice": _voice,
}  # fmt: skip


@lru_cache(maxsize=2000)
def sound(name: str, pitch: float, length_s: float, take: int, rate_hz: int) -> Wave:
    """One note at full strength, float32, one channel. length_s: rounded by whoever wants few of them."""
    return SOUNDS[name](pitch, length_s, take, rate_hz).astype(np.float32)
