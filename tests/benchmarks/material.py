"""Five-minute stereo files to measure: a sparse stem, a dense loud mix, and the peak meter's worst case."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

RATE_HZ = 48_000
SECONDS = 300
BAR_S = 2.0
CHORDS_HZ = ((110.0, 164.81, 220.0, 277.18), (98.0, 146.83, 196.0, 246.94), (87.31, 130.81, 174.61, 220.0))


def write_material(folder: Path) -> list[Path]:
    """Writes 48 kHz / 24 bit WAV files; returns their paths."""
    files = []
    for name, samples in (
        ("sparse stem", sparse_stem()),
        ("dense mix", dense_mix()),
        ("clipped noise", noise()),
    ):
        file = folder / f"{name}.wav"
        soundfile.write(file, samples, RATE_HZ, subtype="PCM_24")
        files.append(file)
    return files


def sparse_stem() -> np.ndarray:
    """Plucked chords with rests, peaks near −6 dBFS."""
    wave = np.zeros((SECONDS * RATE_HZ, 2))
    _add_bars(wave, _chord_bars(decay_per_s=3.0), every=2)
    return 0.5 * wave / np.abs(wave).max()


def dense_mix() -> np.ndarray:
    """Chords, bass, drums with cymbals and a voice-like band, pushed 9 dB into a soft limiter."""
    rng = np.random.default_rng(11)
    wave = np.zeros((SECONDS * RATE_HZ, 2))
    _add_bars(wave, _chord_bars(decay_per_s=0.3))
    _add_bars(wave, [_drum_bar(rng) for _ in range(4)])
    _add_bars(wave, [_voice_bar(rng) for _ in range(5)])
    # Gain differs from bar to bar, so that the file's highest peak is not met at once.
    gains = np.repeat(rng.uniform(0.7, 1.0, SECONDS * 2), RATE_HZ // 2)[:, None]
    return 0.97 * np.tanh(2.8 * gains * wave / np.abs(wave).max())


def noise() -> np.ndarray:
    """Loud white noise through the same limiter: hardly a segment whose peak is not near the file's."""
    return 0.97 * np.tanh(np.random.default_rng(12).standard_normal((SECONDS * RATE_HZ, 2)))


def _add_bars(wave: np.ndarray, bars: list[np.ndarray], *, every: int = 1) -> None:
    length = round(BAR_S * RATE_HZ)
    for i, begin in enumerate(range(0, wave.shape[0] - length + 1, length * every)):
        wave[begin : begin + length] += bars[i % len(bars)]


def _time_s() -> np.ndarray:
    return np.arange(round(BAR_S * RATE_HZ)) / RATE_HZ


def _chord_bars(*, decay_per_s: float) -> list[np.ndarray]:
    """Notes of twelve partials that fall by 8 dB an octave, a little apart on the two sides."""
    time_s = _time_s()
    bars = []
    for chord in CHORDS_HZ:
        bar = np.zeros((time_s.size, 2))
        for note_hz in (chord[0] / 2.0, *chord):
            for partial in range(1, 13):
                freqs_hz = note_hz * partial * np.array((1.0, 1.001))
                bar += np.sin(2.0 * np.pi * freqs_hz * time_s[:, None] + partial) / partial**1.33
        bars.append(0.25 * bar * np.exp(-decay_per_s * time_s)[:, None])
    return bars


def _drum_bar(rng: np.random.Generator) -> np.ndarray:
    time_s = _time_s()
    bar = np.zeros((time_s.size, 2))
    for beat in range(4):
        since_s = np.maximum(time_s - beat * BAR_S / 4.0, 0.0)
        on = (time_s >= beat * BAR_S / 4.0)[:, None]
        kick = np.sin(2.0 * np.pi * (50.0 * since_s + 6.0 * (1.0 - np.exp(-30.0 * since_s)))) * np.exp(
            -9.0 * since_s
        )
        snare = rng.standard_normal((time_s.size, 2)) * np.exp(-18.0 * since_s)[:, None] * (beat % 2)
        hats = np.diff(rng.standard_normal((time_s.size + 1, 2)), axis=0) * np.exp(-40.0 * since_s)[:, None]
        bar += on * (1.2 * kick[:, None] + 0.25 * snare + 0.06 * hats)
    return bar


def _voice_bar(rng: np.random.Generator) -> np.ndarray:
    """A gliding tone with partials up to 4 kHz and a breath of noise."""
    time_s = _time_s()
    phase = (
        2.0 * np.pi * np.cumsum(rng.uniform(180.0, 320.0) * (1.0 + 0.01 * np.sin(35.0 * time_s))) / RATE_HZ
    )
    voice = sum(np.sin(k * phase) / k for k in range(1, 13)) * np.sin(np.pi * time_s / BAR_S)
    breath = 0.02 * rng.standard_normal(time_s.size)
    return np.repeat(0.5 * (np.asarray(voice) + breath)[:, None], 2, axis=1)
