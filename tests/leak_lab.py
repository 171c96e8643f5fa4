"""`python -m tests.leak_lab [click] [timecode] [clean]`: leaks planted in stems, and stems that only look it.

Click and timecode are added to stems of the corpus, the demo and songs the lab builds, at so many dB under
the stem (loudness to loudness), as a copy, delayed, low-passed, through a room. Every other stem gets a
noise of its own first, as recordings have. Prints how many are told, and what is said of clean and of
provoking stems."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.signal import butter, sosfilt

from audit.demo.crew import click as click_sound
from audit.demo.timecode import encode_timecode
from audit.evidence import ShowEvidence
from audit.facts import Role
from audit.findings import Finding, Severity
from audit.measure.leak_search import LeakSource, click_places, search, steady_places
from audit.measure.leak_spectra import PIECE_S, spectra
from audit.measure.loudness import LoudnessMeter
from audit.pipeline.song.bleed import mixed
from audit.results import ClickRun, ClickTrack, Leak
from audit.timecode import FPS_25, FRAME_RATES, Label
from tests.evidence import findings, part, show, song, stem
from tests.lab.kind import wilson
from tests.lab.songs import LabShow, LabSong, LabStem, corpus, demo, long_show
from tests.shared import shared_folder

Samples = np.ndarray
SIZES_DB = (-20.0, -35.0, -50.0, -60.0)
SOUNDS = ("beep", "woodblock", "tick", "hat", "cowbell", "corpus")
TIMECODE_DBFS = (-40.0, -50.0, -60.0)


@dataclass(frozen=True, kw_only=True)
class Song:
    """A song with its crew's stems; samples of one channel."""

    lab: LabSong
    sound: str
    click: Samples
    code: Samples
    tick: Samples  # one of the click's ticks, without accent
    seed: int

    @property
    def rate_hz(self) -> int:
        return self.lab.rate_hz


def loudness(samples: Samples, rate_hz: int) -> float:
    meter = LoudnessMeter(rate_hz, samples.shape[1])
    meter.add(np.ascontiguousarray(samples, dtype=np.float32))
    lufs = meter.result().integrated_lufs
    return -np.inf if lufs is None else lufs


def tick_of(sound: str, accent: bool, rate_hz: int) -> Samples:
    """A click's sound; peak about 1."""
    if sound in ("beep", "woodblock", "tick"):
        return np.asarray(click_sound(sound, accent, rate_hz))
    random = np.random.default_rng((7, accent))
    time_s = np.arange(round(0.06 * rate_hz)) / rate_hz
    if sound == "hat":
        hiss = sosfilt(butter(2, 6000, "highpass", fs=rate_hz, output="sos"), random.normal(size=len(time_s)))
        wave = hiss * np.exp(-time_s / 0.012)
    else:
        wave = (np.sin(2 * np.pi * 560 * time_s) + np.sin(2 * np.pi * 845 * time_s)) * np.exp(-time_s / 0.02)
    return (wave / np.abs(wave).max() * (1.0 if accent else 0.7)).astype(np.float32)


def placed(hits: Iterator[tuple[float, Samples]], frames: int, rate_hz: int) -> Samples:
    """One channel with sounds at moments."""
    wave = np.zeros(frames, dtype=np.float32)
    for at_s, sound in hits:
        at = round(at_s * rate_hz)
        if 0 <= at < frames:
            wave[at : at + len(sound)] += sound[: frames - at]
    return wave


def dressed(lab: LabSong, seed: int, number: int) -> Song:
    """A song with a click of some sound, and timecode of some rate. The lab knows its beats."""
    sound = SOUNDS[(seed + number) % 5]
    frames = max(len(one.samples) for one in lab.stems)
    hits = ((at, tick_of(sound, k % 4 == 0, lab.rate_hz)) for k, at in enumerate(lab.beats_s))
    click = 0.3 * placed(hits, frames, lab.rate_hz)
    rate = FPS_25 if number % 2 else FRAME_RATES[(seed + number) % len(FRAME_RATES)]
    count = int(frames / lab.rate_hz * rate.frames_per_s)
    code = np.zeros(frames, dtype=np.float32)
    wave = encode_timecode(Label(number % 24, 0, 0), count, rate, lab.rate_hz)[:frames]
    code[: len(wave)] = wave
    return Song(lab=lab, sound=sound, click=click, code=code, tick=0.3 * tick_of(sound, False, lab.rate_hz),
                seed=1000 * seed + number)  # fmt: skip


