"""Instruments that hold a note: pad, string section, brass, lead synth. Stereo where several play at once."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from audit.demo.sound import (
    Array,
    Mono,
    Samples,
    band,
    fade,
    frames_of,
    noise,
    oscillate,
    pitch_hz,
    scaled,
    seeded,
    times,
    vibrato,
    wave_of,
)


def _ensemble(
    pitch: int, frames: int, rate_hz: int, wave: Mono, *, name: str, voices: int, spread_cents: float,
    swing_cents: float,
) -> Samples:  # fmt: skip
    """Several players on each side, each with own tuning, vibrato and phase."""
    random = seeded(name, pitch)
    sides = []
    for side in (0, 1):
        total = np.zeros(frames, dtype=np.float32)
        for player in range(voices):
            freq = pitch_hz(pitch + random.normal(0, spread_cents / 100))
            bent = vibrato(
                freq,
                frames,
                rate_hz,
                cents=swing_cents,
                speed_hz=5.2,
                after_s=0.1,
                seed=(name, pitch, side, player),
            )
            total += oscillate(wave, bent, frames, rate_hz, phase=random.uniform())
        sides.append(total * np.float32(1 / np.sqrt(voices)))
    return np.stack(sides, axis=1)


def _shaped(sound: Samples, rate_hz: int, attack_s: float, release_s: float) -> Samples:
    return np.stack([fade(sound[:, side], rate_hz, attack_s, release_s) for side in (0, 1)], axis=1)


@lru_cache(maxsize=96)
def pad(pitch: int, length_s: float, rate_hz: int) -> Samples:
    """Detuned saws that open slowly, like a low-pass filter turned by hand."""
    frames = frames_of(length_s + 0.9, rate_hz)
    freq = pitch_hz(pitch)

    def colour(cutoff_hz: float) -> Mono:
        return wave_of(freq, rate_hz, lambda f: freq / f / (1 + (f / cutoff_hz) ** 2) ** 0.9, phase_seed=3)

    dark = _ensemble(pitch, frames, rate_hz, colour(700), name="pad", voices=2, spread_cents=6, swing_cents=2)
    bright = _ensemble(
        pitch, frames, rate_hz, colour(4500), name="air", voices=1, spread_cents=8, swing_cents=3
    )
    opening = (0.25 + 0.35 * np.sin(np.pi * np.arange(frames) / frames)).astype(np.float32)[:, None]
    mixed = dark * (1 - opening) + bright * opening
    return scaled(_shaped(mixed, rate_hz, min(0.5, length_s / 2), 0.9), 0.35)


@lru_cache(maxsize=96)
def strings(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Samples:
    """A section: saws through the resonances of a wooden body, with bow noise."""
    frames = frames_of(length_s + 0.45, rate_hz)
    freq = pitch_hz(pitch)

    def body(f: Array) -> Array:
        bumps = 1 + 1.4 * np.exp(-(((f - 480) / 180) ** 2)) + 1.8 * np.exp(-(((f - 2600) / 900) ** 2))
        return freq / f * bumps / (1 + (f / (3000 + 5000 * velocity)) ** 2) ** 0.7

    wave = wave_of(freq, rate_hz, body, phase_seed=5)
    sound = _ensemble(pitch, frames, rate_hz, wave, name="strings", voices=3, spread_cents=7, swing_cents=14)
    for side in (0, 1):
        sound[:, side] += band(noise(frames, "bow", pitch, side), rate_hz, 2500, 14000, 1) * np.float32(0.012)
    return scaled(_shaped(sound, rate_hz, min(0.16, length_s / 3), 0.42), 0.25 * velocity)


def _horn(freq_hz: float, cutoff_hz: float, rate_hz: int) -> Mono:
    return wave_of(freq_hz, rate_hz, lambda f: (freq_hz / f) ** 0.8 / (1 + (f / cutoff_hz) ** 2.5))


@lru_cache(maxsize=96)
def brass(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Samples:
    """A section whose brightness follows its loudness; the pitch is scooped up from below."""
    frames = frames_of(length_s + 0.12, rate_hz)
    t = times(frames, rate_hz)
    random = seeded("brass", pitch)
    swell = 1 - np.exp(-t / 0.045)
    swell *= 0.72 + 0.28 * np.exp(-t / 0.25)
    sides = []
    for _ in (0, 1):
        total = np.zeros(frames, dtype=np.float32)
        for _ in range(2):
            freq = pitch_hz(pitch + random.normal(0, 0.05))
            bent = freq * 2 ** (-0.6 * np.exp(-t / 0.03) / 12)
            soft, hard = _horn(freq, 900, rate_hz), _horn(freq, 2500 + 3500 * velocity, rate_hz)
            phase = random.uniform()
            edge = (swell**2 * velocity).astype(np.float32)
            total += oscillate(soft, bent, frames, rate_hz, phase=phase) * (1 - edge)
            total += oscillate(hard, bent, frames, rate_hz, phase=phase) * edge
        sides.append(total * swell.astype(np.float32))
    return scaled(_shaped(np.stack(sides, axis=1), rate_hz, 0.008, 0.1), 0.3 * velocity)


@lru_cache(maxsize=96)
def lead_synth(pitch: int, length_s: float, velocity: float, rate_hz: int) -> Mono:
    """A single voice between saw and square, with late vibrato."""
    frames = frames_of(length_s + 0.15, rate_hz)
    freq = pitch_hz(pitch)
    bent = vibrato(freq, frames, rate_hz, cents=16, speed_hz=5.6, after_s=0.25, seed=("lead", pitch))
    wave = wave_of(
        freq, rate_hz, lambda f: freq / f * (0.6 + 0.4 * (np.round(f / freq) % 2)) / (1 + (f / 5200) ** 2)
    )
    return scaled(fade(oscillate(wave, bent, frames, rate_hz), rate_hz, 0.006, 0.14), 0.35 * velocity)
