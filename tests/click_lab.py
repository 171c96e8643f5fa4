"""Invented clicks with truth, clean and faulty: sounds, tempo maps, metres, layers, faults. All seeded.

made = build(Recipe(sound="clave", plan=steady(120, 16), ...))      made.samples, made.beats_s
random_recipe(seed) -> a clean click as somebody might have programmed it
plant(made recipe, fault, rng) -> the recipe with one fault, and its truth
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from tests.instruments import speech
from tests.waves import Samples, Wave, as_samples, frames_of

SOUNDS = (
    "beep", "soft beep", "sine pip", "woodblock", "cowbell", "clave", "hi-hat", "noise tick", "fresh noise",
    "rim", "triangle", "low tom",
)  # fmt: skip
GATED = ("gated sine", "gated square", "gated triangle", "impulse")
"""Sounds that end with a step: steeper than anything in them, and no beginning of another."""
ACCENTS = ("both", "level", "pitch", "none")
METRES = {
    "4/4": (4, 1.0),
    "3/4": (3, 1.0),
    "5/4": (5, 1.0),
    "6/8": (6, 1.75),
    "7/8": (7, 1.75),
    "2/4": (2, 1.0),
}
"""Beats a bar, and how much faster it is counted than quarters."""


def tick_sound(sound: str, pitch: float, rate_hz: int, rng: np.random.Generator) -> Wave:
    """One tick, peak 1.0; its sound begins on its first frame. pitch: 1.0 for a plain beat."""
    return _made(sound, pitch, rate_hz, rng) if sound == "fresh noise" else _kept(sound, pitch, rate_hz)


@lru_cache(maxsize=128)
def _kept(sound: str, pitch: float, rate_hz: int) -> Wave:
    """The sounds that are the same every time."""
    return _made(sound, pitch, rate_hz, np.random.default_rng(0))


def _made(sound: str, pitch: float, rate_hz: int, rng: np.random.Generator) -> Wave:
    t = np.arange(frames_of(0.14, rate_hz)) / rate_hz
    fixed = np.random.default_rng(round(pitch * 1000))

    def tone(hz: float) -> Wave:
        return np.sin(2 * np.pi * hz * pitch * t)

    def hiss(source: np.random.Generator, low: float, high: float) -> Wave:
        raw = source.standard_normal(len(t))
        freq = np.fft.rfftfreq(len(t), 1 / rate_hz)
        shape = 1 / (1 + (low / np.maximum(freq, 1e-3)) ** 6) / (1 + (freq / high) ** 6)
        return np.roll(np.fft.irfft(np.fft.rfft(raw) * shape, n=len(t)), 0)

    def swell(attack_s: float) -> Wave:
        return np.clip(t / attack_s, 0.0, 1.0)

    shapes = {
        "beep": lambda: tone(1000) * np.clip((0.04 - t) / 0.003, 0, 1) * swell(0.0005),
        "soft beep": lambda: tone(880) * np.clip((0.06 - t) / 0.02, 0, 1) * swell(0.002),
        "sine pip": lambda: tone(1500) * np.clip((0.008 - t) / 0.001, 0, 1),
        "woodblock": lambda: (tone(1180) + 0.4 * tone(2160)) * np.exp(-t / 0.012) * swell(0.0003),
        "cowbell": lambda: (
            (np.sign(tone(560)) + 0.8 * np.sign(tone(845))) * np.exp(-t / 0.03) * swell(0.0003)
        ),
        "clave": lambda: tone(2480) * np.exp(-t / 0.008) * swell(0.0002),
        "hi-hat": lambda: hiss(fixed, 6000, 16000) * np.exp(-t / 0.02) * swell(0.0005),
        "noise tick": lambda: hiss(fixed, 1800, 7000) * np.exp(-t / 0.006),
        "fresh noise": lambda: hiss(rng, 2500, 9000) * np.exp(-t / 0.012) * swell(0.0003),
        "rim": lambda: (tone(1700) + 0.5 * tone(420) + 0.3 * hiss(fixed, 1000, 9000)) * np.exp(-t / 0.007),
        "triangle": lambda: (tone(2100) + 0.6 * tone(5530)) * np.exp(-t / 0.06) * swell(0.0003),
        "gated sine": lambda: tone(1000.3) * (t < 0.03),
        "gated square": lambda: np.sign(tone(1500) + 1e-9) * (t < 0.012),
        "gated triangle": lambda: np.arcsin(np.cos(2 * np.pi * 900 * pitch * t)) * (t < 0.025),
        "impulse": lambda: (t == 0.0).astype(np.float64),
        "low tom": lambda: (
            np.sin(2 * np.pi * pitch * (300 * t + 2 * (1 - np.exp(-t / 0.01)))) * np.exp(-t / 0.03)
        ),
    }
    wave = shapes[sound]()
    # The tail is faded so that nothing steps at the end of the table.
    wave = wave * np.clip((t[-1] - t) / 0.02, 0.0, 1.0)
    return np.asarray(wave / np.abs(wave).max())


@dataclass(frozen=True, kw_only=True)
class Beat:
    """One beat of the plan: when, and whether it is a bar's first. `heard`: False for a missing one."""

    at_s: float
    first: bool
    heard: bool = True
    extra: bool = False  # a planted tick that is no beat


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """Everything a click is made from."""

    beats: tuple[Beat, ...]
    metre: str = "4/4"
    sound: str = "beep"
    accents: str = "both"
    subdivision: int = 1
    sub_db: float = -12.0
    swing: float = 0.0  # of the subdivision, 0 … 0.33 of its length
    shaker: bool = False
    rate_hz: int = 48_000
    peak_db: float = -6.0
    bits: int = 24
    sides: int = 1
    speech_db: float | None = None  # level of a spoken count against the click
    speech_s: tuple[float, float] = (0.0, 0.0)
    reverb: bool = False
    turned_down: tuple[float, float] | None = None  # seconds between which the click is 9 dB down
    tail_s: float = 2.0
    seed: int = 0
    notes: tuple[str, ...] = field(default=())


