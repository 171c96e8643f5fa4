"""Planters: deterministic test signals. Each returns `(samples, truth)`.

samples: float32, shape (frames, channels), full scale 1.0. truth: what was planted and where. The sounds of a
song (drums, click, speech …) are in `tests/instruments.py`, timecode in `tests/ltc.py`; both are also
reachable from here, so that a test needs one import.

    silence sine sines square saw triangle noise    plain signals
    clip dc dropout fade quantise turn              faults and changes planted into a signal
    music_bed clicks speech drums hats shaker arp staccato_bass beeps     from tests/instruments.py
    timecode                                        from tests/ltc.py
"""

from __future__ import annotations

import math

import numpy as np

from tests.instruments import (
    arp,
    beeps,
    clicks,
    drums,
    hats,
    join,
    music_bed,
    shaker,
    speech,
    staccato_bass,
)
from tests.ltc import timecode
from tests.waves import Planted, Samples, Truth, as_samples, frames_of

__all__ = [
    "Planted", "Samples", "Truth", "arp", "as_samples", "beeps", "clicks", "clip", "dc", "dropout", "drums",
    "fade", "frames_of", "hats", "join", "music_bed", "noise", "quantise", "saw", "shaker", "silence", "sine",
    "sines", "speech", "square", "staccato_bass", "timecode", "triangle", "turn",
]  # fmt: skip


def silence(seconds: float, *, rate_hz: int = 48_000, channels: int = 1) -> Planted:
    """Exact zeros."""
    return np.zeros((frames_of(seconds, rate_hz), channels), np.float32), Truth(rate_hz=rate_hz)


def sine(
    freq_hz: float,
    seconds: float,
    *,
    rate_hz: int = 48_000,
    peak: float = 0.5,
    phase_deg: float = 0.0,
    channels: int = 1,
) -> Planted:
    """A steady sine. truth: peak, rms (of whole periods)."""
    t = np.arange(frames_of(seconds, rate_hz)) / rate_hz
    wave = peak * np.sin(2 * np.pi * freq_hz * t + math.radians(phase_deg))
    return as_samples(wave, channels), Truth(
        rate_hz=rate_hz, values={"peak": peak, "rms": peak / math.sqrt(2), "freq_hz": freq_hz}
    )


def sines(
    freqs_hz: tuple[float, ...],
    seconds: float,
    *,
    rate_hz: int = 48_000,
    peak: float = 0.5,
    channels: int = 1,
) -> Planted:
    """Equal sines added up and brought to `peak`."""
    t = np.arange(frames_of(seconds, rate_hz)) / rate_hz
    wave = sum((np.sin(2 * np.pi * f * t + i) for i, f in enumerate(freqs_hz)), np.zeros(len(t)))
    wave *= peak / np.abs(wave).max()
    return as_samples(wave, channels), Truth(rate_hz=rate_hz, values={"peak": peak})


def square(
    freq_hz: float, seconds: float, *, rate_hz: int = 48_000, peak: float = 0.5, duty: float = 0.5
) -> Planted:
    """A naive square or pulse, as chip synthesisers make it: every sample at +peak or −peak."""
    phase = np.arange(frames_of(seconds, rate_hz)) * freq_hz / rate_hz % 1.0
    return as_samples(np.where(phase < duty, peak, -peak)), Truth(rate_hz=rate_hz, values={"peak": peak})


def saw(freq_hz: float, seconds: float, *, rate_hz: int = 48_000, peak: float = 0.5) -> Planted:
    """A naive sawtooth."""
    phase = np.arange(frames_of(seconds, rate_hz)) * freq_hz / rate_hz % 1.0
    return as_samples(peak * (2 * phase - 1)), Truth(rate_hz=rate_hz, values={"peak": peak})


def triangle(freq_hz: float, seconds: float, *, rate_hz: int = 48_000, peak: float = 0.5) -> Planted:
    """A naive triangle: corners at the top, but never two samples of one value."""
    phase = np.arange(frames_of(seconds, rate_hz)) * freq_hz / rate_hz % 1.0
    return as_samples(peak * (4 * np.abs(phase - 0.5) - 1)), Truth(rate_hz=rate_hz, values={"peak": peak})


