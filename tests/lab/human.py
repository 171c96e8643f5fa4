"""A show as people play it: other instruments, metres and habits than the demo's, and no grid but the click.

Every player is off the click in four ways at once: by a habit that is his in every song (the drummer 8 ms
ahead of the bass), by the song's own feel, by a push or a lying back of each section, and from note to note
(5 to 12 ms, partly wandering). Some clicks follow a live take, whose tempo wanders by up to one per cent.
Loops are on the grid. Guitars rest for bars, strings swell, singers come late and scoop, drummers play fills.
Nothing of it is a fault (common practice).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from audit.facts import Role
from tests.lab.players import LEAD_S, sound
from tests.lab.songs import LabShow, LabSong, LabStem

Samples = np.ndarray


@dataclass(frozen=True, slots=True)
class Feel:
    """Beats a bar, steps a beat, the beats of the backbeat, how far off-beats are delayed (share of a step),
    and between which tempi."""

    beats: int
    steps: int
    back: tuple[int, ...]
    swing: float = 0.0
    bpm: tuple[float, float] = (72.0, 150.0)


FEELS = (
    Feel(4, 2, (1, 3)), Feel(4, 4, (1, 3), 0.0, (70.0, 112.0)), Feel(4, 2, (1, 3), 0.3),
    Feel(3, 2, (1, 2), 0.0, (84.0, 160.0)), Feel(6, 1, (3,), 0.0, (150.0, 230.0)),
    Feel(4, 2, (2,), 0.0, (120.0, 172.0)), Feel(7, 1, (2, 4), 0.0, (190.0, 260.0)),
    Feel(4, 4, (1, 3), 0.12, (80.0, 104.0)), Feel(5, 2, (2, 4), 0.0, (100.0, 150.0)),
    Feel(4, 3, (1, 3), 0.0, (66.0, 100.0)), Feel(2, 4, (1,), 0.0, (76.0, 110.0)),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Note:
    step: float  # from the song's first bar
    steps: float
    name: str
    pitch: float = 60.0
    velocity: float = 0.8
    spread_s: float = 0.0  # after its time: strummed strings


@dataclass(frozen=True, slots=True)
class Person:
    """How one player is off, in ms."""

    habit: float
    jitter: float
    feel: float = 3.0  # between songs
    push: float = 3.0  # between sections


PEOPLE: dict[str, tuple[Role, Person]] = {
    "Drums.wav": (Role.DRUMS, Person(-4.0, 6.0, 1.5, 2.0)),
    "Perc.wav": (Role.PERCUSSION, Person(-1.0, 9.0, 2.0, 3.0)),
    "Bass.wav": (Role.BASS, Person(4.0, 8.0, 2.5, 3.0)),
    "Gtr Ac.wav": (Role.GUITAR, Person(1.0, 10.0, 2.5, 4.0)),
    "Gtr El.wav": (Role.GUITAR, Person(3.0, 12.0, 3.0, 4.0)),
    "Keys.wav": (Role.KEYS, Person(0.0, 8.0, 2.0, 3.0)),
    "Piano.wav": (Role.PIANO, Person(-1.0, 7.0, 2.0, 3.0)),
    "Loop.wav": (Role.LOOP, Person(0.0, 0.0, 0.0, 0.0)),
    "Strings.wav": (Role.STRINGS, Person(0.0, 14.0, 6.0, 6.0)),
    "Horns.wav": (Role.BRASS, Person(6.0, 10.0, 4.0, 5.0)),
    "Lead Vox.wav": (Role.LEAD_VOCAL, Person(18.0, 22.0, 8.0, 8.0)),
}


@dataclass(slots=True)
class Score:
    """One song's form: sections of bars with chords, and each part's pattern."""

    feel: Feel
    random: np.random.Generator
    bars: int
    sections: list[tuple[int, int]] = field(default_factory=list)  # first bar, bars
    roots: list[int] = field(default_factory=list)  # one a bar, semitones above E
    kick: list[float] = field(default_factory=list)  # steps of a bar

    @property
    def bar_steps(self) -> int:
        return self.feel.beats * self.feel.steps

    def third(self, bar: int) -> int:
        """Over the bar's root: the chords of E minor."""
        return 3 if self.roots[bar] in (0, 5, 7) else 4

    def some(self, chance: Callable[[int], float]) -> list[int]:
        """Steps of a bar that a pattern holds."""
        return [step for step in range(self.bar_steps) if self.random.random() < chance(step)]