@dataclass(frozen=True, kw_only=True)
class Made:
    """A click and its truth."""

    samples: Samples
    beats_s: tuple[float, ...]  # of the beats that sound, to the frame
    recipe: Recipe


def build(recipe: Recipe) -> Made:
    """The recipe as audio."""
    rng = np.random.default_rng([recipe.seed, 77])
    rate = recipe.rate_hz
    end_s = recipe.beats[-1].at_s + recipe.tail_s
    line = np.zeros(frames_of(end_s, rate))

    def lay(at_s: float, sound: str, pitch: float, level_db: float) -> float:
        frame = round(at_s * rate)
        wave = tick_sound(sound, pitch, rate, rng) * 10 ** (level_db / 20)
        part = wave[: max(0, len(line) - frame)]
        line[frame : frame + len(part)] += part
        return frame / rate

    truth = []
    pitch = 1.5 if recipe.accents in ("both", "pitch") else 1.0
    plain_db = -4.0 if recipe.accents in ("both", "level") else 0.0
    for i, beat in enumerate(recipe.beats):
        accent = beat.first and recipe.accents != "none"
        if beat.heard:
            at = lay(beat.at_s, recipe.sound, pitch if accent else 1.0, 0.0 if accent else plain_db)
            if not beat.extra:
                truth.append(at)
        if recipe.subdivision > 1 and not beat.extra:
            later = [b.at_s for b in recipe.beats[i + 1 :] if not b.extra]
            if later and later[0] - beat.at_s < 2.5:
                for k in range(1, recipe.subdivision):
                    late = recipe.swing / recipe.subdivision if k % 2 else 0.0
                    part = k / recipe.subdivision + late
                    human = rng.normal(0.0, 0.006) if recipe.shaker else 0.0
                    at_s = beat.at_s + part * (later[0] - beat.at_s) + human
                    loud = recipe.sub_db + plain_db + (rng.uniform(-2, 2) if recipe.shaker else 0.0)
                    lay(at_s, "fresh noise" if recipe.shaker else recipe.sound, 1.0, loud)
    if recipe.turned_down:
        starts = np.array([b.at_s for b in recipe.beats])
        # Between two beats: nobody turns a click down in the middle of a tick.
        edges = [starts[int(np.argmin(np.abs(starts - s)))] - 0.01 for s in recipe.turned_down]
        first, last = (max(0, round(s * rate)) for s in edges)
        line[first:last] *= 10 ** (-9 / 20)
    if recipe.reverb:
        line = line + _room(line, rate, rng)
    if recipe.speech_db is not None:
        voice = speech(recipe.speech_s[1] - recipe.speech_s[0], rate_hz=rate, seed=recipe.seed)[0][:, 0]
        first = round(recipe.speech_s[0] * rate)
        voice = voice[: len(line) - first] / np.abs(voice).max() * 10 ** (recipe.speech_db / 20)
        line[first : first + len(voice)] += voice
    line *= 10 ** (recipe.peak_db / 20) / np.abs(line).max()
    step = 2.0 ** (1 - recipe.bits)
    wide = np.repeat(line[:, None], recipe.sides, axis=1)
    dither = rng.uniform(-0.5, 0.5, wide.shape) + rng.uniform(-0.5, 0.5, wide.shape)
    wide = np.clip(np.round(wide / step + dither) * step, -1.0, 1.0 - step)
    return Made(samples=as_samples(wide), beats_s=tuple(truth), recipe=recipe)


