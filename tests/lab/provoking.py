"""Clean songs made to provoke: parts that repeat, answer, anticipate or hold on, as real songs have them.

Nothing is wrong with any of them. A rule on whole beats and bars that speaks of one accuses the arranger.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from audit.demo.band import PLAYERS, perform
from audit.demo.grid import FOUR_FOUR, SIX_EIGHT, Metre
from audit.demo.melodic_parts import melody
from audit.demo.score import Composition, Note, Section
from audit.facts import Role
from tests.lab.songs import LabShow, LabSong, LabStem

Part = tuple[Role, Callable[[Composition], Sequence[Note]] | None]
"""A player, and what is played instead of the demo's part."""

BAND: dict[str, Part] = {
    "Drums.wav": (Role.DRUMS, None), "Bass.wav": (Role.BASS, None), "Guitar.wav": (Role.GUITAR, None),
    "Keys.wav": (Role.KEYS, None),
}  # fmt: skip
THREE_FOUR = Metre(beats=3)


def chords(
    song: Composition, *, at: Sequence[float] = (0.0,), beats: float = 0.9, centre: int = 62,
    every: int = 1, inside: int = 0, from_bar: int = 0, early: float = 0.0, late_bars: int = 0,
) -> list[Note]:  # fmt: skip
    """The bar's chord at some beats of every so manieth bar; `early` beats before it, or the chord of an
    earlier bar (`late_bars`)."""
    notes = []
    bars = song.bars()
    for bar in bars[from_bar:]:
        if bar.number % every != inside:
            continue
        chord = bars[max(0, bar.number - late_bars)].chord
        for beat in at:
            notes += [
                Note(beat=bar.beat + beat - early, beats=beats, pitch=pitch, velocity=0.75)
                for pitch in chord.voiced(centre)
            ]
    return [note for note in notes if note.beat >= -song.metre.beats]


def moved(notes: Sequence[Note], beats: float) -> list[Note]:
    return [
        Note(beat=note.beat + beats, beats=note.beats, pitch=note.pitch, velocity=note.velocity,
             sound=note.sound)
        for note in notes
    ]  # fmt: skip


def tune(song: Composition) -> list[Note]:
    return melody(song, 69, voice="synth")


def call(song: Composition) -> list[Note]:
    """Two bars of tune, two bars of rest."""
    bar = song.metre.beats
    return [note for note in tune(song) if note.beat % (4 * bar) < 2 * bar]


def response(song: Composition) -> list[Note]:
    """The call's own notes in the two bars after it."""
    return moved(call(song), 2.0 * song.metre.beats)


def third_below(song: Composition) -> list[Note]:
    return [
        Note(beat=note.beat, beats=note.beats, pitch=note.pitch - 3, velocity=note.velocity, sound=note.sound)
        for note in call(song)
    ]


def pedal(song: Composition) -> list[Note]:
    return [Note(beat=bar.beat + k, beats=0.9, pitch=33, velocity=0.8) for bar in song.bars() for k in (0, 2)]


def arpeggio_in_three(song: Composition) -> list[Note]:
    """Three notes round and round over four beats a bar."""
    notes = []
    for bar in song.bars():
        tones = bar.chord.voiced(67)
        for k in range(2 * song.metre.beats):
            at = 2 * song.metre.beats * bar.number + k
            notes.append(Note(beat=bar.beat + 0.5 * k, beats=0.45, pitch=tones[at % 3], velocity=0.7))
    return notes


def _song(
    title: str,
    parts: dict[str, Part],
    seed: int,
    *,
    loops: Sequence[str] = ("Am F C G", "F C G Am", "Am F C G", "Dm Am F G"),
    bars: int = 8,
    metre: Metre = FOUR_FOUR,
    swing: float = 0.0,
    free: bool = False,
) -> LabSong:
    random = np.random.default_rng((seed, len(title)))
    sections = [
        Section(name=f"part {k}", bars=bars, chords=tuple(loop.split()), energy=(0.5, 0.9)[k % 2])
        for k, loop in enumerate(loops)
    ]
    sections.append(Section(name="end", bars=1, chords=("Am",), energy=0.6))
    bpm = float(random.uniform(92, 132)) * (1.6 if metre is SIX_EIGHT else 1.0)
    song = Composition(
        title=f"{title} {seed}", key="A minor", bpm=bpm, sections=tuple(sections), metre=metre, swing=swing,
        seed=seed, count_in_bars=2,
    )  # fmt: skip
    stems = []
    for file, (role, write) in {**BAND, **parts}.items():
        notes = None if write is None else list(write(song))
        take = perform(song, PLAYERS[role], 48_000, notes=notes)
        if not np.any(take.samples):
            continue
        stems.append(LabStem(name=file, role=role, samples=take.samples))
    beats = [
        song.grid.at_s(beat)
        for beat in range(-2 * metre.beats, (song.bar_count - 1) * metre.beats + 1)
        if not (free and 11 * metre.beats < beat < 15 * metre.beats)
    ]
    return LabSong(
        name=title, rate_hz=48_000, beats_s=tuple(beats), stems=tuple(stems), beats_a_bar=metre.beats
    )


