"""The players: notes in beats become stems. Each role has its part, instrument and place in the mix."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from audit.demo import crew, drumkit, melodic_parts, plucked, rhythm_parts, sustained, voices
from audit.demo.score import Composition, Note
from audit.demo.sound import (
    Mono,
    Samples,
    add_at,
    driven,
    echoed,
    frames_of,
    placed,
    scaled,
    seeded,
    trembled,
)
from audit.facts import Role
from audit.units import from_db

Play = Callable[[Note, float, int, int], "Mono | Samples"]
"""(note, its length in seconds, its number in the part, rate) to a sound."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Player:
    """One role's part and instrument."""

    write: Callable[[Composition], list[Note]]
    play: Play
    channels: int
    level_db: float
    jitter_s: float = 0.0  # standard deviation of a person's timing
    finish: Callable[[Samples, int], Samples] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """A rendered stem: float32, shape (frames, channels), and where each note begins in it."""

    samples: Samples
    onsets: tuple[int, ...]  # frames, ascending; one for notes that begin together


def _syllable(note: Note, length_s: float, number: int, rate_hz: int) -> Mono:
    first, second, onset = note.sound.split(",")
    return voices.singer(note.pitch, length_s, note.velocity, (first, second), onset, rate_hz)


def _guitar_pair(note: Note, length_s: float, number: int, rate_hz: int) -> Samples:
    """Two takes of one string, left and right: a doubled guitar."""
    takes = [plucked.guitar_string(note.pitch, length_s, note.velocity, take, rate_hz) for take in (1, 2)]
    return np.stack(takes, axis=1)


def _effect(note: Note, length_s: float, number: int, rate_hz: int) -> Samples:
    return crew.rise(length_s, rate_hz) if note.sound == "rise" else crew.impact(rate_hz)


def _spread(pitch: int) -> float:
    """Keyboards: low notes left, high notes right."""
    return float(np.clip((pitch - 60) / 30, -0.5, 0.5))


def _lead_echo(bus: Samples, rate_hz: int) -> Samples:
    return echoed(bus, rate_hz, 0.28, 0.4, 0.22)


def _hit(note: Note, length_s: float, number: int, rate_hz: int) -> Samples:
    return drumkit.hit(note.sound, note.velocity, number, rate_hz)


PLAYERS: dict[Role, Player] = {
    Role.DRUMS: Player(
        write=rhythm_parts.drums, play=_hit, channels=2, level_db=-6.0, jitter_s=0.002,
        finish=lambda bus, r: driven(bus, 2.2),
    ),
    Role.PERCUSSION: Player(
        write=rhythm_parts.percussion, play=_hit, channels=2, level_db=-8.0, jitter_s=0.004,
        finish=lambda bus, r: driven(bus, 1.5),
    ),
    Role.BASS: Player(
        write=rhythm_parts.bass, channels=1, level_db=-13.0, jitter_s=0.003,
        play=lambda n, s, k, r: plucked.bass(n.pitch, s, n.velocity, r),
    ),
    Role.GUITAR: Player(
        write=melodic_parts.guitar, play=_guitar_pair, channels=2, level_db=-15.5, jitter_s=0.003,
        finish=lambda bus, r: driven(bus, 1.6),
    ),
    Role.KEYS: Player(
        write=melodic_parts.keys, channels=2, level_db=-13.5, jitter_s=0.003,
        play=lambda n, s, k, r: placed(plucked.electric_piano(n.pitch, s, n.velocity, r), _spread(n.pitch)),
        finish=lambda bus, r: trembled(bus, r, 4.3, 0.18, opposed=True),
    ),
    Role.PIANO: Player(
        write=melodic_parts.piano, channels=2, level_db=-6.0, jitter_s=0.003,
        play=lambda n, s, k, r: placed(plucked.piano(n.pitch, s, n.velocity, r), _spread(n.pitch)),
    ),
    Role.ORGAN: Player(
        write=lambda song: melodic_parts.held_chords(song, 64, velocity=0.8), channels=2, level_db=-17.0,
        play=lambda n, s, k, r: placed(plucked.organ(n.pitch, s, r), 0.0), jitter_s=0.004,
        finish=lambda bus, r: trembled(bus, r, 6.4, 0.22, opposed=True),
    ),
    Role.PAD: Player(
        write=lambda song: melodic_parts.held_chords(song, 62, velocity=0.8, stay=1.0), channels=2,
        level_db=-17.0, play=lambda n, s, k, r: sustained.pad(n.pitch, s, r),
    ),
    Role.STRINGS: Player(
        write=melodic_parts.strings, channels=2, level_db=-18.0, jitter_s=0.006,
        play=lambda n, s, k, r: sustained.strings(n.pitch, s, n.velocity, r),
    ),
    Role.BRASS: Player(
        write=melodic_parts.brass, channels=2, level_db=-15.0, jitter_s=0.004,
        play=lambda n, s, k, r: sustained.brass(n.pitch, s, n.velocity, r),
    ),
    Role.SYNTH: Player(
        write=lambda song: melodic_parts.melody(song, 72, voice="synth"), channels=2, level_db=-9.0,
        play=lambda n, s, k, r: placed(sustained.lead_synth(n.pitch, s, n.velocity, r), 0.15),
        finish=_lead_echo,
    ),
    Role.LEAD_VOCAL: Player(
        write=lambda song: melodic_parts.melody(song, 62, above=0.35, voice="singer"), play=_syllable,
        channels=1, level_db=-11.5, jitter_s=0.008,
    ),
    Role.BACKING_VOCALS: Player(
        write=lambda song: melodic_parts.held_chords(song, 67, velocity=0.7, above=0.55, stay=0.8),
        play=lambda n, s, k, r: voices.voices(n.pitch, s, n.velocity, "oo" if n.beat % 8 else "ah", 2, r),
        channels=2, level_db=-18.0, jitter_s=0.006,
    ),
    Role.CHOIR: Player(
        write=lambda song: melodic_parts.held_chords(song, 62, velocity=0.7), channels=2, level_db=-17.0,
        play=lambda n, s, k, r: voices.voices(n.pitch, s, n.velocity, "ah", 4, r), jitter_s=0.01,
    ),
    Role.EFFECTS: Player(write=melodic_parts.effects, play=_effect, channels=2, level_db=-14.0),
    Role.GUIDE: Player(
        write=rhythm_parts.guide, channels=1, level_db=-10.0,
        play=lambda n, s, k, r: voices.spoken(n.sound, r) * np.float32(n.velocity),
    ),
}  # fmt: skip