def human_show(seed: int, *, songs: int = 11, seconds: float = 110.0, rate_hz: int = 44_100) -> LabShow:
    """Songs of one band. Every seed is another band, with other songs."""
    return LabShow(
        name=f"people, seed {seed}", by_people=True,
        songs=tuple(_song(seed, k, seconds, rate_hz) for k in range(songs)),
    )  # fmt: skip


def _song(seed: int, number: int, seconds: float, rate_hz: int) -> LabSong:
    random = np.random.default_rng((977, seed, number))
    feel = FEELS[(number + seed) % len(FEELS)]
    bpm = float(random.uniform(*feel.bpm))
    bars = int(np.ceil(seconds / (feel.beats * 60.0 / bpm)))
    score = _score(feel, bars, random)
    count_in = int(random.choice([1, 2])) * feel.beats
    beats_s = _beats(bpm, count_in + bars * feel.beats + 1, wander=number % 3 == 1, random=random)
    frames = round((beats_s[-1] + 3.0) * rate_hz)
    stems = []
    band = np.random.default_rng((978, seed))
    shift = {file: float(band.normal(0.0, 2.0)) for file in PEOPLE}
    wanted = _line_up(number, random)
    pushes = {file: random.standard_normal(bars + 1) for file in PEOPLE}
    for file in wanted:
        role, person = PEOPLE[file]
        notes = PARTS[file](score)
        wave = _played(
            notes, score, person, 0.0 if role is Role.LOOP else shift[file], pushes[file], beats_s[count_in:],
            frames, rate_hz, random,
        )  # fmt: skip
        stems.append(LabStem(name=file, role=role, samples=wave))
    return LabSong(
        name=f"People {seed}-{number}", rate_hz=rate_hz, beats_s=tuple(beats_s.tolist()), stems=tuple(stems)
    )


def _line_up(number: int, random: np.random.Generator) -> list[str]:
    always = ["Drums.wav", "Bass.wav"]
    other = [file for file in PEOPLE if file not in always]
    chosen = [file for file in other if random.random() < (0.75 if "Gtr" in file or "Keys" in file else 0.6)]
    while len(chosen) < 3:
        chosen = other[:4]
    return always + chosen


def _beats(bpm: float, count: int, *, wander: bool, random: np.random.Generator) -> np.ndarray:
    """The click, drawn from a live take where it wanders: by up to 1 %, bar by bar."""
    steps = np.full(count, 60.0 / bpm)
    if wander:
        walk = np.convolve(random.standard_normal(count + 32), np.hanning(33) / np.hanning(33).sum(), "valid")
        steps *= 1.0 + np.clip(0.02 * walk, -0.01, 0.01)
    return 0.4 + np.concatenate([[0.0], np.cumsum(steps)])


