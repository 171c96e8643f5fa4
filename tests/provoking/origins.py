"""Stems that seem to come from elsewhere: filtered, band-limited, crushed, noisy, wide."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy import signal

from tests import signals
from tests.full_band import full_band
from tests.provoking.kit import RATE_HZ, lay, provokes, saw, time
from tests.waves import Wave


def _low_passed(name: str, edge_hz: float, order: int) -> Callable[[], Wave]:
    """A full-band stem through a Butterworth filter of 6 dB an octave for each order."""

    def play() -> Wave:
        sections = signal.butter(order, edge_hz, fs=RATE_HZ, output="sos")
        return np.asarray(signal.sosfilt(sections, full_band(name), axis=0))

    play.__name__ = f"{name.split()[0]}_below_{edge_hz:.0f}_Hz_by_{6 * order}_dB"
    return play


for _name in ("supersaw 1", "hats 0", "band 0"):
    for _edge_hz, _order in ((11_000, 4), (15_500, 8), (16_000, 16), (18_000, 16), (20_000, 8)):
        provokes("a musician's filter is no codec's")(_low_passed(_name, _edge_hz, _order))


def _wavetable(freqs_hz: tuple[float, ...], count: int) -> Wave:
    """Notes of half a second, each of so many partials at most."""
    t = time(0.5)
    notes = []
    for index in range(14):
        freq = freqs_hz[index % len(freqs_hz)]
        most = min(count, int(0.45 * RATE_HZ / freq))
        note = sum((np.sin(2 * np.pi * freq * k * t) / k for k in range(1, most + 1)), 0.0 * t)
        notes.append((0.5 * index, note * np.minimum(1.0, (0.5 - t) / 0.01)))
    return lay(notes)


@provokes("each note ends at its own last partial")
def wavetable_melody() -> Wave:
    return _wavetable((220.0, 247.0, 262.0, 294.0, 330.0, 196.0), 64)


@provokes("a spectrum that ends at a note's last partial, and only that")
def wavetable_drone() -> Wave:
    return _wavetable((131.0,), 128)


@provokes("partials up to 7 kHz and nothing above")
def additive_bass() -> Wave:
    return _wavetable((55.0, 65.4, 49.0, 73.4), 128)


@provokes("a filter's edge that moves")
def filter_sweep() -> Wave:
    wave = saw(110.0, time())
    out, state = np.zeros(len(wave)), np.zeros((2, 2))
    for start in range(0, len(wave), 512):
        edge_hz = 300.0 + 9_000.0 * (0.5 + 0.5 * np.sin(2 * np.pi * start / RATE_HZ / 3.0))
        sections = signal.butter(4, edge_hz, fs=RATE_HZ, output="sos")
        out[start : start + 512], state = signal.sosfilt(sections, wave[start : start + 512], zi=state)
    return out


@provokes("noise up to half the rate is no scrambled file")
def white_noise_riser() -> Wave:
    return full_band("riser 0").astype(float)


@provokes("steady loud noise is no scrambled file")
def steady_loud_noise() -> Wave:
    return signals.noise(6.0, rms=0.2, channels=2)[0].astype(float)


@provokes("flat on top by its own drive, not at one level")
def wall_of_distortion() -> Wave:
    return full_band("distorted_guitar 0").astype(float)


@provokes("sample and hold: images by design, at another rate than any file's")
def held_drums() -> Wave:
    wave = signals.drums(6.0)[0].astype(float)
    return np.repeat(wave[::5], 5, axis=0)[: len(wave)]


@provokes("the sides are apart by a swinging delay")
def chorus() -> Wave:
    left = full_band("strings 0")[:, 0].astype(float)
    t = np.arange(len(left))
    late = (5.0 + 2.0 * np.sin(2 * np.pi * 0.7 * t / RATE_HZ)) / 1000.0 * RATE_HZ
    return np.stack([left, np.interp(t - late, t, left)], axis=1)


@provokes("a tone is upside down half a period later")
def tone_a_quarter_apart() -> Wave:
    turn = 2 * np.pi * 500.0 * time()
    return np.stack([np.sin(turn), np.cos(turn)], axis=1)


@provokes("the same sample at even steps is its own image")
def sequenced_hats() -> Wave:
    return signals.hats(6.0, open_every=0)[0].astype(float)
