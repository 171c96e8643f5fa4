"""Shows of many keys, chords and line-ups for questions of harmony, and songs made to mislead them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from audit.demo import melodic_parts
from audit.demo.band import PLAYERS, perform
from audit.demo.grid import FOUR_FOUR, SIX_EIGHT, Metre
from audit.demo.score import Composition, Note, Section, near
from audit.facts import Role
from tests.lab.songs import LabShow, LabSong, LabStem

NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
DEGREES = {
    "major": ((0, ""), (2, "m"), (4, "m"), (5, ""), (7, ""), (9, "m"), (10, "")),
    "minor": ((0, "m"), (3, ""), (5, "m"), (7, "m"), (8, ""), (10, ""), (7, "")),
}
"""Roots over the tonic and the usual quality; the last of each is a borrowed chord."""

COLOURS = {"": ("", "", "", "add9", "sus4", "7"), "m": ("m", "m", "m7", "m9")}

BANDS: tuple[tuple[Role, ...], ...] = (
    (Role.BASS, Role.GUITAR, Role.KEYS, Role.LEAD_VOCAL),
    (Role.BASS, Role.PIANO, Role.STRINGS, Role.LEAD_VOCAL, Role.BACKING_VOCALS),
    (Role.BASS, Role.ORGAN, Role.GUITAR, Role.BRASS),
    (Role.BASS, Role.PAD, Role.SYNTH, Role.KEYS, Role.CHOIR),
    (Role.BASS, Role.GUITAR, Role.PAD),
)


def composition(seed: int, number: int, seconds: float, *, bpm: float | None = None,
                key: int | None = None, metre: Metre = FOUR_FOUR) -> Composition:  # fmt: skip
    """A song with its own key, tempo and chords for every seed and number."""
    random = np.random.default_rng((seed, number, 5))
    mode = ("major", "minor")[int(random.integers(2))]
    tonic = int(random.integers(12)) if key is None else key
    tempo = float(random.uniform(72, 140)) * (1.0 if metre is FOUR_FOUR else 1.5) if bpm is None else bpm
    bars = int(np.ceil(seconds * tempo / 60.0 / metre.beats))
    sections: list[Section] = []
    while sum(section.bars for section in sections) < bars:
        kinds = random.choice(len(DEGREES[mode]), 4, p=(0.25, 0.12, 0.12, 0.18, 0.15, 0.13, 0.05))
        chords = tuple(_chord(random, tonic, *DEGREES[mode][int(kind)]) for kind in kinds)
        name, energy = f"part {len(sections) % 3}", round(float(random.uniform(0.4, 1.0)), 2)
        sections.append(Section(name=name, bars=8, chords=chords, energy=energy))
    end = NAMES[tonic] + ("m" if mode == "minor" else "")
    sections.append(Section(name="end", bars=1, chords=(end,), energy=0.7))
    return Composition(
        title=f"Varied {seed}-{number}", key=f"{NAMES[tonic]} {mode}", bpm=tempo, sections=tuple(sections),
        metre=metre, seed=seed, ring_s=2.5,
    )  # fmt: skip


def _chord(random: np.random.Generator, tonic: int, degree: int, quality: str) -> str:
    colour = COLOURS[quality][int(random.integers(len(COLOURS[quality])))]
    return NAMES[(tonic + degree) % 12] + colour


def varied_show(seed: int, *, songs: int = 6, seconds: float = 45.0, rate_hz: int = 48_000) -> LabShow:
    """Songs with drums, bass and two to four more; every third is in 6/8."""
    made = []
    for number in range(songs):
        song = composition(seed, number, seconds, metre=SIX_EIGHT if number % 3 == 2 else FOUR_FOUR)
        made.append(played(song, (Role.DRUMS, *BANDS[number % len(BANDS)]), rate_hz))
    return LabShow(name=f"varied songs, seed {seed}", songs=tuple(made))


def played(song: Composition, roles: Sequence[Role], rate_hz: int = 48_000) -> LabSong:
    return assembled(song, tuple(stem(song, role, rate_hz) for role in roles), rate_hz)


def assembled(song: Composition, stems: tuple[LabStem, ...], rate_hz: int = 48_000) -> LabSong:
    first = -song.count_in_bars * song.metre.beats
    last = (song.bar_count - 1) * song.metre.beats
    beats = tuple(song.grid.frame(beat, rate_hz) / rate_hz for beat in range(first, last + 1))
    return LabSong(name=song.title, rate_hz=rate_hz, beats_s=beats, stems=stems)


def stem(song: Composition, role: Role, rate_hz: int = 48_000, *, name: str | None = None,
         notes: Sequence[Note] | None = None, semitones: int = 0) -> LabStem:  # fmt: skip
    """One part; `semitones`: the player reads it in another key."""
    player = PLAYERS[role]
    part = list(player.write(song) if notes is None else notes)
    part = [replace(note, pitch=note.pitch + semitones) for note in part]
    take = perform(song, player, rate_hz, notes=part)
    return LabStem(name=name or f"{role.value.title()}.wav", role=role, samples=take.samples)


def misleading_show(seed: int, *, seconds: float = 40.0, rate_hz: int = 48_000) -> LabShow:
    """Songs with nothing wrong in which something stands apart from the chords on purpose."""
    songs = []
    for number, (name, extra) in enumerate(ON_PURPOSE.items()):
        song = replace(composition(seed, 100 + number, seconds), title=f"{name} {seed}")
        roles = BANDS[number % len(BANDS)][:3]
        own = [stem(song, role, rate_hz) for role in (Role.DRUMS, *roles) if role not in extra.instead]
        added = [
            stem(song, role, rate_hz, name=file, notes=write(song))
            for file, (role, write) in extra.parts.items()
        ]
        songs.append(assembled(song, (*own, *added), rate_hz))
    return LabShow(name=f"misleading songs, seed {seed}", songs=tuple(songs))


Write = Callable[[Composition], list[Note]]


@dataclass(frozen=True, kw_only=True)
class Extra:
    """Parts that are added to a song, by file, and roles of the band that they replace."""

    parts: dict[str, tuple[Role, Write]]
    instead: frozenset[Role] = frozenset()


def _bass_on(degree: int) -> Write:
    """The bass on another note of the chord: 1 the third, 2 the fifth."""

    def write(song: Composition) -> list[Note]:
        return [
            Note(beat=bar.beat + pulse, beats=0.9, pitch=near(bar.chord.classes[degree], 38), velocity=0.8)
            for bar in song.bars()
            for pulse in song.metre.pulses
        ]

    return write


def _pedal(*steps: int) -> Write:
    """Tones over the tonic, held or struck through all chords."""

    def write(song: Composition) -> list[Note]:
        low = near(song.scale[0], 43)
        return [
            Note(beat=bar.beat, beats=song.metre.beats * 0.95, pitch=low + step, velocity=0.7)
            for bar in song.bars()
            for step in steps
        ]

    return write


def _above(steps: int, *, strict: int | None = None) -> Write:
    """The tune so many steps of the scale higher, or strictly so many semitones."""

    def write(song: Composition) -> list[Note]:
        tune = melodic_parts.melody(song, 62, voice="singer")
        scale = [pitch for pitch in range(30, 100) if pitch % 12 in song.scale]
        moved = []
        for note in tune:
            nearest = min(range(len(scale)), key=lambda place: abs(scale[place] - note.pitch))
            pitch = scale[nearest + steps] if strict is None else note.pitch + strict
            moved.append(replace(note, pitch=pitch))
        return moved

    return write


def _tune(song: Composition) -> list[Note]:
    return melodic_parts.melody(song, 62, voice="singer")


def _chromatic(song: Composition) -> list[Note]:
    """A riff that slides down by semitones from the root, every bar."""
    return [
        Note(beat=bar.beat + k * song.metre.step, beats=song.metre.step * 0.9, velocity=0.7,
             pitch=near(bar.chord.root, 52) - (k % 6))
        for bar in song.bars()
        for k in range(song.metre.eighths)
    ]  # fmt: skip


def _blue(song: Composition) -> list[Note]:
    """A blues scale over whatever chords there are: flat third, flat fifth, flat seventh."""
    random = np.random.default_rng(len(song.title))
    low = near(song.scale[0], 64)
    return [
        Note(beat=bar.beat + k, beats=0.9, velocity=0.75, pitch=low + int(random.choice((0, 3, 5, 6, 7, 10))))
        for bar in song.bars()
        for k in range(song.metre.beats)
    ]


def _shape(*intervals: int) -> Write:
    """Held chords of one shape over every root: fifths, fourths, a triad on the fifth."""

    def write(song: Composition) -> list[Note]:
        return [
            Note(beat=bar.beat, beats=song.metre.beats * 0.95, velocity=0.7,
                 pitch=near(bar.chord.root, 57) + interval)
            for bar in song.bars()
            for interval in intervals
        ]  # fmt: skip

    return write


def _octave_down(song: Composition) -> list[Note]:
    return [replace(note, pitch=note.pitch - 12) for note in _tune(song)]


LEAD, KEYS, SYNTH = Role.LEAD_VOCAL, Role.KEYS, Role.SYNTH
ON_PURPOSE: dict[str, Extra] = {
    "Bass on the fifth": Extra(parts={"Low.wav": (Role.BASS, _bass_on(2))}, instead=frozenset({Role.BASS})),
    "Bass on the third": Extra(parts={"Low.wav": (Role.BASS, _bass_on(1))}, instead=frozenset({Role.BASS})),
    "Pedal": Extra(
        parts={"Pedal.wav": (Role.BASS, _pedal(0)), "Drone.wav": (Role.PAD, _pedal(0, 7))},
        instead=frozenset({Role.BASS}),
    ),
    "Thirds": Extra(parts={"Lead.wav": (LEAD, _tune), "Third.wav": (LEAD, _above(2))}),
    "Strict thirds": Extra(parts={"Lead.wav": (SYNTH, _tune), "Third.wav": (SYNTH, _above(0, strict=4))}),
    "Fourths": Extra(parts={"Lead.wav": (LEAD, _tune), "Fourth.wav": (LEAD, _above(3))}),
    "Fifths": Extra(parts={"Lead.wav": (SYNTH, _tune), "Fifth.wav": (SYNTH, _above(0, strict=7))}),
    "Sixths and octaves": Extra(
        parts={"Lead.wav": (LEAD, _tune), "Sixth.wav": (LEAD, _above(5)), "Low.wav": (SYNTH, _octave_down)}
    ),
    "Chromatic riff": Extra(parts={"Riff.wav": (Role.GUITAR, _chromatic)}),
    "Blue notes": Extra(parts={"Harp.wav": (SYNTH, _blue)}),
    "Power chords": Extra(parts={"Power.wav": (Role.GUITAR, _shape(0, 7, 12))}),
    "Stacked fourths": Extra(parts={"Fourths.wav": (KEYS, _shape(0, 5, 10))}),
    "Triads on the fifth": Extra(parts={"Upper.wav": (KEYS, _shape(7, 11, 14))}),
    "Doubled guitars": Extra(
        parts={
            "Gtr 1.wav": (Role.GUITAR, melodic_parts.guitar), "Gtr 2.wav": (Role.GUITAR, melodic_parts.guitar)
        }
    ),
    "Layered synths": Extra(parts={"Layer 1.wav": (SYNTH, _tune), "Layer 2.wav": (LEAD, _tune)}),
}  # fmt: skip
"""Common practice, all of it."""
