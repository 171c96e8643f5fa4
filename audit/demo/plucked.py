"""Strings that are plucked or struck: basses, electric guitar, electric piano, piano."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from audit.demo.sound import (
    Mono,
    band,
    fade,
    fall,
    frames_of,
    noise,
    oscillate,
    pitch_hz,
    scaled,
    seeded,
    times,
    wave_of,
)


@lru_cache(maxsize=256)
def bass(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Mono:
    """A finger-played bass: FM whose index falls with the string, a finger's thump before it."""
    frames = frames_of(length_s + 0.12, rate_hz)
    turns = 2 * np.pi * pitch_hz(pitch) * times(frames, rate_hz)
    growl = fall(frames, rate_hz, 0.5) * np.float32(0.7 + 1.3 * velocity) + np.float32(0.25)
    sound = np.sin(turns + growl * np.sin(turns)).astype(np.float32) * fall(frames, rate_hz, 3.2)
    sound += np.sin(2 * turns).astype(np.float32) * fall(frames, rate_hz, 1.0) * np.float32(0.25)
    thump = frames_of(0.03, rate_hz)
    sound[:thump] += (
        band(noise(thump, "finger", pitch), rate_hz, 500, 3500) * fall(thump, rate_hz, 0.02) * np.float32(0.1)
    )
    return scaled(fade(sound, rate_hz, 0.002, 0.11), velocity)


@lru_cache(maxsize=512)
def guitar_string(pitch: int, length_s: float, velocity: float, take: int, rate_hz: int) -> Mono:
    """One string, plucked: Karplus and Strong's loop, a period at a time, then tuned by a tiny resampling.

    Source: K. Karplus, A. Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer Music
    Journal 7(2), 1983 (from memory).
    """
    frames = frames_of(length_s + 0.15, rate_hz)
    exact = rate_hz / pitch_hz(pitch) - 0.5  # the averaging of two neighbours delays by half a sample
    period = round(exact)
    pluck = band(noise(period * 2, "pluck", pitch, take), rate_hz, None, 2500 + 6500 * velocity)[period:]
    pluck = pluck - pluck.mean()
    pluck /= np.abs(pluck).max()
    string = np.empty(frames + 2 * period, dtype=np.float32)
    string[:period] = pluck
    damping = np.float32(10 ** (-3 * period / rate_hz / 2.8))
    before = np.float32(0.0)
    for at in range(period, string.size, period):
        last = string[at - period : at]
        shifted = np.concatenate([[before], last[:-1]])
        before = last[-1]
        count = min(period, string.size - at)
        string[at : at + count] = (damping * (0.5 * last + 0.5 * shifted))[:count]
    places = np.arange(frames) * ((period + 0.5) / (exact + 0.5))
    tuned = np.interp(places, np.arange(string.size), string).astype(np.float32)
    return scaled(fade(tuned, rate_hz, 0.0006, 0.14), velocity)


@lru_cache(maxsize=256)
def electric_piano(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Mono:
    """FM: a soft body and a short bright tine."""
    frames = frames_of(length_s + 0.2, rate_hz)
    freq = pitch_hz(pitch)
    turns = 2 * np.pi * freq * times(frames, rate_hz)
    body_index = fall(frames, rate_hz, 1.4) * np.float32(0.4 + 1.2 * velocity)
    sound = np.sin(turns + body_index * np.sin(turns)).astype(np.float32)
    if freq * 15 < 0.4 * rate_hz:
        tine_index = fall(frames, rate_hz, 0.35) * np.float32(0.5 * velocity)
        sound += np.sin(turns + tine_index * np.sin(14 * turns)).astype(np.float32) * np.float32(0.5)
    return scaled(fade(sound * fall(frames, rate_hz, 3.5), rate_hz, 0.002, 0.18), 0.6 * velocity)


@lru_cache(maxsize=256)
def piano(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Mono:
    """Additive, slightly inharmonic partials that decay the faster the higher they are, and the hammer."""
    frames = frames_of(length_s + 0.3, rate_hz)
    freq = pitch_hz(pitch)
    t = times(frames, rate_hz)
    random = seeded("piano", pitch)
    sound = np.zeros(frames, dtype=np.float32)
    stiffness = 2.2e-4 * 2 ** ((pitch - 60) / 12)
    for number in range(1, 15):
        partial = number * freq * np.sqrt(1 + stiffness * number**2)
        if partial > min(0.44 * rate_hz, 16000):
            break
        level = number ** -(1.9 - 0.8 * velocity) * abs(np.sin(np.pi * number / 7.5)) ** 0.4
        t60 = 6.0 * 2 ** (-(pitch - 48) / 18) / (1 + 0.35 * (number - 1))
        sine = np.sin(2 * np.pi * partial * t + random.uniform(0, 2 * np.pi)).astype(np.float32)
        sound += sine * fall(frames, rate_hz, t60) * np.float32(level)
    knock = frames_of(0.04, rate_hz)
    sound[:knock] += (
        band(noise(knock, "hammer", pitch), rate_hz, 300, 5000)
        * fall(knock, rate_hz, 0.03)
        * np.float32(0.12 * velocity)
    )
    return scaled(fade(sound, rate_hz, 0.0015, 0.28), 0.45 * velocity)


@lru_cache(maxsize=256)
def organ(pitch: int, length_s: float, rate_hz: int) -> Mono:
    """Nine drawbars and a key click."""
    frames = frames_of(length_s + 0.05, rate_hz)
    freq = pitch_hz(pitch)
    drawbars = {1: 0.8, 2: 0.7, 3: 0.8, 4: 0.5, 6: 0.3, 8: 0.28, 10: 0.16, 12: 0.12, 16: 0.14}
    wave = wave_of(
        freq / 2,
        rate_hz,
        lambda f: np.array([drawbars.get(round(p / freq * 2), 0.0) for p in f]),
        phase_seed=7,
    )
    sound = oscillate(wave, freq / 2, frames, rate_hz) * np.float32(0.3)
    tick = frames_of(0.006, rate_hz)
    sound[:tick] += band(noise(tick, "key", pitch), rate_hz, 1500, 6000) * np.float32(0.06)
    return fade(sound, rate_hz, 0.004, 0.04)
