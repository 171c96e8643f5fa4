"""What the lab plants its faults in: songs with their stems in memory and their beats as the truth has
them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import soundfile

from audit.demo.band import PLAYERS, perform
from audit.demo.grid import FOUR_FOUR, SIX_EIGHT, Metre
from audit.demo.score import Composition, Section
from audit.demo.setlist import SET_LIST
from audit.facts import Role
from audit.folder.roles import read_name

Samples = np.ndarray

RHYTHMIC = frozenset({
    Role.DRUMS, Role.PERCUSSION, Role.LOOP, Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO,
})  # fmt: skip
MARKING = frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP})
NO_MUSIC = frozenset({Role.CLICK, Role.GUIDE, Role.TIMECODE})


@dataclass(frozen=True, kw_only=True)
class LabStem:
    """One stem: float32, shape (frames, channels)."""

    name: str
    role: Role
    samples: Samples


@dataclass(frozen=True, kw_only=True)
class LabSong:
    """One song of a lab show. No beats: a song without click."""

    name: str
    rate_hz: int
    beats_s: tuple[float, ...]
    stems: tuple[LabStem, ...]
    beats_a_bar: int = 4

    @property
    def seconds(self) -> float:
        return max(len(stem.samples) for stem in self.stems) / self.rate_hz


@dataclass(frozen=True, kw_only=True)
class LabShow:
    """Songs that are each other's habit."""

    name: str
    songs: tuple[LabSong, ...] = field(default=())
    by_people: bool = False  # human timing


def corpus(folder: Path) -> LabShow:
    """The shared corpus: rendered by other hands."""
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    songs = []
    for song in truth["songs"]:
        where = folder / song["folder"]
        beats = tuple(sample / song["fs"] for sample in song["click"]["positions"])
        stems = [
            (entry["file"], role_of(entry["file"]), where / entry["file"])
            for entry in song["stems"]
            if role_of(entry["file"]) not in NO_MUSIC
        ]
        a_bar = song["metre"][0]["numerator"]
        songs.append(replace(_read(song["name"], song["fs"], beats, stems), beats_a_bar=a_bar))
    return LabShow(name="corpus", songs=tuple(songs))


def role_of(file: str) -> Role:
    """As the folder walk reads it from the name."""
    return read_name(file.rpartition(".")[0]).role


def ordinary(folder: Path, rate_hz: int = 48_000) -> LabShow:
    """The ordinary show, written into an empty folder and read back."""
    from tests.shows import ordinary_show

    show = ordinary_show(folder, rate_hz=rate_hz)
    songs = []
    for song in show.songs:
        beats = tuple(mark.sample / show.rate_hz for mark in song.clicks)
        stems = [
            (stem.file, stem.roles[0], show.path / song.folder / stem.file)
            for stem in song.stems
            if not stem.silent and stem.roles[0] not in NO_MUSIC
        ]
        if stems:
            songs.append(_read(song.title, show.rate_hz, beats, stems))
    return LabShow(name="ordinary show", songs=tuple(songs))


def demo(rate_hz: int = 48_000) -> LabShow:
    """The demo's set list without its faults."""
    return LabShow(name="demo", songs=tuple(play(entry.song, entry.stems, rate_hz) for entry in SET_LIST))


def play(
    song: Composition, stems: dict[str, Role], rate_hz: int, *, jitter_s: float | None = None
) -> LabSong:
    """A composition as the demo's band plays it."""
    made = []
    for file, role in stems.items():
        if role in NO_MUSIC:
            continue
        take = perform(song, PLAYERS[role], rate_hz, jitter_s=jitter_s)
        if np.any(take.samples):
            made.append(LabStem(name=file, role=role, samples=take.samples))
    first = -song.count_in_bars * song.metre.beats
    last = (song.bar_count - 1) * song.metre.beats
    beats = tuple(song.grid.frame(beat, rate_hz) / rate_hz for beat in range(first, last + 1))
    return LabSong(
        name=song.title, rate_hz=rate_hz, beats_s=beats, stems=tuple(made), beats_a_bar=song.metre.beats
    )  # fmt: skip


FEELS: tuple[tuple[float, float, Metre], ...] = (
    (0.0, 0.003, FOUR_FOUR), (0.8, 0.004, FOUR_FOUR), (0.0, 0.009, FOUR_FOUR), (0.0, 0.004, SIX_EIGHT),
)  # fmt: skip
"""Swing, jitter in seconds, metre."""

LONG_STEMS = {
    "Drums.wav": Role.DRUMS, "Bass.wav": Role.BASS, "Guitar.wav": Role.GUITAR, "Keys.wav": Role.KEYS,
    "Percussion.wav": Role.PERCUSSION, "Pad.wav": Role.PAD,
}  # fmt: skip


def long_show(seed: int, *, songs: int = 5, seconds: float = 250.0, rate_hz: int = 48_000) -> LabShow:
    """Songs of four minutes and more: other chords, tempi, feels and players for every seed."""
    return LabShow(
        name=f"long songs, seed {seed}", songs=tuple(_long(seed, k, seconds, rate_hz) for k in range(songs))
    )


def _long(seed: int, number: int, seconds: float, rate_hz: int) -> LabSong:
    random = np.random.default_rng((seed, number))
    swing, jitter_s, metre = FEELS[number % len(FEELS)]
    bpm = float(random.uniform(76, 138)) * (1.0 if metre is FOUR_FOUR else 1.6)
    key = ("A minor", "D major", "E minor", "G major", "C minor")[int(random.integers(5))]
    chords = {"A minor": "Am F C G", "D major": "D G Bm A", "E minor": "Em C G D", "G major": "G Em C D",
              "C minor": "Cm Ab Eb Bb"}[key].split()  # fmt: skip
    bar_s = metre.beats * 60.0 / bpm
    bars = int(np.ceil(seconds / bar_s))
    sections = []
    while sum(section.bars for section in sections) < bars:
        order = tuple(chords[int(index)] for index in random.permutation(4))
        sections.append(
            Section(
                name=f"part {len(sections)}", bars=8, chords=order, energy=float(random.uniform(0.45, 1.0))
            )
        )
    sections.append(Section(name="end", bars=1, chords=(chords[0],), energy=0.6))
    song = Composition(
        title=f"Long {seed}-{number}", key=key, bpm=bpm, sections=tuple(sections), metre=metre, swing=swing,
        seed=seed,
    )  # fmt: skip
    return play(song, LONG_STEMS, rate_hz, jitter_s=jitter_s)


def _read(
    name: str, rate_hz: int, beats_s: tuple[float, ...], stems: list[tuple[str, Role, Path]]
) -> LabSong:
    read = (
        LabStem(name=file, role=role, samples=soundfile.read(path, dtype="float32", always_2d=True)[0])
        for file, role, path in stems
    )
    return LabSong(name=name, rate_hz=rate_hz, beats_s=beats_s, stems=tuple(read))


def with_stem(song: LabSong, changed: LabStem) -> LabSong:
    """The song with one stem replaced."""
    return replace(song, stems=tuple(changed if stem.name == changed.name else stem for stem in song.stems))


def rhythmic(show: LabShow) -> Iterator[tuple[LabSong, LabStem]]:
    """Every rhythmic stem of every song with a click."""
    for song in show.songs:
        if song.beats_s:
            for stem in song.stems:
                if stem.role in RHYTHMIC:
                    yield song, stem
