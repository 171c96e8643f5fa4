"""The faults planted in the demo: what was done, to which stem, and which rule has to find it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from audit.demo import faults
from audit.demo.recording import Recording, Session, timecode_track
from audit.demo.setlist import SET_LIST
from audit.demo.sound import frames_of
from audit.facts import Role
from audit.timecode import Label


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One fault of the demo: where, which rule finds it, what was done."""

    song: str
    stem: str | None
    rule: str
    what: str


def _other_rate(session: Session) -> None:
    take = session.played(Role.KEYS, 44_100)
    session.recordings["Keys.wav"] = Recording(samples=take, role=Role.KEYS, rate_hz=44_100)


def _dc(session: Session) -> None:
    bass = session.recordings["Bass.wav"]
    bass.samples = faults.with_dc(bass.samples, 0.008)


def _timecode_from_two_takes(session: Session) -> None:
    code = session.recordings["Timecode.wav"]
    hour = next(n for n, entry in enumerate(SET_LIST, start=1) if entry.title == session.song.title)
    ten_seconds_on = timecode_track(session.song, code.rate_hz, Label(hour, 0, 10))
    code.samples = faults.punched_in(code.samples, ten_seconds_on, frames_of(17.0, code.rate_hz))


def _interrupted_copy(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.cut_short(folder / "Strings.wav", 0.61))


def _silent_click(session: Session) -> None:
    click = session.recordings["Click.wav"]
    click.samples = faults.silenced(click.samples)


def _clipped_guitar(session: Session) -> None:
    guitar = session.recordings["Guitar.wav"]
    guitar.samples = faults.clipped(guitar.samples, over_db=1.0)
    guitar.dithered = False


def _as_loud_as_that(session: Session) -> None:
    """What `_clipped_guitar` brings with it: at full scale the guitar drowns its song."""
    assert abs(session.recordings["Guitar.wav"].samples).max() == 1.0


def _no_timecode(session: Session) -> None:
    assert "Timecode.wav" not in session.recordings


def _opposed_synth(session: Session) -> None:
    synth = session.recordings["Synth.wav"]
    synth.samples = faults.opposed(synth.samples)


def _sixteen_bit(session: Session) -> None:
    session.recordings["Percussion.wav"].bits = 16


def _session_file(session: Session) -> None:
    text = "Bounce list for Lantern Tax: synth again, percussion again (somebody had the wrong preset).\n"
    session.afterwards.append(_leaver("bounce list.txt", text.encode()))


def _ends_early(session: Session) -> None:
    guitar = session.recordings["Guitar.wav"]
    song = session.song
    bars_s = 4 * song.metre.beats * 60.0 / song.bpm
    guitar.samples = faults.ended_early(guitar.samples, frames_of(bars_s + song.ring_s, guitar.rate_hz))


def _click_with_a_hole(session: Session) -> None:
    click = session.recordings["Click.wav"]
    beat = session.song.grid.frame(5 * session.song.metre.beats + 2, click.rate_hz)
    click.samples = faults.muted(click.samples, beat - 100, frames_of(0.1, click.rate_hz))


def _keys_as_pad(session: Session) -> None:
    keys = session.recordings["Keys.wav"]
    session.recordings["Pad.wav"] = Recording(samples=keys.samples, role=Role.PAD, dither_seed="Keys.wav")


def _crashed_recorder(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.left_unfinished(folder / "Backing Vocals.wav"))


def _second_version(session: Session) -> None:
    take = session.played(Role.LEAD_VOCAL, 48_000, song=replace(session.song, seed=2))
    session.recordings["Lead Vocal v2.wav"] = Recording(samples=take, role=Role.LEAD_VOCAL)


def _rotten_flac(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.decayed(folder / "Organ.flac", 0.6))


def _converted_percussion(session: Session) -> None:
    percussion = session.recordings["Percussion.wav"]
    percussion.samples = faults.converted(session.played(Role.PERCUSSION, 44_100), 44_100, percussion.rate_hz)


def _lost_buffer(session: Session) -> None:
    piano = session.recordings["Piano.wav"]
    first = session.song.grid.frame(17.6, piano.rate_hz)
    piano.samples = faults.muted(piano.samples, first, frames_of(0.02, piano.rate_hz))


def _buffer_delivered_twice(session: Session) -> None:
    """As recorded, without dither, which would make the two copies differ."""
    piano = session.recordings["Piano.wav"]
    first = session.song.grid.frame(29.3, piano.rate_hz)
    piano.samples = faults.stuttered(piano.samples, first, 512)
    piano.dithered = False


def _leaking_headphones(session: Session) -> None:
    singers, click = session.recordings["Backing Vocals.wav"], session.recordings["Click.wav"]
    singers.samples = faults.leaked(
        singers.samples, click.samples, singers.rate_hz, below_db=37.0, late_s=0.002
    )


def _brass_a_bar_late(session: Session) -> None:
    brass, song = session.recordings["Brass.wav"], session.song
    bar = song.grid.frame(song.metre.beats, brass.rate_hz) - song.grid.frame(0, brass.rate_hz)
    brass.samples = faults.delayed(brass.samples, bar)


