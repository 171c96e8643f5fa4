"""Gates, chops, rests, grains and edits: sound that stops and starts."""

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
    pad,
    provokes,
    rich,
    rng,
    saw,
    square,
    time,
)


@provokes("a gate with 2 ms ramps chops a held chord into sixteenths")
def gated_pad() -> Wave:
    t = time()
    gate = (t % 0.125 < 0.07).astype(float)
    return pad() * np.convolve(gate, np.ones(96) / 96, "same")


@provokes("the same gate without ramps: exact silence between hard edges, the sound goes on in phase")
def hard_gated_pad() -> Wave:
    t = time()
    return pad((45, 52, 57, 61)) * (t % 0.125 < 0.08)


@provokes("a trance gate that plays a rhythm, not every sixteenth, and only in every other bar")
def rhythmic_gate() -> Wave:
    steps = np.array([1, 0, 1, 1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1] + [1] * 16)
    t = time()
    return pad((50, 57, 62, 65)) * steps[(t / 0.125).astype(int) % 32]


@provokes("a crackle loop of two seconds under a chord: the same clicks four times")
def vinyl_loop_under_keys() -> Wave:
    random, t = rng(32), time()
    loop = 0.003 * random.standard_normal(2 * RATE_HZ)
    at = random.integers(0, len(loop), 36)
    loop[at] += random.choice((-1, 1), 36) * random.exponential(0.12, 36)
    return 0.4 * pad() / np.abs(pad()).max() + np.resize(loop, len(t))


@provokes("a voice cut into syllables with hard edges, with rests of any length between them")
def chopped_vocals() -> Wave:
    random = rng(33)
    voice = signals.speech(SECONDS, every_s=0.3, seed=33)[0][:, 0].astype(float)
    voice += 0.2 * band(random.standard_normal(len(voice)), 300, 6000) * (np.abs(voice) > 0.02)
    keep, at = np.zeros(len(voice)), 0
    while at < len(voice):
        length = int(random.choice((3000, 4500, 6000, 9000)))
        keep[at : at + length] = 1.0
        at += length + int(random.choice((1500, 3000, 6000)))
    return voice * keep


@provokes("a held vowel muted for a sixteenth here and there, edges of 1 ms")
def muted_vowel() -> Wave:
    t = time()
    vowel = band(saw(150 + 2 * np.sin(30 * t), t), 250, 3000)
    keep = np.ones(len(t))
    for at_s in (1.0, 1.25, 1.625, 4.0, 4.25, 4.5, 6.0, 6.125, 6.375):
        keep[round(at_s * RATE_HZ) : round((at_s + 0.0625) * RATE_HZ)] = 0.0
    return vowel * np.convolve(keep, np.ones(48) / 48, "same")


@provokes("ducked to nothing by every kick, as a compressor does: down in 1 ms, up in 150 ms")
def sidechain_pumping() -> Wave:
    t = time()
    return pad() * np.clip((t % BEAT_S - 0.02) / 0.15, 0.0, 1.0) ** 1.5


@provokes("a square tremolo at 7 Hz, all the way down to silence")
def square_tremolo() -> Wave:
    t = time()
    return chord((52, 59, 64), t) * np.convolve((t * 7 % 1 < 0.5).astype(float), np.ones(24) / 24, "same")


@provokes("short bowed notes with silence between them")
def staccato_strings() -> Wave:
    random, t = rng(34), time(0.14)
    shape = ends(t, 0.012, 0.03)
    notes = [
        (i * 0.25, shape * (rich(hz(55 + i % 5), t, 16) + 0.1 * random.standard_normal(len(t))))
        for i in range(31)
    ]
    return lay(notes)


@provokes("a mix pushed 12 dB into a limiter that does not clip")
def limited_mix() -> Wave:
    bed = signals.music_bed(SECONDS, seed=35)[0].astype(float)
    level = np.abs(bed).max(axis=1)
    need = np.minimum(1.0, 0.12 / np.maximum(level, 1e-9))
    worst = np.lib.stride_tricks.sliding_window_view(np.pad(need, 96, "edge"), 193).min(axis=1)
    gain = np.convolve(np.pad(worst, 96, "edge"), np.ones(193) / 193, "valid")
    return bed * np.minimum(gain, need)[:, None]


@provokes("clouds of windowed grains, some shorter than 10 ms")
def granular_texture() -> Wave:
    random, source = rng(36), chord((57, 64, 69), time(2.0)) + 0.2 * rng(37).standard_normal(2 * RATE_HZ)
    events = []
    for _ in range(220):
        length = int(random.uniform(300, 4000))
        begin = int(random.integers(0, len(source) - length))
        events.append((random.uniform(0, SECONDS), source[begin : begin + length] * np.hanning(length)))
    return lay(events)