def click_track(
    song: Composition, rate_hz: int, *, level_db: float = 0.0, from_bar: int | None = None
) -> Take:
    """The click as one channel: every click begins on the frame nearest to its beat.

    level_db: relative to the level that fits the song's click sound. from_bar: see `rhythm_parts.click`.
    """

    def play(note: Note, length_s: float, number: int, rate_hz: int) -> Mono:
        return scaled(crew.click(song.click_sound, note.sound == "accent", rate_hz), note.velocity)

    player = Player(
        write=lambda s: rhythm_parts.click(s, from_bar=from_bar), play=play, channels=1,
        level_db=level_db + crew.CLICK_LEVELS_DB[song.click_sound],
    )  # fmt: skip
    return perform(song, player, rate_hz)


def perform(
    song: Composition,
    player: Player,
    rate_hz: int,
    *,
    notes: Sequence[Note] | None = None,
    late_s: float = 0.0,
    jitter_s: float | None = None,
) -> Take:
    """Play a part from the song's first frame to its end.

    notes: instead of the player's own part. late_s: the whole part behind the beat. jitter_s: instead of the
    player's own.
    """
    length = frames_of(song.end_s, rate_hz)
    bus = np.zeros((length, player.channels), dtype=np.float32)
    part = player.write(song) if notes is None else notes
    spread = player.jitter_s if jitter_s is None else jitter_s
    random = seeded("timing", song.title, song.seed, len(part))
    wobble = np.clip(random.standard_normal(len(part)), -2.0, 2.0) * spread
    onsets = set()
    by_beat: dict[float, float] = {}
    for number, note in enumerate(part):
        # A chord is one movement of the hands: its notes share one deviation.
        moved = by_beat.setdefault(note.beat, float(wobble[number])) + late_s
        start_s = song.grid.at_s(song.swung(note.beat)) + moved
        length_s = song.grid.at_s(song.swung(note.beat + note.beats)) + moved - start_s
        sound = player.play(note, round(max(length_s, 0.02), 2), number, rate_hz)
        frame = round((start_s + note.late_s) * rate_hz)
        onsets.add(round(start_s * rate_hz))
        add_at(bus, sound, frame)
    if player.finish is not None:
        bus = player.finish(bus, rate_hz)
    bus *= np.float32(from_db(player.level_db))
    _let_ring_out(bus, rate_hz)
    return Take(samples=bus, onsets=tuple(sorted(onsets)))


def _let_ring_out(bus: Samples, rate_hz: int) -> None:
    """Whatever still rings in the last second fades to silence, a quarter second before the file ends."""
    quiet, falling = frames_of(0.25, rate_hz), frames_of(1.25, rate_hz)
    count = min(falling, len(bus) - quiet)
    ramp = (0.5 + 0.5 * np.cos(np.pi * np.arange(count) / count)).astype(np.float32)
    bus[len(bus) - quiet - count : len(bus) - quiet] *= ramp[:, None]
    bus[len(bus) - quiet :] = 0.0
