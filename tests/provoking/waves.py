"""Waves with steps, plateaus and periods, and instruments that begin with a jump."""

from __future__ import annotations

import numpy as np

from tests import signals
from tests.provoking.kit import (
    BEAT_S,
    RATE_HZ,
    SECONDS,
    Wave,
    band,
    chord,
    ends,
    hz,
    lay,
    provokes,
    rich,
    rng,
    saw,
    square,
    time,
)

BASS_LINE = (33, 33, 36, 31, 33, 40, 38, 36)


@provokes("naive squares have a jump every half period and stand still in between")
def square_bass() -> Wave:
    t = time(0.9 * BEAT_S)
    return lay([(i * BEAT_S, square(hz(BASS_LINE[i % 8]), t)) for i in range(16)])


@provokes("a sub bass below 40 Hz looks constant for milliseconds")
def sub_bass() -> Wave:
    t = time(4 * BEAT_S)
    return lay([(i * 4 * BEAT_S, np.sin(2 * np.pi * hz(24 + i) * t) * ends(t, 0.01, 0.05)) for i in range(4)])


@provokes("drums held for 12 samples at 5 bits: steps and plateaus everywhere")
def bit_crushed_drums() -> Wave:
    wave = signals.drums(SECONDS, seed=21)[0][:, 0].astype(float)
    return np.round(np.repeat(wave[::12], 12)[: len(wave)] * 16) / 16


@provokes("crackle: single wrong samples by the dozen, over noise and a rumble")
def vinyl_noise() -> Wave:
    random, t = rng(31), time()
    wave = 0.004 * random.standard_normal(len(t)) + 0.01 * np.sin(2 * np.pi * 33 * t)
    at = random.integers(0, len(t), 160)
    wave[at] += random.choice((-1, 1), 160) * random.exponential(0.1, 160)
    return wave


@provokes("pulse width sweeps: the plateaus grow up to ten milliseconds")
def pulse_width_bass() -> Wave:
    t = time()
    return square(hz(28), t, 0.5 + 0.45 * np.sin(2 * np.pi * 0.3 * t)) * ends(t, 0.01, 0.02)


@provokes("hard sync: the slave's wave is cut off and begins anew in every period")
def hard_sync_lead() -> Wave:
    t = time()
    master = np.cumsum(np.full(len(t), hz(45))) / RATE_HZ % 1.0
    return (2 * (master * (2.5 + np.sin(2 * np.pi * 0.2 * t)) % 1.0) - 1) * ends(t, 0.005, 0.05)


@provokes("ring modulation by a square: the phase turns over 90 times a second")
def ring_modulated_voice() -> Wave:
    voice = signals.speech(SECONDS, seed=40)[0][:, 0].astype(float)
    return voice * square(90.0, time())


@provokes("digital feedback: full-scale chaos that folds over")
def digital_feedback() -> Wave:
    wave, x, y = np.zeros(round(SECONDS * RATE_HZ)), 0.1, 0.0
    for i in range(len(wave)):
        x, y = y, ((1.93 * y - 0.97 * x + 0.02 * np.sin(i * 0.01) + 1.0) % 2.0) - 1.0
        wave[i] = y
    return wave * ends(time(), 0.01, 0.01)


@provokes("machine hi-hats, every one the same samples")
def hi_hats() -> Wave:
    return signals.hats(SECONDS, seed=41)[0][:, 0]


@provokes("a hi-hat roll: one sample triggered again after 20, 27 and 40 ms, each cutting off the last")
def hat_rolls() -> Wave:
    random = rng(42)
    hit = band(random.standard_normal(9600), 5000, 16_000) * np.exp(-np.arange(9600) / 1500)
    line = np.zeros(round(SECONDS * RATE_HZ))
    for bar in range(4):
        at = bar * 96_000
        steps = [12_000] * 5 + [960] * 2 + [1286] * (2 + bar) + [1920] * 3 + [12_000]
        for step in steps:
            line[at : at + 9600] = hit[: len(line[at : at + 9600])]
            at += step
    return line


@provokes("claps: four bursts of noise within 30 ms")
def hand_claps() -> Wave:
    random = rng(43)
    burst = band(random.standard_normal(6000), 800, 8000) * np.exp(-np.arange(6000) / 250)
    tail = band(random.standard_normal(9600), 800, 5000) * np.exp(-np.arange(9600) / 1600)
    times = [(0.5 + i, d, burst) for i in range(7) for d in (0.0, 0.009, 0.019)]
    return lay([(at + d, sound) for at, d, sound in times] + [(0.528 + i, tail) for i in range(7)])