def _room(line: Wave, rate_hz: int, rng: np.random.Generator) -> Wave:
    """A tail of 0.6 s, 18 dB down at its start."""
    t = np.arange(frames_of(0.6, rate_hz)) / rate_hz
    tail = rng.standard_normal(len(t)) * np.exp(-6.9 * t / 0.6)
    tail[: frames_of(0.004, rate_hz)] = 0.0
    tail *= 0.12 / np.sqrt(np.sum(tail**2)) * 2.5
    size = len(line) + len(tail)
    wet = np.fft.irfft(np.fft.rfft(line, size) * np.fft.rfft(tail, size), size)[: len(line)]
    return np.asarray(wet)


def even_beats(bpm: float, bars: int, metre: str = "4/4", *, start_s: float = 1.0) -> tuple[Beat, ...]:
    """One tempo all the way."""
    beats, speed = METRES[metre]
    step = 60.0 / (bpm * speed)
    return tuple(Beat(at_s=start_s + i * step, first=i % beats == 0) for i in range(bars * beats))


def ramped_beats(
    bpm: float, end_bpm: float, bars: int, metre: str = "4/4", *, start_s: float = 1.0
) -> tuple[Beat, ...]:
    """Tempo that changes evenly from beat to beat over the middle half."""
    beats, speed = METRES[metre]
    count = bars * beats
    at_s, made = start_s, []
    for i in range(count):
        made.append(Beat(at_s=at_s, first=i % beats == 0))
        share = min(1.0, max(0.0, (i / count - 0.25) / 0.5))
        at_s += 60.0 / ((bpm + (end_bpm - bpm) * share) * speed)
    return tuple(made)


def random_recipe(seed: int) -> Recipe:
    """A clean click: programmed by people, with everything they do that is no fault."""
    rng = np.random.default_rng([seed, 1])
    metre = str(rng.choice(list(METRES)))
    sound = str(rng.choice(SOUNDS))
    accents = str(rng.choice(ACCENTS, p=[0.5, 0.2, 0.15, 0.15]))
    if sound == "fresh noise" and accents == "pitch":
        accents = "level"  # noise has no pitch
    beats, notes = _random_plan(rng, metre)
    subdivision = int(rng.choice([1, 2, 3, 4], p=[0.6, 0.25, 0.05, 0.1]))
    speed = METRES[metre][1]
    slowest = min(b.at_s - a.at_s for a, b in pairwise(beats))
    if (
        speed > 1.0
        or slowest / subdivision < 0.085
        or sound in ("triangle", "cowbell", "low tom", "soft beep")
    ):
        subdivision = 1
    shaker = bool(subdivision > 1 and rng.random() < 0.3)
    talks = rng.random() < 0.25 and accents != "none" and sound != "fresh noise"
    length = beats[-1].at_s
    talk_from = 0.0 if rng.random() < 0.5 else float(rng.uniform(0, max(0.1, length - 6)))
    turned = float(rng.uniform(3, max(4, length - 8)))
    return Recipe(
        beats=beats,
        metre=metre,
        sound=sound,
        accents=accents,
        subdivision=subdivision,
        sub_db=float(rng.uniform(-14, -8)),
        swing=float(rng.choice([0.0, 0.0, 0.2, 0.33])) if subdivision == 2 else 0.0,
        shaker=shaker,
        rate_hz=int(rng.choice([44_100, 48_000, 48_000, 96_000])),
        peak_db=float(rng.choice([0.0, -0.1, -3, -6, -12, -20, -35, -50])),
        bits=int(rng.choice([16, 24, 24])),
        sides=int(rng.choice([1, 2])),
        speech_db=float(rng.uniform(-12, 0)) if talks else None,
        speech_s=(talk_from, talk_from + float(rng.uniform(2, 5))),
        reverb=bool(rng.random() < 0.15 and subdivision == 1),
        turned_down=(turned, turned + 6.0) if rng.random() < 0.1 and subdivision == 1 else None,
        seed=seed,
        notes=tuple(notes),
    )