def noise(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    rms: float = 0.1,
    channels: int = 1,
    seed: int = 1,
    low_hz: float | None = None,
    high_hz: float | None = None,
) -> Planted:
    """Gaussian noise, independent on every channel, white or cut to a band (in the spectrum: brick walls)."""
    frames = frames_of(seconds, rate_hz)
    wave = np.random.default_rng(seed).standard_normal((frames, channels))
    if low_hz is not None or high_hz is not None:
        spectrum = np.fft.rfft(wave, axis=0)
        freq = np.fft.rfftfreq(frames, 1 / rate_hz)
        keep = (freq >= (low_hz or 0.0)) & (freq <= (high_hz or rate_hz))
        wave = np.fft.irfft(spectrum * keep[:, None], n=frames, axis=0)
    wave *= rms / np.sqrt(np.mean(wave**2, axis=0))
    return as_samples(wave), Truth(rate_hz=rate_hz, values={"rms": rms})


def turn(samples: Samples, gain_db: float) -> Samples:
    """The same audio turned up or down."""
    return np.ascontiguousarray(samples * np.float32(10 ** (gain_db / 20)))


def clip(samples: Samples, over_db: float, *, rate_hz: int = 48_000, level: float = 1.0) -> Planted:
    """Turned up so that the peak would reach `over_db` above `level`, then cut off at ±level.

    truth.at_frames: the first frame of each run of three and more clipped samples (any channel), in order;
    values: runs (of 3 and more), long_runs (of 10 and more), longest, clipped (samples).
    """
    wave = samples.astype(np.float64)
    wave *= level * 10 ** (over_db / 20) / np.abs(wave).max()
    runs: list[tuple[int, int]] = []
    for channel in wave.T:
        for sign in (1, -1):
            hit = np.concatenate(([False], sign * channel >= level, [False]))
            edges = np.flatnonzero(hit[1:] != hit[:-1])
            runs += list(zip(edges[::2].tolist(), (edges[1::2] - edges[::2]).tolist(), strict=True))
    counted = sorted(run for run in runs if run[1] >= 3)
    return as_samples(np.clip(wave, -level, level)), Truth(
        rate_hz=rate_hz,
        at_frames=tuple(start for start, _ in counted),
        values={
            "runs": len(counted),
            "long_runs": sum(length >= 10 for _, length in counted),
            "longest": max((length for _, length in counted), default=0),
            "clipped": sum(length for _, length in runs),
        },
    )


def dc(samples: Samples, offset: float, *, rate_hz: int = 48_000) -> Planted:
    """A constant added to every channel."""
    return samples + np.float32(offset), Truth(rate_hz=rate_hz, values={"offset": offset})


def dropout(samples: Samples, at_frame: int, frames: int, *, rate_hz: int = 48_000) -> Planted:
    """A hole of exact zeros."""
    holed = samples.copy()
    holed[at_frame : at_frame + frames] = 0.0
    return holed, Truth(rate_hz=rate_hz, at_frames=(at_frame,), values={"frames": frames})


def fade(samples: Samples, seconds: float, *, rate_hz: int = 48_000) -> Samples:
    """Faded in and out linearly."""
    frames = min(frames_of(seconds, rate_hz), len(samples) // 2)
    gain = np.ones(len(samples))
    ramp = np.linspace(0.0, 1.0, frames, endpoint=False)
    gain[:frames], gain[len(samples) - frames :] = ramp, ramp[::-1]
    return np.ascontiguousarray(samples * gain[:, None], dtype=np.float32)


def quantise(samples: Samples, bits: int, *, dither: bool = False, seed: int = 5) -> Samples:
    """Rounded to PCM codes of `bits` bits, −2^(n−1) … 2^(n−1) − 1, with TPDF dither where asked for."""
    scale = 2.0 ** (bits - 1)
    codes = samples.astype(np.float64) * scale
    if dither:
        rng = np.random.default_rng(seed)
        codes = codes + rng.random(codes.shape) - rng.random(codes.shape)
    return np.ascontiguousarray(np.clip(np.round(codes), -scale, scale - 1) / scale, dtype=np.float32)