def with_count_in(lab: LabSong) -> LabSong:
    return replace(lab, stems=tuple(one for one in lab.stems if np.any(one.samples)))


def songs(seed: int) -> list[Song]:
    shows: list[LabShow] = [corpus(shared_folder("corpus")), demo(), long_show(seed, songs=6, seconds=60.0)]
    every = [one for lab_show in shows for one in lab_show.songs if len(one.beats_s) > 8]
    return [dressed(with_count_in(one), seed, number) for number, one in enumerate(every)]


# Ways a leak takes.


def copied(wave: Samples, rate_hz: int, random: np.random.Generator) -> Samples:
    return wave


def delayed(milliseconds: float) -> Callable[[Samples, int, np.random.Generator], Samples]:
    def late(wave: Samples, rate_hz: int, random: np.random.Generator) -> Samples:
        frames = round(milliseconds * rate_hz / 1000.0)
        return np.concatenate([np.zeros(frames, dtype=np.float32), wave[: len(wave) - frames]])

    return late


def dull(wave: Samples, rate_hz: int, random: np.random.Generator) -> Samples:
    return sosfilt(butter(2, 2000, fs=rate_hz, output="sos"), wave).astype(np.float32)


def roomy(wave: Samples, rate_hz: int, random: np.random.Generator) -> Samples:
    """Direct sound 1 ms late, and a room of 0.3 s as loud as it."""
    from scipy.signal import fftconvolve

    tail = random.normal(size=round(0.3 * rate_hz)) * np.exp(
        -np.arange(round(0.3 * rate_hz)) / (0.045 * rate_hz)
    )
    tail[: round(0.004 * rate_hz)] = 0.0
    room = tail / np.sqrt(np.sum(tail**2))
    room[round(0.001 * rate_hz)] = 1.0
    return fftconvolve(wave, room)[: len(wave)].astype(np.float32)


