"""What only the band hears: click sounds. And what announces a section to the audience: rise and impact."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np

from audit.demo.sound import Mono, Samples, band, fade, fall, frames_of, in_room, noise, scaled, times

CLICK_LEVELS_DB = {"beep": -12.0, "woodblock": -5.5, "tick": -8.5}
"""Peak of an accented click, so that a song's click is equally loud whatever its sound."""


@lru_cache(maxsize=32)
def click(sound: str, accent: bool, rate_hz: int) -> Mono:
    """One click; it begins at its first frame. Peak about 1.0 with accent, 0.7 without."""
    if sound == "beep":
        frames = frames_of(0.035, rate_hz)
        tone = np.sin(2 * np.pi * (1760 if accent else 1320) * times(frames, rate_hz)).astype(np.float32)
        shaped = fade(tone, rate_hz, 0.0005, 0.02)
    elif sound == "woodblock":
        frames = frames_of(0.08, rate_hz)
        freq = 2350 if accent else 1780
        t = times(frames, rate_hz)
        modes = np.sin(2 * np.pi * freq * t) + 0.4 * np.sin(2 * np.pi * freq * 1.83 * t)
        shaped = fade(modes.astype(np.float32) * fall(frames, rate_hz, 0.06), rate_hz, 0.0003, 0.02)
    else:
        frames = frames_of(0.07, rate_hz)
        hiss = band(noise(frames, "tick", accent), rate_hz, 3000 if accent else 2000, 9000)
        shaped = fade(np.tanh(3 * hiss) * fall(frames, rate_hz, 0.07), rate_hz, 0.0003, 0.008)
    return scaled(shaped / np.abs(shaped).max(), 1.0 if accent else 0.7)


@lru_cache(maxsize=16)
def rise(length_s: float, rate_hz: int) -> Samples:
    """Noise that climbs through the spectrum for `length_s`; it ends with a short fade."""
    frames = frames_of(length_s, rate_hz)
    climb = np.arange(frames) / frames
    edges = (300, 700, 1600, 3600, 8000, 17000)
    sides = []
    for side in (0, 1):
        total = np.zeros(frames, dtype=np.float32)
        for number, (low, high) in enumerate(pairwise(edges)):
            weight = np.exp(-(((climb * 4.6 - number) / 0.9) ** 2))
            total += band(noise(frames, "rise", side, number), rate_hz, low, high) * weight.astype(np.float32)
        total *= (climb**1.6).astype(np.float32)
        sides.append(fade(total, rate_hz, 0.1, 0.03))
    return scaled(np.stack(sides, axis=1), 0.4)


@lru_cache(maxsize=8)
def impact(rate_hz: int) -> Samples:
    """A low boom with debris above it."""
    frames = frames_of(2.0, rate_hz)
    t = times(frames, rate_hz)
    freq = 42 + 50 * np.exp(-t / 0.08)
    boom = np.sin(2 * np.pi * np.cumsum(freq) / rate_hz).astype(np.float32) * fall(frames, rate_hz, 1.5)
    sides = [
        fade(boom * np.float32(0.7) + band(noise(frames, "debris", side), rate_hz, 700, 12000, 1)
             * fall(frames, rate_hz, 0.9) * np.float32(0.12), rate_hz, 0.002, 0.2)
        for side in (0, 1)
    ]  # fmt: skip
    return in_room(np.stack(sides, axis=1), rate_hz, t60_s=1.0, level=0.2)
