"""The songs of the ordinary show (tests/shows.py), one function each: music, stems, what is odd about it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from audit.demo.band import PLAYERS, Take, click_track, perform
from audit.demo.desk import song_gain, summed
from audit.demo.grid import FOUR_FOUR, SEVEN_EIGHT, SIX_EIGHT, Metre
from audit.demo.recording import Recording, timecode_track
from audit.demo.rhythm_parts import click
from audit.demo.score import Composition, Note, Section
from audit.demo.sound import Samples, band, frames_of, seeded
from audit.facts import Role
from audit.timecode import FPS_25, Label
from tests.shows import ClickTruth, SongTruth, StemTruth, TimecodeTruth

TIMECODE_DBFS = -3.0
LOUD, QUIET = -14.5, -25.5
"""Ten LU between the loudest songs and the ballads."""


@dataclass
class Draft:
    """A song while it is being put together."""

    song: Composition
    rate_hz: int
    oddity: str
    recordings: dict[str, Recording] = field(default_factory=dict)
    stems: dict[str, StemTruth] = field(default_factory=dict)
    clicks: tuple[ClickTruth, ...] = ()
    click_file: str | None = None
    timecode: TimecodeTruth | None = None
    lufs: float | None = None

    @property
    def title(self) -> str:
        return self.song.title

    def put(
        self, file: str, samples: Samples, *roles: Role, onsets: tuple[int, ...] = (), late_s: float = 0.0
    ) -> None:
        """Add a file; one role for all channels, or one each."""
        channels = samples.shape[1]
        self.recordings[file] = Recording(samples=samples, role=roles[0], rate_hz=self.rate_hz)
        self.stems[file] = StemTruth(
            file=file, roles=roles * channels if len(roles) == 1 else roles, frames=len(samples),
            onsets=onsets, late_s=late_s, silent=not samples.any(),
        )  # fmt: skip

    def music(self, lufs: float, *, jitter_s: float | None = None, late: dict[str, float] | None = None,
              mono: tuple[str, ...] = (), stereo: tuple[str, ...] = (), enters: dict[str, int] | None = None,
              **files: Role) -> None:  # fmt: skip
        """Play the musical stems and set the song's level. File names without ".wav"; "_" stands for a blank.

        late: seconds behind the beat; mono, stereo: files whose channel count differs from the instrument's;
        enters: the bar (from 1) where a stem starts to play.
        """
        takes: dict[str, Take] = {}
        for name, role in files.items():
            player = PLAYERS[role]
            first = ((enters or {}).get(name, 1) - 1) * self.song.metre.beats
            notes = [note for note in player.write(self.song) if note.beat >= first]
            late_s = (late or {}).get(name, 0.0)
            take = perform(self.song, player, self.rate_hz, notes=notes, late_s=late_s, jitter_s=jitter_s)
            samples = take.samples
            if name in mono:
                samples = samples[:, :1] if role is Role.GUITAR else samples.mean(axis=1, keepdims=True)
            if name in stereo:
                samples = _widened(samples, self.rate_hz)
            takes[name] = Take(samples=samples, onsets=take.onsets)
        gain = song_gain([take.samples for take in takes.values()], self.rate_hz, lufs=lufs)
        self.lufs = lufs
        for name, take in takes.items():
            samples = take.samples * np.float32(gain)
            self.put(f"{name.replace('_', ' ')}.wav", samples, files[name], onsets=take.onsets,
                     late_s=(late or {}).get(name, 0.0))  # fmt: skip

    def click(self, file: str = "Click.wav", *, from_bar: int | None = None, sides: int = 1) -> None:
        """Add the click and its truth."""
        take = click_track(self.song, self.rate_hz, from_bar=from_bar)
        self.put(file, np.repeat(take.samples, sides, axis=1), Role.CLICK, onsets=take.onsets)
        self.count(file, from_bar=from_bar)

    def count(self, file: str, *, from_bar: int | None = None) -> None:
        """The truth of a click that lies in `file`."""
        beats = self.song.metre.beats
        self.click_file = file
        self.clicks = tuple(
            ClickTruth(
                sample=self.song.grid.frame(note.beat, self.rate_hz), bar=int(note.beat // beats) + 1,
                beat=int(note.beat % beats) + 1, accent=note.sound == "accent",
            )
            for note in click(self.song, from_bar=from_bar)
        )  # fmt: skip

    def guide(self, file: str = "Guide.wav") -> None:
        take = perform(self.song, PLAYERS[Role.GUIDE], self.rate_hz)
        self.put(file, take.samples, Role.GUIDE, onsets=take.onsets)

    def code(self, hour: int, file: str | None = "LTC.wav") -> Samples:
        """Add timecode (or only return it, for a file that holds more)."""
        track = timecode_track(self.song, self.rate_hz, Label(hour), level_dbfs=TIMECODE_DBFS)
        self.timecode = TimecodeTruth(
            start=Label(hour), rate=FPS_25, first_sample=0, frames=int(len(track) / self.rate_hz * 25),
            channel=0, level_dbfs=TIMECODE_DBFS,
        )  # fmt: skip
        if file is not None:
            self.put(file, track, Role.TIMECODE)
        return track

    def unused(self, file: str, role: Role, channels: int = 2) -> None:
        """A stem that has nothing to play and was printed all the same."""
        self.put(file, np.zeros((frames_of(self.song.end_s, self.rate_hz), channels), dtype=np.float32), role)

    def trimmed(self, file: str) -> None:
        """Cut off after the last sound, as some workstations bounce."""
        samples = self.recordings[file].samples
        last = int(np.flatnonzero(np.abs(samples).max(axis=1) > 1e-5)[-1])
        end = last + frames_of(0.02, self.rate_hz)
        self.recordings[file].samples = samples[:end]
        self.stems[file] = replace(self.stems[file], frames=end)

    def truth(self, folder: str) -> SongTruth:
        beats = self.song.metre.beats
        count = (self.song.bar_count - 1) * beats + 1
        return SongTruth(
            title=self.title, folder=folder, oddity=self.oddity, grid=self.song.grid, metre=self.song.metre,
            bars=self.song.bar_count, clicks=self.clicks, click_file=self.click_file, timecode=self.timecode,
            beats=tuple(self.song.grid.frame(beat, self.rate_hz) for beat in range(count)),
            count_in_beats=sum(mark.bar < 1 for mark in self.clicks), stems=tuple(self.stems.values()),
            lufs=self.lufs,
        )  # fmt: skip


def _widened(samples: Samples, rate_hz: int) -> Samples:
    """A mono sound on two sides that differ a little, as from a stereo microphone."""
    sides = np.repeat(samples, 2, axis=1)
    step = frames_of(0.011, rate_hz)
    sides[step:, 1] = 0.8 * samples[step:, 0] + 0.2 * samples[:-step, 0]
    return sides


def _song(title: str, key: str, bpm: float, chords: str, *, bars: int = 4, metre: Metre = FOUR_FOUR,
          energy: tuple[float, float] = (0.5, 0.85), **more: float | str) -> Composition:  # fmt: skip
    """A short song: half a verse, half a chorus, one bar to end."""
    names = tuple(chords.split())
    sections = (
        Section(name="verse", bars=bars // 2, chords=names, energy=energy[0]),
        Section(name="chorus", bars=bars - bars // 2, chords=names[::-1], energy=energy[1]),
        Section(name="end", bars=1, chords=names[:1], energy=energy[1]),
    )
    return Composition(title=title, key=key, bpm=bpm, metre=metre, sections=sections, ring_s=2.5, **more)  # type: ignore[arg-type]


def pavement_almanac(rate_hz: int) -> Draft:
    song = _song("Pavement Almanac", "A minor", 120, "Am F C G", bars=6)
    draft = Draft(song, rate_hz, "a full mix beside its parts")
    draft.music(
        LOUD,
        mono=("Gtr",),
        Drums=Role.DRUMS,
        Bass=Role.BASS,
        Gtr=Role.GUITAR,
        Keys=Role.KEYS,
        Lead_Vox=Role.LEAD_VOCAL,
    )
    mix = summed(recording.samples for recording in draft.recordings.values())
    draft.put("Full Mix.wav", mix, Role.FULL_MIX)
    draft.click()
    draft.guide()
    draft.code(1)
    return draft


def kettle_at_midnight(rate_hz: int) -> Draft:
    song = _song("Kettle at Midnight", "D major", 96, "D G Bm A", bars=6, energy=(0.35, 0.7), count_in_bars=0)
    draft = Draft(song, rate_hz, "a free intro: the piano alone, click from bar 3")
    enters = {"Drums": 4, "Bass": 4}
    draft.music(-17.0, enters=enters, Drums=Role.DRUMS, Bass=Role.BASS, Piano=Role.PIANO)
    piano = [_breathing(note, 2 * song.metre.beats) for note in PLAYERS[Role.PIANO].write(song)]
    take = perform(song, PLAYERS[Role.PIANO], rate_hz, notes=piano)
    level = np.abs(draft.recordings["Piano.wav"].samples).max() / np.abs(take.samples).max()
    draft.put("Piano.wav", take.samples * np.float32(level), Role.PIANO)
    draft.click(from_bar=2, sides=2)
    draft.code(2)
    return draft


def _breathing(note: Note, until: float) -> Note:
    """Rubato: up to an eighth of a second off the grid, the same for notes that belong together."""
    if note.beat >= until:
        return note
    return replace(note, late_s=float(seeded("rubato", note.beat).uniform(0.0, 0.12)))


def umbrella_county(rate_hz: int) -> Draft:
    draft = Draft(_song("Umbrella County", "G major", 108, "G Em C D"), rate_hz, "no click at all")
    draft.music(
        -16.0,
        mono=("Gtr",),
        stereo=("Bass",),
        Drums=Role.DRUMS,
        Bass=Role.BASS,
        Gtr=Role.GUITAR,
        Organ=Role.ORGAN,
    )
    return draft


def half_a_ladder(rate_hz: int) -> Draft:
    draft = Draft(
        _song("Half a Ladder", "E minor", 124, "Em C G D", bars=6), rate_hz, "a click from mid-song"
    )
    draft.music(-15.5, Drums=Role.DRUMS, Bass=Role.BASS, Synth=Role.SYNTH, Pad=Role.PAD)
    draft.click(from_bar=3)
    return draft


def seven_spoons(rate_hz: int) -> Draft:
    draft = Draft(_song("Seven Spoons", "C major", 132, "C F", bars=6), rate_hz, "nothing but a click")
    draft.click("Click Track.wav")
    return draft


def downhill_postman(rate_hz: int) -> Draft:
    song = _song("Downhill Postman", "F major", 100, "F Dm Bb C", bars=6, end_bpm=126.0)
    draft = Draft(song, rate_hz, "a steady ramp from 100 to 126 bpm")
    draft.music(-15.0, Drums=Role.DRUMS, Bass=Role.BASS, Gtr=Role.GUITAR, Brass=Role.BRASS)
    _pan_hard(draft, "Gtr.wav")
    draft.click(sides=2)
    draft.code(3)
    return draft


def _pan_hard(draft: Draft, file: str, side: int = 1) -> None:
    draft.recordings[file].samples[:, 1 - side] = 0.0


def waltzing_tin(rate_hz: int) -> Draft:
    song = _song("Waltzing Tin", "A major", 170, "A F#m D E", bars=6, metre=SIX_EIGHT)
    draft = Draft(song, rate_hz, "6/8, the click on the eighths")
    draft.music(
        -16.0, stereo=("Bass",), Drums=Role.DRUMS, Bass=Role.BASS, Strings=Role.STRINGS, Gtr=Role.GUITAR
    )
    _pan_hard(draft, "Gtr.wav")
    draft.click()
    draft.guide()
    return draft


def crooked_turnpike(rate_hz: int) -> Draft:
    song = _song(
        "Crooked Turnpike", "B minor", 216, "Bm G A Em", bars=6, metre=SEVEN_EIGHT, click_sound="woodblock"
    )
    draft = Draft(song, rate_hz, "7/8 as 2 + 2 + 3")
    draft.music(LOUD, Drums=Role.DRUMS, Bass=Role.BASS, Synth=Role.SYNTH, Perc=Role.PERCUSSION)
    draft.click()
    draft.code(4)
    return draft


def slow_pepper(rate_hz: int) -> Draft:
    song = _song("Slow Pepper", "Bb major", 112, "Bb Gm Eb F", swing=1.0, click_sound="tick")
    draft = Draft(song, rate_hz, "swing: the off-beats on the third triplet")
    draft.music(-16.5, mono=("Keys",), Drums=Role.DRUMS, Bass=Role.BASS, Keys=Role.KEYS, Horns=Role.BRASS)
    draft.click(sides=2)
    draft.guide("Cues.wav")
    return draft


def barefoot_inventory(rate_hz: int) -> Draft:
    draft = Draft(
        _song("Barefoot Inventory", "E minor", 92, "Em C D"), rate_hz, "people: jitter, the bass 15 ms behind"
    )
    draft.music(
        -16.5, jitter_s=0.006, late={"Bass": 0.015}, Drums=Role.DRUMS, Bass=Role.BASS, Gtr=Role.GUITAR,
        Perc=Role.PERCUSSION,
    )  # fmt: skip
    _pan_hard(draft, "Gtr.wav")
    draft.click()
    draft.guide()
    return draft


def late_train_linen(rate_hz: int) -> Draft:
    draft = Draft(
        _song("Late Train Linen", "C minor", 104, "Cm Ab Eb Bb"), rate_hz, "late entries, trimmed tails"
    )
    draft.music(
        -16.0, enters={"Strings": 3, "Vox": 3, "Choir": 5}, Drums=Role.DRUMS, Bass=Role.BASS,
        Strings=Role.STRINGS, Vox=Role.LEAD_VOCAL, Choir=Role.CHOIR,
    )  # fmt: skip
    draft.click(sides=2)
    draft.trimmed("Drums.wav")
    draft.trimmed("Vox.wav")
    draft.unused("Perc.wav", Role.PERCUSSION)
    draft.unused("FX.wav", Role.EFFECTS)
    return draft


def harbour_of_coats(rate_hz: int) -> Draft:
    draft = Draft(
        _song("Harbour of Coats", "D minor", 116, "Dm Bb F C"),
        rate_hz,
        "unused stems printed, the click inside the guide",
    )
    draft.music(
        -15.5, Drums=Role.DRUMS, Bass=Role.BASS, Gtr_L=Role.GUITAR, Gtr_R=Role.GUITAR, BGV=Role.BACKING_VOCALS
    )
    left, right = (draft.recordings[name] for name in ("Gtr L.wav", "Gtr R.wav"))
    again = perform(replace(draft.song, seed=5), PLAYERS[Role.GUITAR], rate_hz).samples
    right.samples = again * np.float32(np.abs(left.samples).max() / np.abs(again).max())
    _pan_hard(draft, "Gtr L.wav", 0)
    _pan_hard(draft, "Gtr R.wav", 1)
    draft.guide()
    click_take = click_track(draft.song, rate_hz)
    draft.recordings["Guide.wav"].samples += click_take.samples
    draft.count("Guide.wav")
    draft.unused("Strings.wav", Role.STRINGS)
    draft.unused("Perc.wav", Role.PERCUSSION)
    draft.unused("Keys.wav", Role.KEYS)
    draft.code(5, "SMPTE.wav")
    return draft


def paper_harvest(rate_hz: int) -> Draft:
    song = _song("Paper Harvest", "E major", 76, "E A", bars=2, energy=(0.4, 0.5))
    draft = Draft(song, rate_hz, "a ballad 10 LU quieter: drone pad, headphone spill in the vocal")
    draft.music(QUIET, Piano=Role.PIANO, Lead_Vox=Role.LEAD_VOCAL, Bass=Role.BASS, Pad=Role.PAD)
    pad = draft.recordings["Pad.wav"]
    drone = [
        Note(beat=0, beats=(song.bar_count - 1) * song.metre.beats, pitch=pitch, velocity=0.7)
        for pitch in (40, 52, 59)
    ]
    take = perform(song, PLAYERS[Role.PAD], rate_hz, notes=drone)
    pad.samples = take.samples * np.float32(np.abs(pad.samples).max() / np.abs(take.samples).max())
    draft.stems["Pad.wav"] = replace(draft.stems["Pad.wav"], onsets=take.onsets)
    draft.click()
    draft.code(6)
    _spill(draft, "Lead Vox.wav", peak_dbfs=-58.0)
    return draft


def _spill(draft: Draft, file: str, *, peak_dbfs: float) -> None:
    """The click as a singer's headphones leak it: thin, 3 ms late, never twice as loud."""
    rate_hz = draft.rate_hz
    leak = band(draft.recordings["Click.wav"].samples[:, 0], rate_hz, 900, 4500)
    steps = seeded("head", draft.title).uniform(0.5, 1.0, len(leak) // frames_of(0.4, rate_hz) + 2)
    leak = leak * np.interp(np.arange(len(leak)), np.arange(steps.size) * frames_of(0.4, rate_hz), steps)
    late = frames_of(0.003, rate_hz)
    vocal = draft.recordings[file].samples
    vocal[late:, 0] += (leak[:-late] * 10 ** (peak_dbfs / 20) / np.abs(leak).max()).astype(np.float32)
    draft.stems[file] = replace(draft.stems[file], hears_click_dbfs=peak_dbfs)


def two_sided_purse(rate_hz: int) -> Draft:
    draft = Draft(
        _song("Two-Sided Purse", "G minor", 128, "Gm Eb Bb F", bars=6), rate_hz, "click left, timecode right"
    )
    draft.music(
        LOUD,
        stereo=("Bass", "Vox"),
        mono=("Pad",),
        Drums=Role.DRUMS,
        Bass=Role.BASS,
        Pad=Role.PAD,
        Vox=Role.LEAD_VOCAL,
    )
    code = draft.code(7, None)
    assert draft.timecode is not None
    draft.timecode = replace(draft.timecode, channel=1)
    take = click_track(draft.song, rate_hz)
    both = np.concatenate([take.samples, code], axis=1)
    draft.put("Click+LTC.wav", both, Role.CLICK, Role.TIMECODE, onsets=take.onsets)
    draft.count("Click+LTC.wav")
    draft.unused("Choir.wav", Role.CHOIR)
    return draft


SONGS = (
    pavement_almanac, kettle_at_midnight, umbrella_county, half_a_ladder, seven_spoons, downhill_postman,
    waltzing_tin, crooked_turnpike, slow_pepper, barefoot_inventory, late_train_linen, harbour_of_coats,
    paper_harvest, two_sided_purse,
)  # fmt: skip