def _score(feel: Feel, bars: int, random: np.random.Generator) -> Score:
    score = Score(feel=feel, random=random, bars=bars)
    at = 0
    while at < bars:
        length = int(random.choice([4, 8, 8, 12]))
        score.sections.append((at, min(length, bars - at)))
        at += length
    loops = [[int(one) for one in random.choice([0, 3, 5, 7, 8, 10], 4)] for _ in range(3)]
    for number, (_, length) in enumerate(score.sections):
        score.roots += [loops[number % 3][bar % 4] for bar in range(length)]
    strong = {0}
    score.kick = sorted(
        strong | set(score.some(lambda step: 0.35 if step // feel.steps not in feel.back else 0.08))
    )
    return score


def _played(notes: Sequence[Note], score: Score, person: Person, shift_ms: float,
            pushes: np.ndarray, beats_s: np.ndarray, frames: int, rate_hz: int,
            random: np.random.Generator) -> Samples:  # fmt: skip
    """Notes on the click's beats, as this person plays them."""
    wave = np.zeros(frames, dtype=np.float32)
    steps = score.feel.steps
    base = person.habit + shift_ms + person.feel * float(random.standard_normal())
    section = np.zeros(score.bars + 1)
    for first, length in score.sections:
        section[first : first + length + 1] = person.push * pushes[first]
    wandering, where = 0.0, -1.0
    same: dict[float, float] = {}
    for take, note in enumerate(notes):
        whole, part = divmod(note.step, steps)
        place = part / steps
        if steps == 2 and part == 1:
            place += score.feel.swing * 0.5
        if steps == 4 and part in (1, 3):
            place += score.feel.swing * 0.25
        beat = min(int(whole), len(beats_s) - 2)
        start_s = beats_s[beat] + (place + whole - beat) * (beats_s[beat + 1] - beats_s[beat])
        if note.step != where:
            wandering = 0.9 * wandering + 0.436 * 0.6 * person.jitter * float(random.standard_normal())
            where = note.step
        bar = min(int(note.step // score.bar_steps), score.bars)
        own = same.setdefault(note.step, 0.8 * person.jitter * float(random.standard_normal()))
        start_s += (base + section[bar] + wandering + own) / 1000.0 + note.spread_s
        start_s -= LEAD_S.get(note.name, 0.0)
        step_s = (beats_s[beat + 1] - beats_s[beat]) / steps
        tone = sound(note.name, note.pitch, max(0.05, round(note.steps * step_s, 1)), take % 5, rate_hz)
        begin = max(0, round(start_s * rate_hz))
        count = min(len(tone), frames - begin)
        if count > 0:
            wave[begin : begin + count] += np.float32(note.velocity) * tone[:count]
    peak = float(np.abs(wave).max(initial=0.0))
    wave = wave * np.float32(0.5 / peak) if peak > 0.0 else wave
    hiss = (2e-5 * random.standard_normal(frames)).astype(np.float32)
    return (wave + hiss)[:, None]


def _every_bar(score: Score) -> list[tuple[int, int, bool, int]]:
    """(bar, its first step, whether a section ends with it, section's number)."""
    found = []
    for number, (first, length) in enumerate(score.sections):
        for bar in range(first, first + length):
            found.append((bar, bar * score.bar_steps, bar == first + length - 1, number))
    return found


def _hard(score: Score) -> float:
    return float(np.clip(score.random.normal(0.75, 0.12), 0.3, 1.0))


def _drums(score: Score) -> list[Note]:
    feel, random, notes = score.feel, score.random, []
    hats = int(random.choice([1, 1, max(1, feel.steps // 2)]))
    for _, at, last, number in _every_bar(score):
        fill = last and random.random() < 0.8
        until = score.bar_steps - (feel.steps * (2 if feel.beats > 2 else 1) if fill else 0)
        for step in range(until):
            if step in score.kick and random.random() < 0.93:
                notes.append(Note(at + step, 1, "kick", velocity=_hard(score)))
            if step % feel.steps == 0 and step // feel.steps in feel.back:
                notes.append(Note(at + step, 1, "snare", velocity=_hard(score)))
            elif random.random() < 0.06:
                notes.append(Note(at + step, 1, "snare", velocity=0.15))
            if step % hats == 0 and random.random() < 0.95:
                notes.append(
                    Note(at + step, 2.0 if number % 3 == 2 else 0.3, "hat", velocity=0.35 * _hard(score))
                )
        if fill:
            for k in np.arange(until, score.bar_steps, 0.5 if feel.steps < 3 else 1.0):
                if random.random() < 0.8:
                    notes.append(
                        Note(at + float(k), 1, "tom", float(random.choice([40, 45, 50])), _hard(score))
                    )
    return notes


def _percussion(score: Score) -> list[Note]:
    notes, random = [], score.random
    shaken = random.random() < 0.5
    pattern = score.some(lambda step: 0.9 if shaken else 0.45) or [0]
    for _, at, _, number in _every_bar(score):
        if number % 4 == 0 and random.random() < 0.5:
            continue
        for step in pattern:
            if random.random() < 0.9:
                name = "shaker" if shaken else "conga"
                notes.append(Note(at + step, 1, name, float(random.choice([55, 60])), _hard(score)))
    return notes


def _bass(score: Score) -> list[Note]:
    notes, random = [], score.random
    own = score.some(lambda step: 0.25)
    pattern = sorted({0} | {step for step in score.kick if random.random() < 0.8} | set(own))
    for bar, at, last, _ in _every_bar(score):
        for k, step in enumerate(pattern):
            if step and random.random() < 0.1:
                continue
            upto = pattern[k + 1] if k + 1 < len(pattern) else score.bar_steps
            pitch = 28 + score.roots[bar] + (7 if last and step else 0)
            notes.append(Note(at + step, 0.9 * (upto - step), "fingered", pitch, _hard(score)))
    return notes


def _strummed(score: Score) -> list[Note]:
    notes, random = [], score.random
    pattern = score.some(lambda step: 0.85 if step % score.feel.steps == 0 else 0.5) or [0]
    for bar, at, _, _ in _every_bar(score):
        for step in pattern:
            if random.random() < 0.9:
                down = step % 2 == 0
                third = 12 + score.third(bar)
                strings = (0, 7, 12, third, 19) if down else (19, third, 12)
                gap, hard = float(random.uniform(0.002, 0.005)), _hard(score)
                for k, string in enumerate(strings):
                    notes.append(
                        Note(at + step, 1.5, "string", 40 + score.roots[bar] + string, 0.5 * hard, k * gap)
                    )
    return notes


def _sparse(score: Score) -> list[Note]:
    """Rests for bars, then picks a figure, or chops the off-beats."""
    notes, random = [], score.random
    chops = random.random() < 0.35 and score.feel.steps == 2
    figure = [s for s in range(score.bar_steps) if s % 2] if chops else score.some(lambda step: 0.4) or [0]
    for bar, at, _, number in _every_bar(score):
        if number % 2 == 0 and random.random() < 0.6:
            continue
        for step in figure:
            if random.random() < 0.85:
                pitch = 52 + score.roots[bar] + float(random.choice([0, score.third(bar), 7, 12]))
                notes.append(Note(at + step, 0.4 if chops else 1.8, "string", pitch, _hard(score)))
    return notes


def _chords(name: str, centre: int, often: float) -> Callable[[Score], list[Note]]:
    def written(score: Score) -> list[Note]:
        notes, random = [], score.random
        pattern = sorted({0} | set(score.some(lambda step: often)))
        for bar, at, _, _ in _every_bar(score):
            for k, step in enumerate(pattern):
                if random.random() < 0.12:
                    continue
                upto = pattern[k + 1] if k + 1 < len(pattern) else score.bar_steps
                hard = _hard(score)
                for tone in (0, score.third(bar), 7):
                    notes.append(
                        Note(
                            at + step,
                            0.85 * (upto - step),
                            name,
                            centre + score.roots[bar] + tone,
                            0.5 * hard,
                        )
                    )
        return notes

    return written


def _loop(score: Score) -> list[Note]:
    pattern = score.some(lambda step: 0.6) or [0]
    pitches = [float(one) for one in score.random.choice([64, 67, 71, 74], len(pattern))]
    return [
        Note(at + step, 1, "blip", pitch, 0.9 if step == 0 else 0.6)
        for _, at, _, number in _every_bar(score)
        if number % 5 != 4
        for step, pitch in zip(pattern, pitches, strict=True)
    ]


def _strings(score: Score) -> list[Note]:
    return [
        Note(at, score.bar_steps * 0.95, "bowed", 64 + score.roots[bar] + tone, 0.6)
        for bar, at, _, number in _every_bar(score)
        if number % 2
        for tone in (0, 7)
    ]


def _horns(score: Score) -> list[Note]:
    pattern = score.some(lambda step: 0.25) or [0]
    return [
        Note(at + step, 0.8, "horns", 52 + score.roots[bar] + tone, _hard(score))
        for bar, at, _, number in _every_bar(score)
        if number % 3
        for step in pattern
        for tone in (0, score.third(bar))
    ]


def _sung(score: Score) -> list[Note]:
    notes, random = [], score.random
    for bar, at, _, number in _every_bar(score):
        if number == 0 or bar % 4 == 3:
            continue
        step = float(random.choice([0.0, 0.0, 1.0]))
        while step < score.bar_steps:
            length = float(random.choice([1.0, 1.0, 2.0, 3.0]))
            if random.random() < 0.8:
                root = score.roots[bar]
                pitch = 60 + (4 + int(random.choice([root, root + 7, 3, 0]))) % 12  # E is 64
                notes.append(Note(at + step, length, "voice", pitch, _hard(score)))
            step += length
    return notes


PARTS: dict[str, Callable[[Score], list[Note]]] = {
    "Drums.wav": _drums, "Perc.wav": _percussion, "Bass.wav": _bass, "Gtr Ac.wav": _strummed,
    "Gtr El.wav": _sparse, "Keys.wav": _chords("reeds", 64, 0.25), "Piano.wav": _chords("upright", 52, 0.35),
    "Loop.wav": _loop, "Strings.wav": _strings, "Horns.wav": _horns, "Lead Vox.wav": _sung,
}  # fmt: skip
