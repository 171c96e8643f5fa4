"""The ordinary show: fourteen songs as touring shows really hold them, with nothing wrong, and their truth.

Everything odd about it is normal on the road (common practice): songs without click, a free intro, a bass
that lies back, unused stems printed as silence. Whoever reports an error or a warning here, but for the one
full mix that lies beside its parts, raises a false alarm. Built with the demo's instruments, in seconds, the
same every time.

    show = ordinary_show(tmp_path / "show")                               # 48 kHz, 24 bit
    show = ordinary_show(tmp_path / "show", rate_hz=44_100, bits=16)
    song = show.song("Pavement Almanac")
    song.clicks[0].sample, song.stem("Bass.wav").onsets, song.timecode.first_sample

`copied` gives a private copy to break; the planters break one file of it.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from audit.demo import faults
from audit.demo.grid import Grid, Metre
from audit.demo.recording import write_recording
from audit.facts import Role
from audit.timecode import FrameRate, Label

Samples = np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClickTruth:
    """One click: the frame it begins on, and what it counts. Bar 1 is the first of the music."""

    sample: int
    bar: int  # 0 and below: count-in
    beat: int  # of the bar, from 1
    accent: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TimecodeTruth:
    """Timecode of a song: frame k begins at first_sample + k / rate."""

    start: Label
    rate: FrameRate
    first_sample: int
    frames: int
    channel: int
    level_dbfs: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StemTruth:
    """One file: its channels' roles, and where its notes begin."""

    file: str
    roles: tuple[Role, ...]  # one a channel
    frames: int
    onsets: tuple[int, ...] = ()  # frames, ascending; a chord counts once
    late_s: float = 0.0  # how far the part lies behind the beat on purpose
    silent: bool = False
    hears_click_dbfs: float | None = None  # peak of headphone spill in it


@dataclass(frozen=True, slots=True, kw_only=True)
class SongTruth:
    """One song of the ordinary show."""

    title: str
    folder: str
    oddity: str  # what makes it a test
    grid: Grid
    metre: Metre
    bars: int
    beats: tuple[int, ...]  # frame of every beat from bar 1 to the final bar's first
    clicks: tuple[ClickTruth, ...]  # empty: no click in the song
    click_file: str | None
    count_in_beats: int  # clicks before bar 1
    timecode: TimecodeTruth | None
    stems: tuple[StemTruth, ...]
    lufs: float | None  # what its mix was set to; None without music

    def stem(self, file: str) -> StemTruth:
        return next(stem for stem in self.stems if stem.file == file)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdinaryShow:
    """The whole show on disk."""

    path: Path
    rate_hz: int
    bits: int
    songs: tuple[SongTruth, ...]

    def song(self, title: str) -> SongTruth:
        return next(song for song in self.songs if song.title == title)

    def file(self, title: str, stem: str) -> Path:
        """Where a stem lies."""
        return self.path / self.song(title).folder / stem


def ordinary_show(folder: Path, *, rate_hz: int = 48_000, bits: int = 24) -> OrdinaryShow:
    """Write the show into `folder` (made if needed) and return it with its truth."""
    from tests.ordinary_songs import SONGS

    songs = []
    for number, build in enumerate(SONGS, start=1):
        draft = build(rate_hz)
        name = f"{number:02d} - {draft.title}"
        (folder / name).mkdir(parents=True)
        for file, recording in draft.recordings.items():
            recording.bits = bits
            recording.dithered = number % 2 == 0  # some workstations dither, some round
            write_recording(folder / name / file, recording)
        songs.append(draft.truth(name))
    return OrdinaryShow(path=folder, rate_hz=rate_hz, bits=bits, songs=tuple(songs))