def spilt(wave: Samples, rate_hz: int, random: np.random.Generator) -> Samples:
    """As a singer's headphones leak it: thin, 1 to 5 ms late, never twice as loud."""
    thin = sosfilt(butter(2, (700, 4500), "bandpass", fs=rate_hz, output="sos"), wave)
    steps = random.uniform(0.35, 1.0, len(wave) // round(0.4 * rate_hz) + 2)
    moving = np.interp(np.arange(len(wave)), np.arange(len(steps)) * round(0.4 * rate_hz), steps)
    return delayed(float(random.uniform(1.5, 4.5)))((thin * moving).astype(np.float32), rate_hz, random)


WAYS: dict[str, Callable[[Samples, int, np.random.Generator], Samples]] = {
    "copy": copied, "0.3 ms late": delayed(0.3), "2 ms late": delayed(2.0), "7 ms late": delayed(7.0),
    "low-passed": dull, "room": roomy, "headphones": spilt,
}  # fmt: skip


# Stems that look like it.


def _noisy(wave: Samples, random: np.random.Generator) -> Samples:
    stereo = np.stack([wave, wave], axis=1).astype(np.float32)
    level = 10 ** (random.choice([-140.0, -96.0, -75.0]) / 20)
    return stereo + (level * random.normal(size=stereo.shape)).astype(np.float32)


def provoking(given: Song, random: np.random.Generator) -> Iterator[tuple[str, Samples]]:
    """Clean stems, by what they are."""
    rate_hz, beats, frames = given.rate_hz, np.array(given.lab.beats_s), len(given.click)
    step = float(np.median(np.diff(beats)))
    music = beats[4:]
    time_s = np.arange(round(0.12 * rate_hz)) / rate_hz
    hit = np.random.default_rng(given.seed)

    def drawn(name: str, hits: list[tuple[float, Samples]]) -> tuple[str, Samples]:
        return name, _noisy(placed(iter(hits), frames, rate_hz), random)

    def velocity() -> float:
        return float(random.uniform(0.4, 1.0))

    own = given.tick
    yield drawn("own sound, on the beats", [(b, 0.8 * own) for b in music])
    yield drawn("own sound, played", [(b, velocity() * own) for b in beats if random.random() < 0.8])
    yield drawn("own sound, eighths", [(b + h * step / 2, own) for b in beats for h in (0, 1)])
    places = [b + o * step / 4 for b in music for o in (0, 3) if random.random() < 0.7]
    yield drawn("own sound, a rhythm", [(b, velocity() * own) for b in places])
    sweep = np.sin(2 * np.pi * (50 * time_s + 4 * (1 - np.exp(-40 * time_s))))
    kick = (sweep * np.exp(-12 * time_s)).astype(np.float32)
    yield drawn("kick on every beat", [(b, 0.6 * kick) for b in music])
    yield drawn("kick, count-in too", [(b, 0.6 * kick) for b in beats])
    hiss = np.diff(hit.normal(size=len(time_s) + 1)) * np.exp(-time_s / 0.02)
    hat = (0.2 * hiss).astype(np.float32)
    yield drawn("hat in eighths", [(b + h * step / 2, hat) for b in music for h in (0, 1)])
    yield drawn("hat on every beat, count-in too", [(b, hat) for b in beats])
    swell = np.minimum(1, time_s / 0.01) * np.exp(-time_s / 0.03)
    shake = (0.2 * hit.normal(size=len(time_s)) * swell).astype(np.float32)
    yield drawn("shaker on every beat, count-in too", [(b, shake) for b in beats])
    for pitch in (440.0, 880.0, 1320.0, 1760.0):
        note = (0.3 * np.sign(np.sin(2 * np.pi * pitch * time_s)) * np.exp(-time_s / 0.05)).astype(np.float32)
        yield drawn(f"staccato square {pitch:.0f} Hz", [(b, note) for b in music])
        sine = (0.3 * np.sin(2 * np.pi * pitch * time_s) * np.exp(-time_s / 0.05)).astype(np.float32)
        yield drawn(f"staccato sine {pitch:.0f} Hz, count-in too", [(b, sine) for b in beats])
    melody = [220.0 * 2 ** (int(random.integers(0, 24)) / 12) for _ in beats]
    yield drawn("staccato melody", [
        (b, (0.3 * np.sign(np.sin(2 * np.pi * f * time_s)) * np.exp(-time_s / 0.06)).astype(np.float32))
        for b, f in zip(beats, melody, strict=True)
    ])  # fmt: skip
    every_s = np.arange(frames) / rate_hz
    sines = {hz: np.sin(2 * np.pi * hz * every_s) for hz in (60, 1000, 1200, 2000)}
    for name, wave in {
        "square 1 kHz": np.sign(sines[1000]),
        "square 1.2 kHz in eighths": np.sign(sines[1200]) * ((every_s / step * 2) % 1 < 0.5),
        "square 2 kHz": np.sign(sines[2000]),
        "buzz of 50 Hz": (every_s * 50) % 1 - 0.5,
        "buzz of 60 Hz, overdriven": np.tanh(5 * sines[60]) + 0.3 * ((every_s * 120) % 1),
        "pulse of 25 Hz": ((every_s * 25) % 1 < 0.02) - 0.02,
        "1 and 2 kHz in 40 ms": np.sign(np.where((every_s * 25) % 1 < 0.4, sines[2000], sines[1000])),
        "white noise": np.random.default_rng(given.seed).normal(size=frames) * 0.3,
    }.items():
        yield name, _noisy((0.2 * wave).astype(np.float32), random)


# What is said.


def source_of(wave: Samples, song_: Song, *, ticks: bool) -> LeakSource:
    if ticks:
        places, between = click_places(np.array(song_.lab.beats_s), 1)
    else:
        places, between = steady_places(0.0, len(wave) / song_.rate_hz - 0.1), np.zeros(0)
    pieces = reader(wave[:, None], song_.rate_hz)(places)[:, 0]
    level = 20 * np.log10(np.abs(wave).max()) if ticks else -12.0
    return LeakSource(places_s=places, between_s=between, spectra_of=spectra(pieces).__getitem__,
                      lufs=loudness(wave[:, None], song_.rate_hz), level_dbfs=float(level))  # fmt: skip


def reader(samples: Samples, rate_hz: int) -> Callable[[Samples], Samples]:
    frames = round(PIECE_S * rate_hz)

    def read(places_s: Samples) -> Samples:
        rows = []
        for place in places_s:
            piece = np.zeros((frames, samples.shape[1]), dtype=np.float32)
            start = round(place * rate_hz)
            there = samples[max(0, start) : max(0, start + frames)]
            piece[max(0, -start) : max(0, -start) + len(there)] = there
            rows.append(mixed(piece))
        return np.stack(rows)

    return read


def heard(samples: Samples, source: LeakSource, rate_hz: int) -> Leak | None:
    step = rate_hz // 10
    count = len(samples) // step
    powers = np.square(samples[: count * step]).reshape(count, step, -1).mean(axis=1).max(axis=1)
    return search(source, reader(samples, rate_hz), powers, lufs=loudness(samples, rate_hz),
                  channels=samples.shape[1])  # fmt: skip


def said(rule: str, leak: Leak | None, role: Role) -> list[Finding]:
    """What the rule makes of it, above a note."""
    return [one for one in findings(rule, judged(leak, role, rule)) if one.severity is not Severity.NOTE]


def judged(leak: Leak | None, role: Role, rule: str) -> ShowEvidence:
    made = part(role)
    made = replace(made, **{"click_leak" if rule == "click-bleed" else "timecode_leak": leak})
    run = ClickRun(first_beat=0, beats=2, bpm_first=120.0, bpm_last=120.0, steady=True)
    click = ClickTrack(
        beats_s=(0.0, 0.5), accents=(True, False), runs=(run,), bpm=120.0, metre=None, count_in_beats=None,
        first_beat_s=0.0,
    )  # fmt: skip
    return show(song("Song", stem("Stem.wav", role=role, parts=[made]), click=click))


@dataclass(kw_only=True)
class Cell:
    told: int = 0
    errors: int = 0
    planted: int = 0
    off_db: list[float] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)

    def line(self, name: str) -> str:
        low, high = wilson(self.told, self.planted)
        off = sorted(abs(one) for one in self.off_db)
        level = f"level off by {np.median(off):.1f} dB (worst {off[-1]:.1f})" if off else ""
        missed = f"  missed: {', '.join(self.missed[:6])}" if 0 < len(self.missed) <= 40 else ""
        return (f"{name:34} {self.told:4}/{self.planted:<4} {100 * self.told / max(1, self.planted):5.1f} % "
                f"[{100 * low:3.0f}–{100 * high:3.0f}]  errors {self.errors:4}  {level}{missed}")  # fmt: skip


