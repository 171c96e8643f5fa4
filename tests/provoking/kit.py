"""What the provoking stems are made with: their table, oscillators, envelopes, a way to lay notes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests import signals
from tests.waves import Samples, Wave

RATE_HZ = 48_000
SECONDS = 8.0
BEAT_S = 0.5


@dataclass(frozen=True, kw_only=True)
class Provoking:
    """One stem. make: float32, shape (frames, channels)."""

    name: str
    reason: str
    make: Callable[[], Samples]


_made: list[Provoking] = []


def entered() -> tuple[Provoking, ...]:
    """All stems so far, in the order of their files."""
    return tuple(_made)


def provokes(reason: str) -> Callable[[Callable[[], Wave]], Callable[[], Wave]]:
    """Enter a stem into the table; it is brought to a peak of 0.6 and to 24 bits."""

    def enter(play: Callable[[], Wave]) -> Callable[[], Wave]:
        def make() -> Samples:
            wave = np.asarray(play(), dtype=np.float64)
            wide = wave if wave.ndim == 2 else wave[:, None]
            return signals.quantise((wide * 0.6 / np.abs(wide).max()).astype(np.float32), 24)

        _made.append(Provoking(name=play.__name__.replace("_", " "), reason=reason, make=make))
        return play

    return enter


def time(seconds: float = SECONDS) -> Wave:
    return np.arange(round(seconds * RATE_HZ)) / RATE_HZ


def rng(seed: int) -> np.random.Generator:
    return np.random.default_rng(seed)


def hz(midi: float) -> float:
    return float(440.0 * 2 ** ((midi - 69) / 12))


def lay(events: list[tuple[float, Wave]], seconds: float = SECONDS) -> Wave:
    """Sounds added up, each from its second on."""
    line = np.zeros(round(seconds * RATE_HZ))
    for at_s, sound in events:
        begin = round(at_s * RATE_HZ)
        part = sound[: max(0, len(line) - begin)]
        line[begin : begin + len(part)] += part
    return line


def saw(freq: float | Wave, t: Wave) -> Wave:
    phase = np.cumsum(np.broadcast_to(freq, t.shape)) / RATE_HZ
    return 2.0 * (phase % 1.0) - 1.0


def square(freq: float, t: Wave, duty: float | Wave = 0.5) -> Wave:
    return np.where(t * freq % 1.0 < duty, 1.0, -1.0)


def rich(freq: float, t: Wave, partials: int = 20, tilt: float = 1.0) -> Wave:
    count = min(partials, int(20_000 / freq))
    return sum((np.sin(2 * np.pi * freq * k * t + k * k) / k**tilt for k in range(1, count + 1)), 0.0 * t)


def chord(notes: tuple[int, ...], t: Wave, partials: int = 12) -> Wave:
    return sum((rich(hz(note), t, partials, 1.3) for note in notes), 0.0 * t)


def band(wave: Wave, low_hz: float, high_hz: float) -> Wave:
    spectrum = np.fft.rfft(wave)
    freq = np.fft.rfftfreq(len(wave), 1 / RATE_HZ)
    cut = np.clip((freq - low_hz) / (0.2 * low_hz + 1) + 1, 0, 1) * np.clip((high_hz - freq) / 500 + 1, 0, 1)
    return np.fft.irfft(spectrum * cut, n=len(wave))


def ends(t: Wave, attack_s: float, release_s: float) -> Wave:
    """Straight fades at both ends of a note."""
    return np.clip(np.minimum(t / max(attack_s, 1e-9), (t[-1] - t) / max(release_s, 1e-9)), 0.0, 1.0)


def pad(notes: tuple[int, ...] = (48, 55, 60, 64)) -> Wave:
    t = time()
    return chord(notes, t) * ends(t, 0.4, 0.6)
