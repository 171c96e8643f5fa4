"""Who carries harmony and tune, written out note by note."""

from __future__ import annotations

from collections.abc import Iterator

from audit.demo.score import Bar, Composition, Note, near
from audit.demo.sound import seeded

RHYTHMS = ((0, 2, 3, 5, 6), (0, 1, 2, 4, 6), (0, 3, 4, 6), (1, 2, 4, 5), (0, 2, 4, 7), (0, 3, 5, 6))
"""Where a tune's notes begin, in eighths."""

VOWEL_TURNS = (("ah", "oh"), ("oh", "oo"), ("eh", "ee"), ("ah", "ah"), ("oo", "uh"), ("uh", "er"))
SYLLABLE_STARTS = ("", "s", "t", "", "f", "k")


def held_chords(song: Composition, centre: int, *, velocity: float, above: float = 0.0, below: float = 1.01,
                stay: float = 0.98) -> list[Note]:  # fmt: skip
    """A chord a bar, for the bars whose energy lies in [above, below)."""
    notes = []
    for bar in _bars(song, above, below):
        beats = song.metre.beats * (1.0 if bar.final else stay)
        for pitch in bar.chord.voiced(centre):
            hard = velocity * (0.75 + 0.25 * bar.section.energy)
            notes.append(Note(beat=bar.beat, beats=beats, pitch=pitch, velocity=round(hard, 2)))
    return notes


def guitar(song: Composition) -> list[Note]:
    """Strummed chords, down on the groups and lighter up between them; a string follows the other."""
    notes = []
    for bar in song.bars():
        strings = _guitar_voicing(bar)
        if bar.final:
            notes += _strum(bar.beat, song.metre.beats, strings, 0.85, down=True)
            continue
        for number, (pulse, end) in enumerate(_spans(song)):
            notes += _strum(
                bar.beat + pulse, (end - pulse) * 0.9, strings, 0.5 + 0.35 * bar.section.energy, down=True
            )
            if bar.section.energy > 0.4 and number % 2:
                up = pulse + song.metre.step
                notes += _strum(bar.beat + up, (end - up) * 0.8, strings[2:], 0.4, down=False)
    return notes


def _guitar_voicing(bar: Bar) -> tuple[int, ...]:
    low = near(bar.chord.root, 45)
    return (
        low,
        near(bar.chord.classes[2], low + 7),
        low + 12,
        *(near(c, low + 18) for c in bar.chord.classes[1:3]),
    )


def _strum(beat: float, beats: float, strings: tuple[int, ...], velocity: float, *, down: bool) -> list[Note]:
    order = strings if down else strings[::-1]
    return [
        Note(
            beat=beat,
            beats=beats,
            pitch=pitch,
            velocity=round(velocity * 0.97**number, 2),
            late_s=0.009 * number,
        )
        for number, pitch in enumerate(order)
    ]


def keys(song: Composition) -> list[Note]:
    """Chords on the first group and off the others."""
    notes = []
    for bar in song.bars():
        for number, (pulse, end) in enumerate(_spans(song)):
            at = pulse if number == 0 else pulse + song.metre.step
            if bar.final and number:
                break
            length = song.metre.beats if bar.final else (end - at) * 0.85
            for pitch in bar.chord.voiced(62 if number % 2 else 60):
                hard = round(0.5 + 0.3 * bar.section.energy - 0.08 * (number > 0), 2)
                notes.append(Note(beat=bar.beat + at, beats=length, pitch=pitch, velocity=hard))
    return notes


def piano(song: Composition) -> list[Note]:
    """Broken chords over an octave in the left hand."""
    notes = []
    for bar in song.bars():
        tones = bar.chord.voiced(64)
        low = near(bar.chord.root, 45)
        length = song.metre.beats
        notes.append(Note(beat=bar.beat, beats=length * 0.95, pitch=low, velocity=0.6))
        if bar.final:
            notes += [Note(beat=bar.beat, beats=length, pitch=pitch, velocity=0.65) for pitch in tones]
            continue
        figure = (*tones, tones[0] + 12, *tones[::-1])
        for number in range(song.metre.eighths):
            hard = 0.45 + 0.3 * bar.section.energy + (0.1 if number == 0 else 0.0)
            at = bar.beat + number * song.metre.step
            pitch = figure[number % len(figure)]
            notes.append(Note(beat=at, beats=song.metre.step * 1.6, pitch=pitch, velocity=round(hard, 2)))
    return notes