@provokes("grains without windows: every one begins and ends with a jump")
def rough_grains() -> Wave:
    random, source = rng(38), chord((45, 52, 60), time(2.0))
    out: list[Wave] = []
    while sum(map(len, out)) < SECONDS * RATE_HZ:
        length = int(random.uniform(700, 5000))
        begin = int(random.integers(0, len(source) - length))
        out += [source[begin : begin + length]] * int(random.integers(1, 4))
    return np.concatenate(out)[: round(SECONDS * RATE_HZ)]


@provokes("three notes in a minute of nothing")
def long_silences() -> Wave:
    t = time(0.8)
    return lay(
        [(i, np.exp(-6 * t) * rich(hz(60 + i), t, 8) * ends(t, 0.002, 0.1)) for i in (3, 20, 41)], 60.0
    )


@provokes("an old sampler: 8 bits at 16 kHz, dying away into runs of one code")
def eight_bit_sample() -> Wave:
    t = time(1.0)
    hit = np.exp(-5 * t) * rich(hz(50), t, 30, 0.8)
    wave = lay([(i * 1.0, hit) for i in range(8)])
    return np.round(np.repeat(wave[::3], 3)[: len(wave)] / np.abs(wave).max() * 127) / 127


@provokes("a take joined at rising zero crossings, as tape edits are made")
def zero_crossing_edits() -> Wave:
    random, t = rng(44), time(3.0)
    take = rich(hz(45), t, 10, 1.5) * (1 + 0.2 * np.sin(5 * t))
    rises = np.flatnonzero((take[:-1] < 0) & (take[1:] >= 0)) + 1
    out: list[Wave] = []
    while sum(map(len, out)) < SECONDS * RATE_HZ:
        first, last = np.sort(random.choice(rises, 2, replace=False))
        if 30_000 < last - first < 90_000:
            out.append(take[first:last])
    return np.concatenate(out)[: round(SECONDS * RATE_HZ)]


@provokes("square and noise channels of a games console, with a frame of silence between notes")
def chip_tune() -> Wave:
    frame = 1 / 60
    random, events = rng(45), []
    shift = random.integers(0, 2, 93) * 2.0 - 1.0
    for i in range(64):
        t = time(6 * frame)
        events.append((i * 7 * frame, square(hz((60, 64, 67, 72, 55, 59)[i * 5 % 6]), t, 0.25)))
        if i % 4 == 2:
            noise = np.repeat(np.resize(shift, 1200), 4) * np.repeat(np.linspace(1, 0, 15), 320)
            events.append((i * 7 * frame, 0.7 * noise))
    return lay(events)


@provokes("a drum loop that repeats its bar, and one beat of it in thirty-seconds")
def beat_repeat() -> Wave:
    bar = signals.drums(2.0, seed=46)[0][:, 0].astype(float)
    slip = np.resize(bar[24_000:27_000], 24_000)
    stutter = np.concatenate((bar[:72_000], slip))
    return np.concatenate((bar, bar, stutter, bar))


@provokes("stops dead for a beat, then begins again: a break, faded in 5 ms")
def stop_time() -> Wave:
    bed = signals.music_bed(SECONDS, seed=49)[0].astype(float)
    keep = np.ones(len(bed))
    for at_s in (1.5, 3.5, 5.5):
        keep[round(at_s * RATE_HZ) : round((at_s + 0.5) * RATE_HZ)] = 0.0
    return bed * np.convolve(keep, np.ones(240) / 240, "same")[:, None]


@provokes("an auto-panner with hard switches: each side is silent in turn")
def hard_panned_pulses() -> Wave:
    t = time()
    left = (t % 0.5 < 0.25).astype(float)
    return chord((60, 67, 72), t)[:, None] * np.stack([left, 1.0 - left], axis=1)


@provokes(
    "a sequenced bass whose notes end in a straight line of 15 ms, 5 to 25 ms before the next one begins"
)
def bass_of_straight_releases() -> Wave:
    random, wave = rng(71), np.zeros(len(time()))
    for number in range(int(SECONDS / BEAT_S) - 1):
        rest_s = (0.006, 0.012, 0.018, 0.025)[number % 4]
        first, count = round(number * BEAT_S * RATE_HZ), round((BEAT_S - rest_s) * RATE_HZ)
        t = np.arange(count) / RATE_HZ
        level = np.exp(-0.8 * t) * np.minimum(1.0, t / 0.001)
        level[-720:] *= np.linspace(1.0, 0.0, 720)
        note = np.tanh(2.4 * np.sin(2 * np.pi * hz((31, 34, 36, 38)[random.integers(4)]) * t))
        wave[first : first + count] = 0.25 * note * level
    return wave
