"""The sounds of an invented song, synthesised: drums, click, speech … Each returns `(samples, truth)`.

They need not please; they have the onsets, decays, gaps and spectra that a measure can mistake for a fault or
for something else. truth.at_frames: where each event begins.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from tests.waves import Planted, Samples, Truth, Wave, as_samples, frames_of

ClickSound = Literal["beep", "woodblock", "cowbell", "tick"]


def _time(seconds: float, rate_hz: int) -> Wave:
    return np.arange(frames_of(seconds, rate_hz)) / rate_hz


def _decay(t: Wave, tau_s: float, attack_s: float = 0.001) -> Wave:
    return np.exp(-t / tau_s) * np.clip(t / attack_s, 0.0, 1.0)


def _band(wave: Wave, rate_hz: int, low_hz: float, high_hz: float) -> Wave:
    """Band-passed with soft edges in the spectrum."""
    freq = np.fft.rfftfreq(len(wave), 1 / rate_hz)
    shape = 1 / (1 + (low_hz / np.maximum(freq, 1e-3)) ** 8) / (1 + (freq / high_hz) ** 8)
    return np.fft.irfft(np.fft.rfft(wave) * shape, n=len(wave))


def _lay(events: list[tuple[float, Wave]], seconds: float, rate_hz: int) -> tuple[Wave, tuple[int, ...]]:
    """Events (second, wave) on an empty line; what would stick out at the end is cut."""
    frames = frames_of(seconds, rate_hz)
    line = np.zeros(frames)
    starts = []
    for at_s, wave in events:
        start = round(at_s * rate_hz)
        if start >= frames:
            continue
        part = wave[: frames - start]
        line[start : start + len(part)] += part
        starts.append(start)
    return line, tuple(sorted(starts))


def _planted(wave: Wave, starts: tuple[int, ...], rate_hz: int, peak: float, **values: float) -> Planted:
    top = np.abs(wave).max() if len(wave) else 0.0
    if top > 0.0:
        wave = wave * (peak / top)
    return as_samples(wave), Truth(rate_hz=rate_hz, at_frames=starts, values={"peak": peak, **values})


def click_sound(sound: ClickSound, *, accent: bool, rate_hz: int, subdivision: bool = False) -> Wave:
    """One click. Accents are higher and louder; subdivisions softer."""
    level = 1.0 if accent else 0.35 if subdivision else 0.7
    if sound == "beep":
        t = _time(0.03, rate_hz)
        wave = np.sin(2 * np.pi * (1600.0 if accent else 800.0) * t) * np.clip((0.03 - t) / 0.002, 0, 1)
    elif sound == "woodblock":
        t = _time(0.08, rate_hz)
        base = 1250.0 if accent else 940.0
        wave = _decay(t, 0.009) * (np.sin(2 * np.pi * base * t) + 0.5 * np.sin(2 * np.pi * base * 1.62 * t))
    elif sound == "cowbell":
        t = _time(0.12, rate_hz)
        base = 680.0 if accent else 540.0
        tones = sum(
            (np.sin(2 * np.pi * base * r * t) / (i + 1) for i, r in enumerate((1.0, 1.48, 2.7))), 0 * t
        )
        wave = _decay(t, 0.015) * tones
    else:
        t = _time(0.02, rate_hz)
        raw = np.random.default_rng(11 if accent else 12).standard_normal(len(t))
        wave = _band(raw, rate_hz, 2500.0, 6000.0) * _decay(t, 0.004)
    return level * wave / np.abs(wave).max()


def clicks(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    bpm: float = 120.0,
    end_bpm: float | None = None,
    beats_a_bar: int = 4,
    sound: ClickSound = "beep",
    accents: bool = True,
    subdivision: int = 1,
    peak: float = 0.5,
    start_s: float = 0.0,
) -> Planted:
    """A click track. truth.at_frames: every click; values: bpm, beats. `end_bpm`: a ramp."""
    events: list[tuple[float, Wave]] = []
    at_s, beat = start_s, 0
    while at_s < seconds:
        position = at_s / seconds
        here = bpm + ((end_bpm or bpm) - bpm) * position
        accent = accents and beat % beats_a_bar == 0
        events.append((at_s, click_sound(sound, accent=accent, rate_hz=rate_hz)))
        for i in range(1, subdivision):
            soft = click_sound(sound, accent=False, rate_hz=rate_hz, subdivision=True)
            events.append((at_s + i * 60 / here / subdivision, soft))
        at_s += 60 / here
        beat += 1
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm, beats=beat)


def drums(
    seconds: float, *, rate_hz: int = 48_000, bpm: float = 120.0, peak: float = 0.7, seed: int = 2
) -> Planted:
    """Kick, snare and hi-hat in a rock beat with human velocities."""
    rng = np.random.default_rng(seed)
    t = _time(0.5, rate_hz)
    kick = _decay(t, 0.09) * np.sin(2 * np.pi * (45 * t + 3.0 * (1 - np.exp(-t / 0.02))))
    snare = _decay(t, 0.07) * (0.5 * np.sin(2 * np.pi * 190 * t) + 0.4 * rng.standard_normal(len(t)))
    hat = _band(rng.standard_normal(len(t)), rate_hz, 6000, 15000) * _decay(t, 0.04)
    events: list[tuple[float, Wave]] = []
    eighth = 30 / bpm
    for i in range(int(seconds / eighth)):
        late = rng.normal(0.0, 0.004)
        at_s = max(0.0, i * eighth + late)
        events.append((at_s, 0.3 * rng.uniform(0.5, 1.0) * hat))
        if i % 8 in (0, 3, 4):
            events.append((at_s, rng.uniform(0.8, 1.0) * kick))
        if i % 8 in (2, 6):
            events.append((at_s, rng.uniform(0.8, 1.0) * snare))
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm)


def hats(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    bpm: float = 120.0,
    decay_s: float = 0.03,
    open_every: int = 8,
    peak: float = 0.4,
    seed: int = 3,
) -> Planted:
    """Machine hi-hats in eighths; every `open_every`-th rings (0: none does)."""
    rng = np.random.default_rng(seed)
    t = _time(0.6, rate_hz)
    hiss = _band(rng.standard_normal(len(t)), rate_hz, 6000, 15000)
    events = []
    for i in range(int(seconds / (30 / bpm))):
        ring = open_every and i % open_every == open_every - 1
        level = (1.0, 0.5, 0.8, 0.6)[i % 4]
        events.append((i * 30 / bpm, level * hiss * _decay(t, 0.15 if ring else decay_s)))
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm)


def shaker(
    seconds: float, *, rate_hz: int = 48_000, bpm: float = 120.0, peak: float = 0.3, seed: int = 4
) -> Planted:
    """Sixteenths of swelling noise."""
    rng = np.random.default_rng(seed)
    t = _time(15 / bpm, rate_hz)
    swell = np.sin(np.pi * t / t[-1]) ** 2
    events = [
        (
            i * 15 / bpm,
            rng.uniform(0.4, 1.0) * swell * _band(rng.standard_normal(len(t)), rate_hz, 4000, 12000),
        )
        for i in range(int(seconds / (15 / bpm)))
    ]
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm)


def _pulse(freq_hz: float, seconds: float, rate_hz: int, duty: float = 0.5) -> Wave:
    return np.where(_time(seconds, rate_hz) * freq_hz % 1.0 < duty, 1.0, -1.0)


def arp(
    seconds: float, *, rate_hz: int = 48_000, bpm: float = 120.0, gate: float = 0.5, peak: float = 0.4
) -> Planted:
    """A chip-tune arpeggio: naive squares in sixteenths, sounding for the share `gate` of each."""
    notes = [261.63, 329.63, 392.0, 523.25, 659.26, 523.25, 392.0, 329.63]
    step = 15 / bpm
    events = [
        (i * step, _pulse(notes[i % 8] * (1.0 if i // 32 % 2 else 0.89), gate * step, rate_hz))
        for i in range(int(seconds / step))
    ]
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm)


def staccato_bass(
    seconds: float, *, rate_hz: int = 48_000, bpm: float = 120.0, note_s: float = 0.07, peak: float = 0.6
) -> Planted:
    """Short, even bass notes in eighths over four roots."""
    roots = (55.0, 65.41, 49.0, 73.42)
    t = _time(note_s, rate_hz)
    shape = np.clip(np.minimum(t / 0.003, (note_s - t) / 0.005), 0.0, 1.0)
    events = []
    for i in range(int(seconds / (30 / bpm))):
        f = roots[i // 8 % 4]
        tone = sum((np.sin(2 * np.pi * f * k * t) / k for k in range(1, 8)), 0 * t)
        events.append((i * 30 / bpm, shape * tone))
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak, bpm=bpm)


def beeps(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    low_hz: float = 1200.0,
    high_hz: float = 2200.0,
    peak: float = 0.4,
) -> Planted:
    """Modem chatter: frequency-shift keying with continuous phase at 1200 bits a second."""
    rng = np.random.default_rng(6)
    frames = frames_of(seconds, rate_hz)
    bits = rng.integers(0, 2, frames * 1200 // rate_hz + 2)
    freq = np.where(bits[np.arange(frames) * 1200 // rate_hz] == 1, low_hz, high_hz)
    return _planted(np.sin(2 * np.pi * np.cumsum(freq) / rate_hz), (), rate_hz, peak)


def speech(
    seconds: float, *, rate_hz: int = 48_000, peak: float = 0.5, every_s: float = 0.5, seed: int = 7
) -> Planted:
    """A voice that counts: a glottal pulse train through moving formants, a hiss before each word."""
    rng = np.random.default_rng(seed)
    vowels = ((730, 1090, 2440), (300, 870, 2240), (270, 2290, 3010), (570, 840, 2410))
    events = []
    for i in range(int(seconds / every_s)):
        length = rng.uniform(0.2, 0.35)
        t = _time(length, rate_hz)
        pitch = 118 * (1.1 - 0.2 * t / length) * rng.uniform(0.95, 1.05)
        pulse = (np.diff(np.floor(np.cumsum(pitch) / rate_hz), prepend=0.0) > 0).astype(np.float64)
        voice = np.zeros(len(t))
        for k, formant in enumerate(vowels[i % 4]):
            ring = _time(0.02, rate_hz)
            kernel = np.exp(-ring * 350) * np.sin(2 * np.pi * formant * ring) / (k + 1)
            voice += np.convolve(pulse, kernel)[: len(t)]
        hiss = _band(rng.standard_normal(len(t)), rate_hz, 3500, 9000) * np.exp(-t / 0.02) * 0.2
        shape = np.clip(np.minimum(t / 0.03, (length - t) / 0.06), 0.0, 1.0)
        events.append((i * every_s, shape * voice + hiss))
    line, starts = _lay(events, seconds, rate_hz)
    return _planted(line, starts, rate_hz, peak)


def music_bed(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    peak: float = 0.5,
    channels: int = 2,
    bpm: float = 120.0,
    seed: int = 8,
) -> Planted:
    """A small band: drums, bass, chords and a melody, spread over the channels; fades in and out in 50 ms."""
    rng = np.random.default_rng(seed)
    bar = 240 / bpm
    t = _time(bar, rate_hz)
    chords = (
        (220.0, 261.63, 329.63),
        (174.61, 220.0, 261.63),
        (196.0, 246.94, 293.66),
        (164.81, 207.65, 246.94),
    )
    pad_events, tune_events = [], []
    for i in range(int(np.ceil(seconds / bar))):
        swell = np.clip(np.minimum(t / 0.05, (bar - t) / 0.08), 0.0, 1.0)
        tones = sum(
            (
                np.sin(2 * np.pi * f * k * t + rng.uniform(0, 6)) / k**1.5
                for f in chords[i % 4]
                for k in (1, 2, 3, 4)
            ),
            0 * t,
        )
        bass = sum((np.sin(2 * np.pi * chords[i % 4][0] / 4 * k * t) / k for k in (1, 2, 3)), 0 * t)
        pad_events.append((i * bar, swell * (0.25 * tones + 0.6 * bass)))
        for step in range(8):
            note = chords[i % 4][int(rng.integers(0, 3))] * 2
            tune_events.append(
                (i * bar + step * bar / 8, 0.3 * np.sin(2 * np.pi * note * t) * _decay(t, 0.25, 0.005))
            )
    pad, _ = _lay(pad_events, seconds, rate_hz)
    tune, _ = _lay(tune_events, seconds, rate_hz)
    beat, truth = drums(seconds, rate_hz=rate_hz, bpm=bpm, peak=1.2, seed=seed)
    spread = np.linspace(-0.5, 0.5, channels) if channels > 1 else np.zeros(1)
    mix = (
        pad[:, None]
        + beat.astype(np.float64)
        + tune[:, None] * (1 + spread)
        + 0.01 * rng.standard_normal((len(pad), channels))
    )
    edge = max(1, min(frames_of(0.05, rate_hz), len(mix) // 2))
    ramp = np.linspace(0.0, 1.0, edge)[:, None]
    mix[:edge] *= ramp
    mix[len(mix) - edge :] *= ramp[::-1]
    return _planted(mix, truth.at_frames, rate_hz, peak, bpm=bpm)


def join(*takes: Samples) -> Samples:
    """One after another."""
    return np.ascontiguousarray(np.concatenate(takes))