def strings(song: Composition) -> list[Note]:
    """Held chords with a line above that moves by the half bar."""
    notes = held_chords(song, 60, velocity=0.6)
    for bar in song.bars():
        tones = bar.chord.voiced(74)
        half = song.metre.pulses[len(song.metre.pulses) // 2]
        hard = round(0.6 + 0.25 * bar.section.energy, 2)
        if bar.final:
            notes.append(Note(beat=bar.beat, beats=song.metre.beats, pitch=tones[0], velocity=hard))
            continue
        notes.append(Note(beat=bar.beat, beats=half, pitch=tones[-1], velocity=hard))
        notes.append(
            Note(beat=bar.beat + half, beats=song.metre.beats - half, pitch=tones[-2], velocity=hard)
        )
    return sorted(notes, key=lambda note: note.beat)


def brass(song: Composition) -> list[Note]:
    """Stabs where the song is loud, swells where it is not."""
    notes = []
    for bar in song.bars():
        tones = bar.chord.voiced(60)
        if bar.final or bar.section.energy < 0.5:
            length = song.metre.beats * (1.0 if bar.final else 0.9)
            notes += [Note(beat=bar.beat, beats=length, pitch=pitch, velocity=0.6) for pitch in tones]
            continue
        step = song.metre.step
        for at, length in ((0.0, step * 0.9), (3 * step, step * 0.7), (song.metre.pulses[-1], step * 1.8)):
            notes += [Note(beat=bar.beat + at, beats=length, pitch=pitch, velocity=0.85) for pitch in tones]
    return notes


def melody(
    song: Composition, centre: int, *, above: float = 0.0, below: float = 1.01, voice: str = ""
) -> list[Note]:
    """A tune on the key's scale: one motif for each kind of section, leading to chord tones on the groups."""
    notes: list[Note] = []
    pitch = centre
    for bar in _bars(song, above, below):
        if bar.final:
            tones = bar.chord.voiced(pitch)
            notes.append(
                Note(beat=bar.beat, beats=song.metre.beats, pitch=tones[-1], velocity=0.7, sound="ah,oh,")
            )
            continue
        inside = int(bar.beat / song.metre.beats) % 2
        random = seeded("tune", song.title, voice, bar.section.name.split()[0], inside)
        starts = [s for s in RHYTHMS[random.integers(len(RHYTHMS))] if s < song.metre.eighths]
        for number, (start, end) in enumerate(zip(starts, [*starts[1:], song.metre.eighths], strict=True)):
            pitch = _next_pitch(song, bar, pitch, centre, int(random.integers(-2, 3)), number == 0)
            vowels = VOWEL_TURNS[random.integers(len(VOWEL_TURNS))]
            syllable = ",".join((*vowels, SYLLABLE_STARTS[random.integers(len(SYLLABLE_STARTS))]))
            length = min(end - start, 3) * song.metre.step * 0.9
            hard = round(0.65 + 0.25 * bar.section.energy, 2)
            at = bar.beat + start * song.metre.step
            notes.append(Note(beat=at, beats=length, pitch=pitch, velocity=hard, sound=syllable))
    return notes


def _next_pitch(song: Composition, bar: Bar, pitch: int, centre: int, move: int, strong: bool) -> int:
    allowed = bar.chord.classes if strong else song.scale
    line = [p for p in range(centre - 7, centre + 10) if p % 12 in allowed]
    nearest = min(range(len(line)), key=lambda place: abs(line[place] - pitch))
    return line[min(max(nearest + move, 0), len(line) - 1)]


def effects(song: Composition) -> list[Note]:
    """A rise through the bar before each loud section, an impact on its first beat."""
    notes = []
    for bar in song.bars():
        if bar.number and bar.first and bar.section.energy > 0.6:
            start = bar.beat - song.metre.beats
            notes.append(Note(beat=start, beats=song.metre.beats, sound="rise", velocity=0.8))
        if (bar.first and bar.section.energy > 0.6) or bar.final:
            notes.append(Note(beat=bar.beat, sound="impact", velocity=0.8))
    return notes


def _bars(song: Composition, above: float, below: float) -> Iterator[Bar]:
    for bar in song.bars():
        if above <= bar.section.energy < below or bar.final:
            yield bar


def _spans(song: Composition) -> Iterator[tuple[float, float]]:
    """Start and end of each group, in beats of the bar."""
    yield from zip(song.metre.pulses, (*song.metre.pulses[1:], float(song.metre.beats)), strict=True)