def _late_drums(session: Session) -> None:
    drums = session.recordings["Drums.wav"]
    drums.samples = faults.delayed(drums.samples, frames_of(0.025, drums.rate_hz))


def litter(session: Session) -> None:
    """What an operating system leaves among stems; no fault."""
    for name, content in (
        (".DS_Store", b"\0\0\0\1Bud1" + bytes(56)),
        ("._Bass.wav", b"\0\5\26\7" + bytes(78)),
    ):
        session.afterwards.append(_leaver(name, content))


def _leaver(name: str, content: bytes) -> Callable[[Path], None]:
    def leave(folder: Path) -> None:
        (folder / name).write_bytes(content)

    return leave


PLANS: tuple[tuple[Planted, Callable[[Session], None]], ...] = (
    (
        Planted(song="Tin Roof Almanac", stem="Keys.wav", rule="sample-rate-mismatch",
                what="bounced at 44.1 kHz, the show runs at 48 kHz"),
        _other_rate,
    ),
    (
        Planted(song="Tin Roof Almanac", stem="Bass.wav", rule="dc-offset",
                what="the whole stem sits 0.8 % above zero"),
        _dc,
    ),
    (
        Planted(song="Tin Roof Almanac", stem="Timecode.wav", rule="timecode-jump",
                what="written in two takes: at 0:17 its numbers skip ten seconds"),
        _timecode_from_two_takes,
    ),
    (
        Planted(song="Tin Roof Almanac", stem="Percussion.wav", rule="upsampled-source",
                what="bounced at 44.1 kHz too, and converted to 48 kHz afterwards"),
        _converted_percussion,
    ),
    (
        Planted(song="Gravel Parade", stem="Strings.wav", rule="truncated-file",
                what="the copy was interrupted: the header promises more than is there"),
        _interrupted_copy,
    ),
    (
        Planted(song="Gravel Parade", stem="Click.wav", rule="silent-stem",
                what="the click was muted when it was bounced"),
        _silent_click,
    ),
    (
        Planted(song="Gravel Parade", stem="Piano.wav", rule="dropout",
                what="recorded on an overloaded computer: 20 ms are missing in bar 5"),
        _lost_buffer,
    ),
    (
        Planted(song="Gravel Parade", stem="Piano.wav", rule="repeated-block",
                what="the same computer, bar 8: a buffer of 512 samples plays twice"),
        _buffer_delivered_twice,
    ),
    (
        Planted(song="Velvet Signal Box", stem="Guitar.wav", rule="sample-clipping",
                what="turned up too far and cut off at full scale"),
        _clipped_guitar,
    ),
    (
        Planted(song="Velvet Signal Box", stem="Guitar.wav", rule="role-level-outlier",
                what="and so it drowns the rest of the band"),
        _as_loud_as_that,
    ),
    (
        Planted(song="Velvet Signal Box", stem=None, rule="song-loudness-outlier",
                what="and makes the song 12 LU louder than the others"),
        _as_loud_as_that,
    ),
    (
        Planted(song="Velvet Signal Box", stem=None, rule="missing-role",
                what="no timecode, though every other song has it"),
        _no_timecode,
    ),
    (
        Planted(song="Velvet Signal Box", stem="Backing Vocals.wav", rule="click-bleed",
                what="the click in the singers' headphones, heard by their microphone"),
        _leaking_headphones,
    ),
    (
        Planted(song="Velvet Signal Box", stem="Brass.wav", rule="shifted-by-beats",
                what="bounced with a bar more of count-in: a bar late over the whole song"),
        _brass_a_bar_late,
    ),
    (
        Planted(song="Lantern Tax", stem="Synth.wav", rule="opposite-polarity",
                what="one side upside down: gone in mono"),
        _opposed_synth,
    ),
    (
        Planted(song="Lantern Tax", stem="Percussion.wav", rule="bit-depth-mismatch",
                what="16 bit, the show is 24 bit"),
        _sixteen_bit,
    ),
    (
        Planted(song="Lantern Tax", stem=None, rule="stray-file",
                what="a text somebody left among the stems"),
        _session_file,
    ),
    (
        Planted(song="Lantern Tax", stem="Drums.wav", rule="offset-from-click",
                what="printed 25 ms late over the whole song"),
        _late_drums,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Guitar.wav", rule="length-mismatch",
                what="the bounce stopped four bars before the end, still sounding"),
        _ends_early,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Click.wav", rule="click-gap",
                what="the third beat of bar 6 is missing: a muted region"),
        _click_with_a_hole,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Keys.wav", rule="duplicate-audio",
                what="bounced once more under the pad's name"),
        _keys_as_pad,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Backing Vocals.wav", rule="unfinished-header",
                what="the recorder crashed: the header was never completed"),
        _crashed_recorder,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Lead Vocal v2.wav", rule="two-versions",
                what="a second take beside the first; both would play"),
        _second_version,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Organ.flac", rule="damaged-audio",
                what="one byte turned over on the disk"),
        _rotten_flac,
    ),
)  # fmt: skip

PLANTED: tuple[Planted, ...] = tuple(planted for planted, _ in PLANS)
"""Every fault of the demo. Nothing else is wrong with it."""

CLEAN_SONGS = tuple(
    entry.title for entry in SET_LIST if entry.title not in {planted.song for planted in PLANTED}
)