def copied(show: OrdinaryShow, into: Path, *titles: str) -> OrdinaryShow:
    """A copy of the show, or of some of its songs, that a test may break."""
    kept = tuple(song for song in show.songs if not titles or song.title in titles)
    assert len(kept) == (len(titles) or len(show.songs)), "a title that the show does not have"
    for song in kept:
        shutil.copytree(show.path / song.folder, into / song.folder)
    return OrdinaryShow(path=into, rate_hz=show.rate_hz, bits=show.bits, songs=kept)


# Planters: each rewrites one file of a copy in its own format and fails where that would change nothing.


def changed(path: Path, change: Callable[[Samples, int], Samples], *, rate_hz: int | None = None) -> None:
    """Rewrite a stem as `change(samples, rate)` makes it; samples float64, shape (frames, channels)."""
    info = soundfile.info(path)
    before, rate = soundfile.read(path, always_2d=True)
    after = change(before.copy(), rate)
    assert after.shape != before.shape or (rate_hz or rate) != rate or not np.array_equal(after, before)
    soundfile.write(path, after, rate_hz or rate, subtype=info.subtype, format=info.format)


def plant_delay(path: Path, frames: int) -> None:
    """The whole stem late (or early, for a negative number); its length stays."""

    def late(samples: Samples, rate: int) -> Samples:
        moved = np.zeros_like(samples)
        if frames >= 0:
            moved[frames:] = samples[: len(samples) - frames]
        else:
            moved[:frames] = samples[-frames:]
        return moved

    changed(path, late)


def plant_gain(path: Path, gain_db: float) -> None:
    """Louder or quieter; what passes full scale is cut off."""
    changed(path, lambda samples, rate: np.clip(samples * 10 ** (gain_db / 20), -1, 1 - 2**-23))


def plant_clipping(path: Path, over_db: float) -> None:
    """Turned up past full scale and cut off there."""
    changed(path, lambda samples, rate: faults.clipped(samples, over_db=over_db).astype(np.float64))


def plant_dc(path: Path, offset: float) -> None:
    changed(path, lambda samples, rate: samples + offset)


def plant_silence(path: Path, start_s: float = 0.0, seconds: float | None = None) -> None:
    """Digital silence from a place on, for a while or to the end."""

    def muted(samples: Samples, rate: int) -> Samples:
        first = round(start_s * rate)
        samples[first : None if seconds is None else first + round(seconds * rate)] = 0.0
        return samples

    changed(path, muted)


def plant_opposite_sides(path: Path) -> None:
    """The right side becomes the left one upside down."""
    changed(path, lambda samples, rate: np.stack([samples[:, 0], -samples[:, 0]], axis=1))


def plant_early_end(path: Path, seconds: float) -> None:
    """The last seconds are missing."""
    changed(path, lambda samples, rate: samples[: len(samples) - round(seconds * rate)])


def plant_copy(source: Path, target: Path) -> None:
    """The same audio under another name."""
    assert source.read_bytes() != (target.read_bytes() if target.exists() else b"")
    shutil.copyfile(source, target)


def plant_spill(path: Path, source: Path, level_db: float) -> None:
    """Another mono stem of the same length heard in this one."""
    other, _ = soundfile.read(source, always_2d=True)
    changed(path, lambda samples, rate: samples + other[: len(samples), :1] * 10 ** (level_db / 20))


def plant_bits(path: Path, subtype: str) -> None:
    """The same audio in another encoding: "PCM_16", "FLOAT" …"""
    samples, rate = soundfile.read(path, always_2d=True)
    assert soundfile.info(path).subtype != subtype
    soundfile.write(path, samples, rate, subtype=subtype, format=soundfile.info(path).format)


def plant_rate(path: Path, rate_hz: int) -> None:
    """Converted to another sample rate, properly: same sound, same duration."""
    from math import gcd

    from scipy.signal import resample_poly

    def converted(samples: Samples, rate: int) -> Samples:
        common = gcd(rate_hz, rate)
        return np.asarray(resample_poly(samples, rate_hz // common, rate // common, axis=0))

    changed(path, converted, rate_hz=rate_hz)
