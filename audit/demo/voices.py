"""Voices by formants: singers, choir, and the guide that counts and calls the sections.

Formant centres are of the order given in textbooks of phonetics for adult speakers (from memory); nothing
depends on their exact values.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from audit.demo.sound import (
    Array,
    Mono,
    Samples,
    add_at,
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

VOWELS: dict[str, tuple[float, float, float]] = {
    "ah": (730, 1140, 2550),
    "oh": (500, 900, 2500),
    "oo": (330, 870, 2300),
    "ee": (290, 2250, 2950),
    "eh": (560, 1800, 2600),
    "er": (490, 1350, 1750),
    "uh": (620, 1200, 2550),
    "n": (260, 1200, 2400),
    "l": (360, 1050, 2700),
    "w": (300, 640, 2200),
    "r": (320, 1060, 1500),
}
HISSES: dict[str, tuple[float, float]] = {
    "s": (5200, 11000), "f": (1500, 9500), "t": (3500, 9000), "k": (1600, 3800), "th": (1800, 8500),
    "ch": (2300, 7000),
}  # fmt: skip
WORDS: dict[str, str] = {
    "one": "w uh n", "two": "t oo", "three": "th r ee", "four": "f oh r", "five": "f ah ee",
    "six": "s ee k s", "seven": "s eh w eh n", "intro": "ee n t r oh", "verse": "w er s",
    "chorus": "k oh r uh s", "bridge": "w r ee ch", "solo": "s oh l oh",
    "outro": "ah oo t r oh", "end": "eh n t",
}  # fmt: skip
COUNT = ("one", "two", "three", "four", "five", "six", "seven")


def _resonance(f: Array, formants: tuple[float, float, float]) -> Array:
    """How a mouth in this position colours a partial at f hertz."""
    total = np.full_like(f, 0.02)
    for centre, width, level in zip(formants, (90, 130, 190), (1.0, 0.55, 0.3), strict=True):
        total += level / (1 + ((f - centre) / width) ** 2)
    return total


def _voiced(freq_hz: float, rate_hz: int, sound: str, tilt: float = 0.9) -> Mono:
    return wave_of(
        freq_hz, rate_hz, lambda f: (freq_hz / f) ** tilt * _resonance(f, VOWELS[sound]), phase_seed=11
    )


@lru_cache(maxsize=256)
def singer(
    pitch: int, length_s: float, velocity: float, vowels: tuple[str, str], onset: str, rate_hz: int
) -> Mono:
    """One sung syllable: a consonant, a vowel that turns into another, vibrato on long notes, breath."""
    frames = frames_of(length_s + 0.14, rate_hz)
    freq = pitch_hz(pitch)
    bent = vibrato(freq, frames, rate_hz, cents=28, speed_hz=5.4, after_s=0.3, seed=("singer", pitch, vowels))
    bent = bent * 2 ** (-0.5 * np.exp(-times(frames, rate_hz) / 0.04) / 12)
    turn = (0.5 - 0.5 * np.cos(np.pi * np.clip(times(frames, rate_hz) / max(length_s, 0.05), 0, 1))).astype(
        np.float32
    )
    first, second = (oscillate(_voiced(freq, rate_hz, v), bent, frames, rate_hz) for v in vowels)
    sound = first * (1 - turn) + second * turn
    breath = band(noise(frames, "breath", pitch, onset), rate_hz, 3000, 15000, 1) * np.float32(0.012)
    sound = fade(sound + breath, rate_hz, 0.035, 0.12)
    if onset:
        count = frames_of(0.06, rate_hz)
        hiss = band(noise(count, "onset", onset), rate_hz, *HISSES[onset]) * np.float32(0.12)
        sound[:count] += fade(hiss, rate_hz, 0.012, 0.03)[: sound.size]
    return scaled(sound, velocity)


@lru_cache(maxsize=96)
def voices(pitch: int, length_s: float, velocity: float, vowel: str, singers: int, rate_hz: int) -> Samples:
    """Several singers on each side holding one vowel."""
    frames = frames_of(length_s + 0.5, rate_hz)
    random = seeded("voices", pitch, vowel)
    sides = []
    for side in (0, 1):
        total = band(noise(frames, "air", pitch, side), rate_hz, 2500, 15000, 1) * np.float32(0.01)
        for number in range(singers):
            freq = pitch_hz(pitch + random.normal(0, 0.07))
            bent = vibrato(
                freq, frames, rate_hz, cents=18, speed_hz=5.0, after_s=0.15, seed=(pitch, side, number)
            )
            total += oscillate(
                _voiced(pitch_hz(pitch), rate_hz, vowel), bent, frames, rate_hz, phase=random.uniform()
            )
        sides.append(fade(total, rate_hz, min(0.14, length_s / 3), 0.48))
    return scaled(np.stack(sides, axis=1), velocity / np.sqrt(singers))


@lru_cache(maxsize=64)
def spoken(word: str, rate_hz: int) -> Mono:
    """A word as a plain speaking voice says it: sounds of 70 to 150 ms that melt into one another."""
    sounds = WORDS[word].split()
    lengths = [
        0.055 if sound in ("t", "k") else 0.08 if sound in (*HISSES, "w", "r", "l", "n") else 0.15
        for sound in sounds
    ]
    melt = 0.03
    frames = frames_of(sum(lengths) + 2 * melt, rate_hz)
    t = times(frames, rate_hz)
    pitch = 128 - 22 * t / t[-1]
    spoken_word = np.zeros((frames, 1), dtype=np.float32)
    at = 0.0
    for sound, length in zip(sounds, lengths, strict=True):
        start, count = frames_of(at, rate_hz), frames_of(length + melt, rate_hz)
        if sound in HISSES:
            piece = band(noise(count, word, sound), rate_hz, *HISSES[sound]) * np.float32(0.11)
        else:
            # One phase for the whole word: the sounds cross-fade without beating.
            phase = float(np.sum(pitch[:start]) / rate_hz)
            level = np.float32(0.5 if sound in ("n", "l", "w", "r") else 1.0)
            piece = oscillate(
                _voiced(115.0, rate_hz, sound, 0.7), pitch[start : start + count], count, rate_hz, phase=phase
            )
            piece = piece * level
        add_at(spoken_word, fade(piece, rate_hz, melt, melt), start)
        at += length
    return scaled(spoken_word[:, 0], 0.9)