def stems_of(every: list[Song]) -> Iterator[tuple[Song, LabStem, Samples]]:
    """Every stem; every second one with noise of its own, 45 to 60 dB under it."""
    number = 0
    for one in every:
        for lab_stem in one.lab.stems:
            samples = lab_stem.samples
            lufs = loudness(samples, one.rate_hz)
            number += 1
            if np.isfinite(lufs):
                if number % 2:
                    random = np.random.default_rng((one.seed, number))
                    level = 10 ** ((lufs - random.uniform(45.0, 60.0)) / 20)
                    samples = samples + (level * random.normal(size=samples.shape)).astype(np.float32)
                yield one, lab_stem, samples


def planted(
    cells: dict[str, Cell], rule: str, every: list[Song], most: int, ways: Sequence[str],
    sizes_db: Sequence[float],
) -> None:  # fmt: skip
    """Every way and size in every stem, and the stem as it is."""
    for one, lab_stem, samples in stems_of(every):
        ticks = rule == "click-bleed"
        wave = (one.click if ticks else one.code)[: len(samples)]
        source = source_of(wave, one, ticks=ticks)
        where = f"{one.lab.name}/{lab_stem.name} ({one.sound})"
        _count(cells.setdefault("nothing", Cell()), rule, samples, source, one, lab_stem, None, where)
        random = np.random.default_rng((one.seed, 5))
        for way in ways:
            taken = WAYS[way](wave, one.rate_hz, random)[:, None]
            taken = np.repeat(taken, samples.shape[1], axis=1)
            under = loudness(samples, one.rate_hz) - loudness(taken, one.rate_hz)
            sizes = [(f"{size:+.0f} dB", under + size) for size in sizes_db]
            if not ticks:
                sizes += [(f"{size:.0f} dBFS", size + 0.3 + 12.0) for size in TIMECODE_DBFS]
            for name, gain_db in sizes:
                cell = cells.setdefault(f"{way}, {name}", Cell())
                if cell.planted < most:
                    _count(cell, rule, samples + np.float32(10 ** (gain_db / 20)) * taken, source, one,
                           lab_stem, gain_db - under, where)  # fmt: skip


