"""Drums and hand percussion: every hit a stereo sound with the room it was played in."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from audit.demo.sound import (
    Mono,
    Samples,
    band,
    fade,
    fall,
    frames_of,
    in_room,
    noise,
    oscillate,
    placed,
    scaled,
    seeded,
    times,
    wave_of,
)

VELOCITY_STEPS = 8
TAKES = 3
"""Different recordings of one drum, so that a roll is no machine gun."""


def _swept(
    rate_hz: int, start_hz: float, end_hz: float, sweep_s: float, length_s: float, t60_s: float
) -> Mono:
    """A drum head: a sine that falls from one pitch to another."""
    frames = frames_of(length_s, rate_hz)
    t = times(frames, rate_hz)
    freq = end_hz + (start_hz - end_hz) * np.exp(-t / sweep_s)
    sine = np.sin(2 * np.pi * np.cumsum(freq) / rate_hz).astype(np.float32)
    return sine * fall(frames, rate_hz, t60_s)


def _burst(
    rate_hz: int, low_hz: float, high_hz: float | None, length_s: float, t60_s: float, *seed: object
) -> Mono:
    frames = frames_of(length_s, rate_hz)
    return band(noise(frames, *seed), rate_hz, low_hz, high_hz) * fall(frames, rate_hz, t60_s)


def _bright_square(freq_hz: float, rate_hz: int) -> Mono:
    return wave_of(
        freq_hz, rate_hz, lambda f: np.where(f > 2000, (np.round(f / freq_hz) % 2) * freq_hz / f, 0.0)
    )


def _metal(rate_hz: int, length_s: float, t60_s: float, low_hz: float, *seed: object) -> Mono:
    """Cymbal metal: inharmonic square-like tones inside bright noise, up to the Nyquist frequency."""
    frames = frames_of(length_s, rate_hz)
    random = seeded("metal", *seed)
    ring = np.zeros(frames, dtype=np.float32)
    for mode_hz in (317.0, 421.3, 539.9, 688.1, 811.7, 1052.3):
        freq = mode_hz * random.uniform(0.99, 1.01)
        ring += oscillate(_bright_square(freq, rate_hz), freq, frames, rate_hz, phase=random.uniform())
    hiss = band(noise(frames, "hiss", *seed), rate_hz, low_hz, None, 3) * fall(frames, rate_hz, t60_s)
    quick = band(noise(frames, "stick", *seed), rate_hz, 3000, None) * fall(frames, rate_hz, t60_s / 6)
    tones = band(ring, rate_hz, low_hz, None) * fall(frames, rate_hz, t60_s)
    return scaled(tones, 0.6) + hiss + scaled(quick, 0.5)


def _kick(rate_hz: int, velocity: float, take: int) -> Mono:
    body = _swept(rate_hz, 165, 49, 0.022, 0.5, 0.42)
    beater = np.zeros_like(body)
    tick = _burst(rate_hz, 1800, 7000, 0.03, 0.012, "beater", take)
    beater[: tick.size] = tick
    return scaled(np.tanh((body + beater * np.float32(0.12 + 0.2 * velocity)) * np.float32(1.5)), 0.85)


def _snare(rate_hz: int, velocity: float, take: int) -> Mono:
    head = _swept(rate_hz, 260, 188, 0.01, 0.4, 0.19) + _swept(
        rate_hz, 420, 331, 0.008, 0.4, 0.12
    ) * np.float32(0.5)
    wires = _burst(rate_hz, 1400, 15000, 0.4, 0.14 + 0.12 * velocity, "wires", take)
    return scaled(head * np.float32(0.55) + wires, 0.16 + 0.22 * velocity)


def _rim(rate_hz: int, velocity: float, take: int) -> Mono:
    wood = _swept(rate_hz, 1780, 1720, 0.01, 0.12, 0.05) + _swept(rate_hz, 490, 470, 0.01, 0.12, 0.07)
    wood[: frames_of(0.02, rate_hz)] += _burst(rate_hz, 3000, 12000, 0.02, 0.01, "rim", take) * np.float32(
        0.3
    )
    return scaled(wood, 0.5)


def _tom(start_hz: float, end_hz: float, rate_hz: int, take: int) -> Mono:
    head = _swept(rate_hz, start_hz, end_hz, 0.05, 0.9, 0.55)
    head[: frames_of(0.05, rate_hz)] += _burst(
        rate_hz, 900, 6000, 0.05, 0.03, "tom", end_hz, take
    ) * np.float32(0.14)
    return scaled(head, 0.9)


def _shaker(rate_hz: int, velocity: float, take: int) -> Mono:
    frames = frames_of(0.14, rate_hz)
    t = times(frames, rate_hz)
    swell = (np.sin(np.pi * np.clip(t / 0.12, 0, 1)) ** 1.5 * np.exp(-t / 0.06)).astype(np.float32)
    return scaled(band(noise(frames, "shaker", take), rate_hz, 4500, 16000) * swell, 0.5)


def _conga(rate_hz: int, pitch_hz: float, velocity: float, take: int) -> Mono:
    head = _swept(rate_hz, pitch_hz * 1.18, pitch_hz, 0.012, 0.45, 0.3)
    head[: frames_of(0.03, rate_hz)] += _burst(rate_hz, 1200, 7000, 0.03, 0.012, "hand", take) * np.float32(
        0.25 * velocity
    )
    return scaled(head, 0.7)


def _tambourine(rate_hz: int, take: int) -> Mono:
    return scaled(_metal(rate_hz, 0.35, 0.2, 6500, "jingles", take), 0.3)


@lru_cache(maxsize=256)
def _hit(sound: str, step: int, take: int, rate_hz: int) -> Samples:
    velocity = step / VELOCITY_STEPS
    hits: dict[str, Callable[[], Samples]] = {
        "kick": lambda: placed(_kick(rate_hz, velocity, take), 0.0),
        "snare": lambda: placed(_snare(rate_hz, velocity, take), -0.08),
        "rim": lambda: placed(_rim(rate_hz, velocity, take), -0.1),
        "hat": lambda: placed(_metal(rate_hz, 0.12, 0.075, 6000, "hat", take) * np.float32(0.26), 0.35),
        "open hat": lambda: placed(_metal(rate_hz, 0.7, 0.55, 5500, "open", take) * np.float32(0.24), 0.35),
        "ride": lambda: placed(_metal(rate_hz, 1.6, 1.3, 4200, "ride", take) * np.float32(0.17), -0.45),
        "crash": lambda: placed(_metal(rate_hz, 3.0, 2.4, 3200, "crash left", take) * np.float32(0.22), -0.6)
        + placed(_metal(rate_hz, 3.0, 2.2, 3400, "crash right", take) * np.float32(0.16), 0.5),
        "high tom": lambda: placed(_tom(190, 132, rate_hz, take), 0.3),
        "mid tom": lambda: placed(_tom(150, 104, rate_hz, take), -0.05),
        "low tom": lambda: placed(_tom(112, 76, rate_hz, take), -0.4),
        "shaker": lambda: placed(_shaker(rate_hz, velocity, take), 0.3),
        "tambourine": lambda: placed(_tambourine(rate_hz, take), -0.3),
        "high conga": lambda: placed(_conga(rate_hz, 318, velocity, take), 0.15),
        "low conga": lambda: placed(_conga(rate_hz, 232, velocity, take), -0.2),
    }  # fmt: skip
    dry = scaled(hits[sound](), velocity**1.4)
    for side in (0, 1):
        dry[:, side] = fade(dry[:, side], rate_hz, 0.0003, 0.01)
    return in_room(dry, rate_hz, t60_s=0.3, level=0.10 if sound in ("kick", "hat") else 0.16)


def hit(sound: str, velocity: float, number: int, rate_hz: int) -> Samples:
    """One hit of a drum, in stereo. velocity 0 to 1; number: which of the part's hits this is."""
    step = min(max(round(velocity * VELOCITY_STEPS), 1), VELOCITY_STEPS)
    return _hit(sound, step, number % TAKES, rate_hz)
