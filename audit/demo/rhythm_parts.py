"""Who keeps time: drums, percussion, bass, click and guide, written out note by note."""

from __future__ import annotations

from audit.demo.score import Bar, Composition, Note, near
from audit.demo.sound import seeded
from audit.demo.voices import COUNT, WORDS


def drums(song: Composition) -> list[Note]:
    """Kick and snare on the metre's groups, hats between, fills before a new section."""
    notes: list[Note] = []
    random = seeded("drums", song.title, song.seed)
    for bar in song.bars():
        notes += _drum_bar(song, bar, random.uniform(size=song.metre.eighths).tolist())
    return notes


def _drum_bar(song: Composition, bar: Bar, chances: list[float]) -> list[Note]:
    energy, step, pulses = bar.section.energy, song.metre.step, song.metre.pulses
    if bar.final:
        return [
            Note(beat=bar.beat, sound="kick", velocity=0.9),
            Note(beat=bar.beat, sound="crash", velocity=0.85),
        ]
    if energy < 0.3:
        return [Note(beat=bar.beat + pulse, sound="rim", velocity=0.45) for pulse in pulses[1::2]]
    hard = 0.55 + 0.4 * energy
    notes = []
    for number, pulse in enumerate(pulses):
        drum = "snare" if number % 2 else "kick"
        notes.append(Note(beat=bar.beat + pulse, sound=drum, velocity=hard * (0.95 if number else 1.0)))
    for number in range(song.metre.eighths):
        at = bar.beat + number * step
        on_pulse = number * step in pulses
        cymbal = "ride" if energy > 0.8 and on_pulse else "hat"
        if bar.last and number >= song.metre.eighths - 3:
            tom = ("high tom", "mid tom", "low tom")[number - song.metre.eighths]
            notes.append(Note(beat=at, sound=tom, velocity=0.6 + 0.3 * energy))
            continue
        notes.append(Note(beat=at, sound=cymbal, velocity=(0.75 if on_pulse else 0.5) * (0.7 + 0.3 * energy)))
        if not on_pulse and chances[number] < 0.3 * energy:
            notes.append(Note(beat=at, sound="kick", velocity=0.75 * hard))
        if energy > 0.6 and not on_pulse and chances[number] > 0.75:
            notes.append(Note(beat=at + step / 2, sound="snare", velocity=0.3))
    if bar.first and energy > 0.5:
        notes.append(Note(beat=bar.beat, sound="crash", velocity=0.8 * energy + 0.1))
    return notes


def percussion(song: Composition) -> list[Note]:
    """Shaker on every eighth, congas around it, a tambourine where it gets loud."""
    notes = []
    random = seeded("percussion", song.title, song.seed)
    for bar in song.bars():
        if bar.final:
            notes.append(Note(beat=bar.beat, sound="tambourine", velocity=0.6))
            continue
        for number in range(song.metre.eighths):
            at = bar.beat + number * song.metre.step
            on_pulse = number * song.metre.step in song.metre.pulses
            notes.append(Note(beat=at, sound="shaker", velocity=0.75 if on_pulse else 0.5))
            if random.uniform() < 0.25 + 0.3 * bar.section.energy:
                conga = "low conga" if on_pulse else "high conga"
                notes.append(Note(beat=at, sound=conga, velocity=0.5 + 0.35 * random.uniform()))
        if bar.section.energy > 0.6:
            notes += [
                Note(beat=bar.beat + p, sound="tambourine", velocity=0.55) for p in song.metre.pulses[1::2]
            ]
    return notes


def bass(song: Composition) -> list[Note]:
    """Roots on the groups, a fifth or octave between, a step towards the next chord."""
    notes = []
    bars = song.bars()
    random = seeded("bass", song.title, song.seed)
    for bar, following in zip(bars, [*bars[1:], bars[-1]], strict=True):
        root = near(bar.chord.root, 35)
        if bar.final:
            notes.append(Note(beat=bar.beat, beats=song.metre.beats, pitch=root, velocity=0.8))
            continue
        ends = [*song.metre.pulses[1:], song.metre.beats]
        for number, (pulse, end) in enumerate(zip(song.metre.pulses, ends, strict=True)):
            hard = 0.6 + 0.3 * bar.section.energy
            pitch = (
                root if number % 2 == 0 or random.uniform() < 0.5 else near(bar.chord.classes[2], root + 4)
            )
            if bar.section.energy > 0.45:
                middle = pulse + song.metre.step * (1 if random.uniform() < 0.4 else 2)
                if middle < end:
                    notes.append(
                        Note(
                            beat=bar.beat + middle, beats=end - middle, pitch=pitch + 12, velocity=hard * 0.85
                        )
                    )
                    end = middle
            notes.append(Note(beat=bar.beat + pulse, beats=(end - pulse) * 0.92, pitch=pitch, velocity=hard))
        if bar.section.energy > 0.6 and following.chord.root != bar.chord.root:
            target = near(following.chord.root, 35)
            step = song.metre.step
            notes.append(
                Note(
                    beat=bar.beat + song.metre.beats - step, beats=step * 0.8, pitch=target - 1, velocity=0.6
                )
            )
    return sorted(notes, key=lambda note: note.beat)


def click(song: Composition, *, from_bar: int | None = None) -> list[Note]:
    """One click a beat, the bar's first accented, up to and with the final bar's first.

    from_bar: where it begins (default: with the count-in); bar 0 is bar 1 of the music.
    """
    first = -song.count_in_bars if from_bar is None else from_bar
    notes = []
    for bar in range(first, song.bar_count):
        beats = 1 if bar == song.bar_count - 1 else song.metre.beats
        for inside in range(beats):
            sound = "accent" if inside == 0 else "beat"
            notes.append(Note(beat=bar * song.metre.beats + inside, sound=sound, velocity=0.9))
    return notes


def guide(song: Composition) -> list[Note]:
    """The count-in aloud, then each section's name in the bar before it."""
    notes = []
    for beat in range(-song.count_in_bars * song.metre.beats, 0):
        notes.append(Note(beat=beat, sound=COUNT[beat % song.metre.beats], velocity=0.8))
    for bar in song.bars():
        word = bar.section.name.split()[0].lower()
        if bar.first and bar.number > 0 and word in WORDS:
            notes.append(Note(beat=bar.beat - song.metre.beats, sound=word, velocity=0.8))
            ahead = song.metre.beats // 2
            for inside in range(ahead, song.metre.beats):
                word_at = bar.beat - song.metre.beats + inside
                notes.append(Note(beat=word_at, sound=COUNT[inside], velocity=0.65))
    return notes