def _count(cell: Cell, rule: str, samples: Samples, source: LeakSource, one: Song, lab_stem: LabStem,
           relative_db: float | None, where: str) -> None:  # fmt: skip
    leak = heard(samples.astype(np.float32), source, one.rate_hz)
    found = said(rule, leak, lab_stem.role)
    cell.planted += 1
    cell.told += bool(found)
    cell.errors += any(finding.severity is Severity.ERROR for finding in found)
    if leak is not None and leak.relative_db is not None and relative_db is not None:
        cell.off_db.append(leak.relative_db - relative_db)
    if bool(found) != (relative_db is not None):
        cell.missed.append(where)


def alarms(cells: dict[str, Cell], every: list[Song]) -> None:
    """What is said of the provoking stems, by their kind; both rules."""
    for one in every:
        if len(one.lab.beats_s) < 16:
            continue
        sources = {
            "click-bleed": source_of(one.click, one, ticks=True),
            "timecode-bleed": source_of(one.code, one, ticks=False),
        }
        for name, samples in provoking(one, np.random.default_rng(one.seed)):
            for rule, source in sources.items():
                cell = cells.setdefault(f"{rule[:5]}: {name}", Cell())
                found = said(rule, heard(samples, source, one.rate_hz), Role.SYNTH)
                cell.planted += 1
                cell.told += bool(found)
                cell.errors += any(finding.severity is Severity.ERROR for finding in found)
                if found:
                    cell.missed.append(f"{one.lab.name} ({one.sound}) {found[0].value:.0f}")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.leak_lab", description=__doc__)
    parser.add_argument(
        "what", nargs="*", default=["click", "timecode", "clean"], help="click, timecode, clean"
    )
    parser.add_argument("--seed", type=int, default=3, help="of songs and sounds (tuned on: 3)")
    parser.add_argument("--most", type=int, default=1000, help="plantings a cell")
    parser.add_argument(
        "--songs", type=int, nargs=2, default=(0, 100), help="the first, and one past the last"
    )
    parser.add_argument("--ways", nargs="*", default=list(WAYS), help=f"of {', '.join(WAYS)}")
    parser.add_argument("--sizes", type=float, nargs="*", default=SIZES_DB, help="dB under the stem")
    arguments = parser.parse_args()
    every = songs(arguments.seed)[slice(*arguments.songs)]
    for what in arguments.what:
        print(f"\n{what} (seed {arguments.seed}, {len(every)} songs)")
        cells: dict[str, Cell] = {}
        try:
            if what == "clean":
                alarms(cells, every)
            else:
                planted(cells, f"{what}-bleed", every, arguments.most, arguments.ways, arguments.sizes)
        except KeyboardInterrupt:
            print("so far:")
        for name, cell in cells.items():
            if cell.planted:
                print(cell.line(name), flush=True)


if __name__ == "__main__":
    main()