@provokes("struck metal: an attack in one sample, then pure tones")
def glockenspiel() -> Wave:
    t = time(1.2)
    tail = ends(t, 0.0, 0.2)
    note = [
        np.exp(-4 * t) * np.cos(2 * np.pi * f * t) + 0.4 * np.exp(-9 * t) * np.cos(2 * np.pi * 2.76 * f * t)
        for f in (hz(84), hz(88), hz(91), hz(96))
    ]
    return lay([(i * 0.375, tail * note[i * 7 % 4]) for i in range(20)])


@provokes("plucks without attack or release time: each note begins and ends with a jump")
def instant_plucks() -> Wave:
    t = time(0.22)
    return lay([(i * 0.25, np.exp(-8 * t) * rich(hz(52 + i * 5 % 12), t, 25)) for i in range(31)])


@provokes("an organ without key ramps: chords that jump one into the other every two seconds")
def legato_organ() -> Wave:
    out = []
    for i, root in enumerate((48, 53, 55, 48)):
        t = time(2.0) + i * 2.0
        out.append(sum((np.sin(2 * np.pi * hz(root + k) * t) for k in (0, 4, 7, 12, 19, 24)), 0.0 * t))
    return np.concatenate(out)


@provokes("waves with a whole number of samples a period repeat exactly: 480 Hz, 100 Hz, 750 Hz, 200 Hz")
def whole_periods() -> Wave:
    events = []
    for i in range(16):
        t = time(0.2 if i % 2 else 0.45)
        f = (480.0, 100.0, 750.0, 200.0, 110.0)[i % 5]
        kind = (np.sin(2 * np.pi * f * t), square(f, t), saw(f, t))[i % 3]
        events.append((i * BEAT_S, kind))
    return lay(events)


@provokes("a guitar through a fuzz: hard corners all the time")
def fuzz_guitar() -> Wave:
    t = time(1.9)
    power = [
        chord((40 + s, 47 + s, 52 + s), t, 8) * np.exp(-0.6 * t) * ends(t, 0.003, 0.02) for s in (0, 3, 5)
    ]
    wave = lay([(i * 2.0, power[i % 3]) for i in range(4)])
    return np.clip(40 * wave, -1, 1) * 0.8 + 0.05 * wave


@provokes("glitch music: single samples, ticks and cuts are the notes")
def glitch_texture() -> Wave:
    random, t = rng(47), time()
    wave = 0.1 * np.sin(2 * np.pi * 220 * t)
    for i in range(96):
        at = round(i * 0.0833 * RATE_HZ)
        if random.random() < 0.6:
            wave[at : at + int(random.integers(1, 30))] += random.choice((-0.6, 0.6))
    return wave


@provokes("woodblock and rim shots: 3 ms long, nothing around them")
def woodblocks() -> Wave:
    t = time(0.06)
    hit = np.exp(-300 * t) * np.sin(2 * np.pi * 2100 * t + 1.2)
    return lay([(i * 0.25, (1.0, 0.4, 0.7, 0.3)[i % 4] * hit) for i in range(31)])


@provokes("kicks that begin with a click of one sample, over a held bass")
def clicky_kick() -> Wave:
    t = time(0.35)
    kick = np.exp(-9 * t) * np.sin(2 * np.pi * (48 * t + 2 * (1 - np.exp(-t / 0.01))))
    kick[:1] += 0.9
    held = time()
    return 0.2 * rich(hz(33), held, 5) * ends(held, 0.01, 0.1) + lay([(i * 0.5, kick) for i in range(16)])


@provokes("a piano with its mechanical noises: hammers, pedal thumps, a long tail into silence")
def piano_noises() -> Wave:
    random, t = rng(48), time(2.5)
    events = []
    for i in range(12):
        f = hz(48 + i * 7 % 24)
        tone = sum((np.exp(-(1.5 + k) * t) * np.sin(2 * np.pi * f * k * t) / k for k in range(1, 9)), 0 * t)
        thump = band(random.standard_normal(2400), 60, 900) * np.exp(-np.arange(2400) / 300)
        tone[:2400] += 0.5 * thump
        events.append((i * 0.5, tone * ends(t, 0.001, 0.2)))
    return lay(events)


@provokes("half-wave rectified: the wave stands at zero half of the time")
def rectified_bass() -> Wave:
    t = time(0.8)
    return lay([(i, np.maximum(rich(hz(31 + i % 5), t, 6), 0.0) * ends(t, 0.004, 0.03)) for i in range(8)])


@provokes("a stepped filter: the sound changes at every sixteenth without a fade")
def sample_and_hold_filter() -> Wave:
    random, wave = rng(50), saw(hz(40), time())
    out = np.zeros(len(wave))
    last = 0.0
    for i, value in enumerate(wave):
        if i % 6000 == 0:
            pole = random.uniform(0.6, 0.99)
        last = pole * last + (1 - pole) * value
        out[i] = last
    return out