SONGS: dict[str, dict[str, object]] = {
    "Four chords all through": {"parts": {"Pad.wav": (Role.PAD, None)}, "loops": ("Am F C G",) * 5},
    "One chord": {
        "parts": {"Synth.wav": (Role.SYNTH, tune), "Pad.wav": (Role.PAD, None)}, "loops": ("Am",) * 4,
    },
    "Two chords": {"parts": {"Brass.wav": (Role.BRASS, None)}, "loops": ("Am G",) * 4},
    "Call and response": {
        "parts": {"Synth.wav": (Role.SYNTH, call), "Brass.wav": (Role.BRASS, response)},
    },
    "Call of two": {
        "parts": {
            "Synth.wav": (Role.SYNTH, call), "Strings.wav": (Role.STRINGS, third_below),
            "Brass.wav": (Role.BRASS, response),
        },
    },
    "Pedal bass": {"parts": {"Bass.wav": (Role.BASS, pedal), "Organ.wav": (Role.ORGAN, None)}},
    "Canon at two beats": {
        "parts": {
            "Synth.wav": (Role.SYNTH, tune), "Strings.wav": (Role.STRINGS, lambda s: moved(tune(s), 2.0)),
        },
    },
    "Canon of three at a bar": {
        "parts": {
            "Synth.wav": (Role.SYNTH, tune), "Strings.wav": (Role.STRINGS, lambda s: moved(tune(s), 4.0)),
            "Brass.wav": (Role.BRASS, lambda s: moved(tune(s), 8.0)),
        },
    },
    "Echo of a beat": {
        "parts": {
            "Synth.wav": (Role.SYNTH, tune), "Synth Echo.wav": (Role.SYNTH, lambda s: moved(tune(s), 1.0)),
        },
    },
    "Pick-up": {
        "parts": {"Synth.wav": (Role.SYNTH, lambda s: [Note(beat=-1.0, beats=0.9, pitch=69), *tune(s)])},
    },
    "From the second verse": {
        "parts": {
            "Strings.wav": (Role.STRINGS, lambda s: chords(s, beats=3.6, from_bar=16)),
            "Synth.wav": (Role.SYNTH, lambda s: [note for note in tune(s) if note.beat >= 64]),
        },
    },
    "Pushed chords": {
        "parts": {
            "Keys.wav": (Role.KEYS, lambda s: chords(s, beats=3.4, early=0.5)),
            "Brass.wav": (Role.BRASS, lambda s: chords(s, at=(0.0, 2.0), early=0.5)),
        },
    },
    "Stabs on two and four": {
        "parts": {
            "Brass.wav": (Role.BRASS, lambda s: chords(s, at=(1.0, 3.0))),
            "Keys.wav": (Role.KEYS, lambda s: chords(s, at=(0.5, 1.5, 2.5, 3.5), beats=0.4)),
        },
    },
    "Turnarounds only": {
        "parts": {
            "Brass.wav": (Role.BRASS, lambda s: chords(s, at=(0.0, 2.0), every=4, inside=3)),
            "Strings.wav": (Role.STRINGS, lambda s: chords(s, beats=7.8, every=2)),
        },
    },
    "Three over four": {"parts": {"Synth.wav": (Role.SYNTH, arpeggio_in_three)}},
    "Waltz": {"parts": {"Strings.wav": (Role.STRINGS, None)}, "metre": THREE_FOUR},
    "Six eight": {"parts": {"Pad.wav": (Role.PAD, None)}, "metre": SIX_EIGHT},
    "Swung": {"parts": {"Organ.wav": (Role.ORGAN, None)}, "swing": 0.9},
    "Free middle": {"parts": {"Organ.wav": (Role.ORGAN, None), "Pad.wav": (Role.PAD, None)}, "free": True},
    "Bass alone with a tune": {
        "parts": {"Guitar.wav": (Role.GUITAR, lambda s: []), "Keys.wav": (Role.KEYS, tune)},
    },
}  # fmt: skip


def provoking(seed: int, *titles: str) -> LabShow:
    """All of them, or those of these titles; the seed changes tempi, tunes and the players' timing."""
    return LabShow(
        name=f"provoking, seed {seed}",
        songs=tuple(
            _song(title, seed=seed, **how)  # type: ignore[arg-type]
            for title, how in SONGS.items()
            if not titles or title in titles
        ),
    )
