"""What a song is before it sounds: key, chords, sections, bars, and notes in beats."""

from __future__ import annotations

from dataclasses import dataclass, field

from audit.demo.grid import FOUR_FOUR, Grid, Metre, Stretch

PITCH_CLASSES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
QUALITIES = {
    "": (0, 4, 7), "m": (0, 3, 7), "7": (0, 4, 7, 10), "m7": (0, 3, 7, 10), "maj7": (0, 4, 7, 11),
    "sus4": (0, 5, 7), "add9": (0, 4, 7, 14), "m9": (0, 3, 7, 14),
}  # fmt: skip
SCALES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 10)}


def pitch_class(text: str) -> tuple[int, str]:
    """The root of a chord or key name and what follows it: `F#m7` gives 6 and `m7`."""
    root, rest = PITCH_CLASSES[text[0]], text[1:]
    if rest[:1] in ("#", "b"):
        root, rest = root + (1 if rest[0] == "#" else -1), rest[1:]
    return root % 12, rest


def near(pitch_class_wanted: int, centre: int) -> int:
    """The pitch of that class that lies nearest to the centre."""
    return centre + (pitch_class_wanted - centre + 6) % 12 - 6


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord by its name."""

    text: str

    @property
    def root(self) -> int:
        return pitch_class(self.text)[0]

    @property
    def classes(self) -> tuple[int, ...]:
        root, quality = pitch_class(self.text)
        return tuple((root + interval) % 12 for interval in QUALITIES[quality])

    def voiced(self, centre: int) -> tuple[int, ...]:
        """Its notes in close position around a pitch: neighbours share tones and move little."""
        return tuple(sorted(near(wanted, centre) for wanted in self.classes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One thing played. Beats from bar 1; `sound` names a drum, a syllable or a word."""

    beat: float
    beats: float = 0.25
    pitch: int = 0
    velocity: float = 0.8
    sound: str = ""
    late_s: float = 0.0  # behind its beat: a strum, a laid-back player


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a song; its chords take a bar each and come round again."""

    name: str
    bars: int
    chords: tuple[str, ...]
    energy: float  # 0 to 1: who plays, and how hard


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar of a song's form."""

    number: int  # 0 for the first
    beat: float
    section: Section
    chord: Chord
    first: bool  # of its section
    last: bool  # of its section
    final: bool  # of the song: one chord, left to ring


@dataclass(frozen=True, slots=True, kw_only=True)
class Composition:
    """A song's form and time. The last bar of the last section is one chord that rings for `ring_s`."""

    title: str
    key: str  # "A minor"
    bpm: float  # of the click's beat
    sections: tuple[Section, ...]
    metre: Metre = FOUR_FOUR
    swing: float = 0.0  # 0 straight, 1 the second eighth on the third triplet
    end_bpm: float | None = None  # a steady ramp over the whole song
    count_in_bars: int = 1
    preroll_s: float = 0.5
    ring_s: float = 4.0
    click_sound: str = "beep"
    seed: int = 0
    grid: Grid = field(init=False)

    def __post_init__(self) -> None:
        lead_in = self.count_in_bars * self.metre.beats * 60.0 / self.bpm
        ramp = Stretch(beats=self.bar_count * self.metre.beats, bpm=self.bpm, end_bpm=self.end_bpm)
        object.__setattr__(self, "grid", Grid(first_beat_s=self.preroll_s + lead_in, stretches=(ramp,)))

    @property
    def bar_count(self) -> int:
        return sum(section.bars for section in self.sections)

    @property
    def scale(self) -> tuple[int, ...]:
        """Pitch classes of the key."""
        root, _ = pitch_class(self.key.split()[0])
        return tuple((root + step) % 12 for step in SCALES[self.key.split()[1]])

    @property
    def end_s(self) -> float:
        """Where the file ends: the final chord has rung."""
        return self.grid.at_s((self.bar_count - 1) * self.metre.beats) + self.ring_s

    def bars(self) -> list[Bar]:
        """The form, bar by bar."""
        bars: list[Bar] = []
        for section in self.sections:
            for inside in range(section.bars):
                bars.append(
                    Bar(
                        number=len(bars),
                        beat=len(bars) * self.metre.beats,
                        section=section,
                        chord=Chord(section.chords[inside % len(section.chords)]),
                        first=inside == 0,
                        last=inside == section.bars - 1,
                        final=len(bars) == self.bar_count - 1,
                    )
                )
        return bars

    def swung(self, beat: float) -> float:
        """A straight position as this song's feel plays it."""
        if not self.swing or self.metre.unit != 4:
            return beat
        whole, part = divmod(beat, 1.0)
        off = 0.5 + self.swing / 6
        return whole + (part * off / 0.5 if part < 0.5 else off + (part - 0.5) * (1 - off) / 0.5)