def _random_plan(rng: np.random.Generator, metre: str) -> tuple[tuple[Beat, ...], list[str]]:
    """Bars with tempo steps, ramps, holds, free sections, bars of another metre, a late start."""
    per_bar, speed = METRES[metre]
    bpm = float(rng.uniform(60, 175)) if per_bar > 2 else float(rng.uniform(90, 150))
    bpm = min(bpm, 250.0 / speed)  # faster eighths are not counted
    if rng.random() < 0.5:
        bpm = float(round(bpm))
    at_s = float(rng.choice([0.0, 0.5, 2.0, rng.uniform(0, 12)]))
    notes: list[str] = [f"{metre} at {bpm:.2f}"]
    kind = str(rng.choice(["one tempo", "steps", "ramp", "live map", "mixed"], p=[0.4, 0.2, 0.15, 0.1, 0.15]))
    notes.append(kind)
    bars = int(rng.integers(12, 36))
    made: list[Beat] = []
    target = min(bpm * float(rng.uniform(0.75, 1.35)), 250.0 / speed)
    for bar in range(bars):
        length = per_bar
        if kind == "mixed" and rng.random() < 0.12:
            length = int(rng.choice([n for n in (2, 3, 5, 6) if n != per_bar]))
            notes.append(f"bar {bar} of {length}")
        if kind in ("steps", "mixed") and rng.random() < 0.1:
            bpm = float(np.clip(bpm * rng.uniform(0.8, 1.25), 50, 250.0 / speed))
            notes.append(f"bar {bar} at {bpm:.1f}")
        for beat in range(length):
            here = bpm
            if kind == "ramp" and bars / 3 <= bar < 2 * bars / 3:
                part = (bar + beat / length - bars / 3) / (bars / 3)
                here = bpm + (target - bpm) * part
            elif kind == "ramp" and bar >= 2 * bars / 3:
                here = target
            elif kind == "live map":
                here = bpm * float(1 + rng.normal(0.0, 0.012))
            made.append(Beat(at_s=at_s, first=beat == 0))
            at_s += 60.0 / (here * speed)
        if bar in range(3, bars - 3) and rng.random() < 0.04:
            hold = float(rng.uniform(0.3, 1.6)) * 60.0 / bpm
            whole = 60.0 / (bpm * speed)
            if abs(hold / whole - round(hold / whole)) < 0.08:
                hold += 0.2 * whole  # a hold of exactly a beat cannot be told from a missing one
            notes.append(f"held {hold:.2f} s after bar {bar}")
            at_s += hold
        if bar in range(3, bars - 4) and rng.random() < 0.03:
            free = float(rng.uniform(1.3, 4)) * per_bar * 60.0 / (bpm * speed)
            notes.append(f"free for {free:.2f} s after bar {bar}")
            at_s += free
    return tuple(made), notes


def missing(beats: Sequence[Beat], first: int, count: int) -> tuple[Beat, ...]:
    """`count` beats from row `first` on do not sound."""
    return tuple(replace(b, heard=not first <= i < first + count) for i, b in enumerate(beats))


def doubled(beats: Sequence[Beat], row: int, later_s: float) -> tuple[Beat, ...]:
    """The beat at `row` sounds again `later_s` after it."""
    extra = replace(beats[row], at_s=beats[row].at_s + later_s, first=False, extra=True)
    return (*beats[: row + 1], extra, *beats[row + 1 :])


def moved(beats: Sequence[Beat], row: int, by_s: float) -> tuple[Beat, ...]:
    """The beat at `row` sounds `by_s` late."""
    off = replace(beats[row], at_s=beats[row].at_s + by_s, extra=True)
    return (*beats[:row], off, *beats[row + 1 :])


def halved(beats: Sequence[Beat], row: int) -> tuple[Beat, ...]:
    """From `row` on only every other beat sounds."""
    return tuple(b for i, b in enumerate(beats) if i < row or (i - row) % 2 == 0)
