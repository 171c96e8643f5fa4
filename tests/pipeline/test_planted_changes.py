"""Eighty-odd things that happen to a stem between two visits, each named for what it is.

The table is the list: what was done, to which stem, and what is said of it.
"""

from __future__ import annotations

import os
import shutil
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import resample_poly

from audit.pipeline.sealed.show_copies import Copy, copies_of_folder, copies_of_seal
from audit.pipeline.sealed.verifying import differences
from audit.results import ChangeKind, DeltaState, StemDelta
from audit.rules.seal_words import changes_in_words
from tests.once import made_once
from tests.pipeline.sealed_show import (
    BASS,
    CAFE,
    CHORDS,
    KEYS,
    LOOP,
    LTC,
    MONO,
    OLD_NS,
    PAD,
    RATE_HZ,
    SECONDS,
    SILENT,
    Sealed,
    Wave,
    music,
    read,
    sealed_show,
    verified,
    write,
)  # fmt: skip

CHANGED, DECAYED, MISSING, NEW, MOVED = DeltaState


@pytest.fixture(scope="module")
def sealed(shared_base: Path) -> Sealed:
    return made_once(shared_base, "sealed", lambda: sealed_show(shared_base / "sealed"))


@dataclass(frozen=True, kw_only=True)
class Plant:
    """One thing done to a stem, and what has to be said of it."""

    name: str
    do: Callable[[Path], None]  # to the show's folder
    state: DeltaState | None  # None: nothing has changed
    says: str = ""  # in words, all of them
    path: str = BASS
    audio: bool = True
    from_seal: bool = True  # two seals alone say the same
    seen_quickly: bool = True  # size, time or name say that something happened


def wave(change: Callable[[Wave], Wave], path: str = BASS, **how: object) -> Callable[[Path], None]:
    """The stem's audio changed and bounced again."""
    return lambda show: write(show / path, change(read(show / path)), **how) and None  # type: ignore[arg-type]


def silence(frames: int) -> Wave:
    return np.zeros((frames, 2))


def replaced(start_s: float, end_s: float) -> Callable[[Wave], Wave]:
    def change(audio: Wave) -> Wave:
        start, end = int(start_s * RATE_HZ), int(end_s * RATE_HZ)
        return np.concatenate([audio[:start], music(50)[start:end], audio[end:]])

    return change


def put_in(at_s: float, seconds: float) -> Callable[[Wave], Wave]:
    at, frames = int(at_s * RATE_HZ), int(seconds * RATE_HZ)
    return lambda audio: np.concatenate([audio[:at], music(50)[:frames], audio[at:]])


def taken_out(at_s: float, seconds: float) -> Callable[[Wave], Wave]:
    at, frames = int(at_s * RATE_HZ), int(seconds * RATE_HZ)
    return lambda audio: np.concatenate([audio[:at], audio[at + frames :]])


def shaped(gain: Wave, from_s: float) -> Callable[[Wave], Wave]:
    """Every sample from there on at its own gain."""

    def change(audio: Wave) -> Wave:
        start = int(from_s * RATE_HZ)
        held = audio.copy()
        held[start : start + len(gain)] *= gain[: len(audio) - start, None]
        return held

    return change


def ramp(one: float, other: float, seconds: float) -> Wave:
    """Straight, as most programs fade."""
    return np.linspace(one, other, int(seconds * RATE_HZ))


def swing(seconds: float) -> Wave:
    """Three decibels up and down."""
    return 3.0 * np.sin(2.0 * np.pi * np.arange(int(seconds * RATE_HZ)) / (8.0 * RATE_HZ))


def in_db(one_db: float, other_db: float, seconds: float) -> Wave:
    return np.asarray(10.0 ** (ramp(one_db, other_db, seconds) / 20.0))


def faded_out(seconds: float, *, length_s: float = SECONDS) -> Callable[[Wave], Wave]:
    return shaped(ramp(1.0, 0.0, seconds), length_s - seconds)


def ducked(from_s: float, hold_s: float, by: float) -> Callable[[Wave], Wave]:
    """Turned down within half a second, held, and turned up again."""
    gain = np.concatenate([ramp(1.0, by, 0.5), np.full(int(hold_s * RATE_HZ), by), ramp(by, 1.0, 0.5)])
    return shaped(gain, from_s)


def dulled(audio: Wave) -> Wave:
    return np.stack(
        [np.convolve(side, np.hanning(48) / np.hanning(48).sum(), "same") for side in audio.T], axis=1
    )


def later(audio: Wave) -> Wave:
    return np.concatenate([silence(441), audio])


def chunk_behind(path: str, *, keep_time: bool = False) -> Callable[[Path], None]:
    def do(show: Path) -> None:
        data = (show / path).read_bytes()
        (show / path).unlink()
        (show / path).write_bytes(data + b"note" + (6).to_bytes(4, "little") + b"mended")
        os.utime(show / path, ns=(OLD_NS,) * 2 if keep_time else (OLD_NS + 10**11,) * 2)

    return do


def flipped(at: Callable[[int], int]) -> Callable[[Path], None]:
    """One bit of a file, whose size and time stay."""

    def do(show: Path) -> None:
        data = bytearray((show / BASS).read_bytes())
        data[at(len(data))] ^= 0x10
        (show / BASS).unlink()
        (show / BASS).write_bytes(data)
        os.utime(show / BASS, ns=(OLD_NS, OLD_NS))

    return do


def broken_at(*places_s: float) -> Callable[[Path], None]:
    """A bit of one sample at each of these places."""

    def do(show: Path) -> None:
        data = bytearray((show / BASS).read_bytes())
        first = data.index(b"data") + 8
        for place_s in places_s:
            data[first + round(place_s * RATE_HZ) * 6 + 1] ^= 0x20
        (show / BASS).unlink()
        (show / BASS).write_bytes(data)
        os.utime(show / BASS, ns=(OLD_NS, OLD_NS))

    return do


def rubbish(at_s: float, number: int, *, zeros: bool = False) -> Callable[[Path], None]:
    """So many bytes overwritten; size and time stay."""

    def do(show: Path) -> None:
        data = bytearray((show / BASS).read_bytes())
        first = data.index(b"data") + 8 + round(at_s * RATE_HZ) * 6
        data[first : first + number] = bytes(number) if zeros else np.random.default_rng(1).bytes(number)
        (show / BASS).unlink()
        (show / BASS).write_bytes(data)
        os.utime(show / BASS, ns=(OLD_NS, OLD_NS))

    return do


def wave_kept(change: Callable[[Wave], Wave]) -> Callable[[Path], None]:
    """Bounced again by a program that leaves the time as it was."""

    def do(show: Path) -> None:
        wave(change)(show)
        os.utime(show / BASS, ns=(OLD_NS, OLD_NS))

    return do


def coded(kind: str, *, by: float = 1.0) -> Callable[[Path], None]:
    """The stem by a lossy codec, under the same base name."""

    def do(show: Path) -> None:
        audio = read(show / BASS) * by
        (show / BASS).unlink()
        if kind == "mp3":
            write(show / BASS.replace(".wav", ".mp3"), audio, format="MP3", subtype="MPEG_LAYER_III")
        else:
            write(show / BASS.replace(".wav", ".ogg"), audio, format="OGG", subtype="VORBIS")

    return do


def elsewhere(show: Path, name: str, change: Callable[[Wave], Wave], **how: str) -> None:
    """Bounced again, under another name."""
    audio = change(read(show / BASS))
    (show / BASS).unlink()
    write(show / name, audio, **how)  # type: ignore[arg-type]


def dithered(audio: Wave) -> Wave:
    """With triangular noise of two steps of 16 bits."""
    noise = np.random.default_rng(3).uniform(-0.5, 0.5, (2, *audio.shape)).sum(axis=0)
    return audio + noise / 2**15


def copied(old: str, new: str) -> Callable[[Path], None]:
    return lambda show: shutil.copy2(show / old, show / new) and None


def renamed(old: str, new: str) -> Callable[[Path], None]:
    def do(show: Path) -> None:
        (show / new).parent.mkdir(exist_ok=True)
        (show / old).rename(show / new)

    return do


def exchanged(show: Path) -> None:
    (show / BASS).rename(show / "between")
    (show / KEYS).rename(show / BASS)
    (show / "between").rename(show / KEYS)


def as_flac(show: Path) -> None:
    write(show / BASS.replace(".wav", ".flac"), read(show / BASS), format="FLAC")
    (show / BASS).unlink()


def as_other_systems_do(show: Path) -> None:
    """Decomposed as on a Mac, in other letters as on a careless drive, times in steps of two seconds."""
    song = show / "Café Lumière"
    (song / "Bass.wav").rename(song / "BASS.WAV")
    song.rename(show / unicodedata.normalize("NFD", "café lumière"))
    for path in show.rglob("*.[wW]*"):
        if path.is_file():
            os.utime(path, ns=(OLD_NS // 2_000_000_000 * 2_000_000_000 + 3600 * 10**9,) * 2)


def cut_in_half(show: Path) -> None:
    data = (show / BASS).read_bytes()
    (show / BASS).unlink()
    (show / BASS).write_bytes(data[: len(data) // 2])


def garbage(show: Path) -> None:
    (show / BASS).unlink()
    (show / BASS).write_bytes(b"this is no audio" * 1000)


EDITED = ChangeKind.EDITED
PLANTS = (
    Plant(name="louder", do=wave(lambda a: a * 10 ** (1.2 / 20)), state=CHANGED, says="louder by 1.2 dB"),
    Plant(name="quieter", do=wave(lambda a: a * 0.5012), state=CHANGED, says="quieter by 6.0 dB"),
    Plant(name="a little louder", do=wave(lambda a: a * 10 ** (0.3 / 20)), state=CHANGED,
          says="louder by 0.3 dB"),
    Plant(name="upside down", do=wave(lambda a: -a), state=CHANGED, says="upside down (other polarity)"),
    Plant(name="upside down and quieter", do=wave(lambda a: a * -0.7079), state=CHANGED,
          says="upside down (other polarity); quieter by 3.0 dB"),
    Plant(name="later, longer", do=wave(later), state=CHANGED, says="later by 441 samples (9.2 ms)"),
    Plant(name="later, same length", do=wave(lambda a: later(a)[: len(a)]), state=CHANGED,
          says="later by 441 samples (9.2 ms)"),
    Plant(name="later by one", do=wave(lambda a: np.concatenate([silence(1), a])), state=CHANGED,
          says="later by 1 sample (0.0 ms)"),
    Plant(name="earlier, shorter", do=wave(lambda a: a[1000:]), state=CHANGED,
          says="earlier by 1000 samples (20.8 ms)"),
    Plant(name="earlier, same length", do=wave(lambda a: np.concatenate([a[1000:], silence(1000)])),
          state=CHANGED, says="earlier by 1000 samples (20.8 ms)"),
    Plant(name="a bar of count-in more", do=wave(lambda a: np.concatenate([silence(96000), a])),
          state=CHANGED, says="later by 96\u00a0000 samples (2000.0 ms)"),
    Plant(name="later and louder", do=wave(lambda a: later(a) * 1.5), state=CHANGED,
          says="louder by 3.5 dB; later by 441 samples (9.2 ms)"),
    Plant(name="two bars put in", do=wave(put_in(6.0, 4.0)), state=CHANGED,
          says="longer by 2 bars (4.000 s), put in at 0:06.000"),
    Plant(name="a bar taken out", do=wave(taken_out(6.0, 2.0)), state=CHANGED,
          says="shorter by 1 bar (2.000 s), taken out at 0:06.000"),
    Plant(name="no whole bars put in", do=wave(put_in(6.0, 0.7)), state=CHANGED,
          says="longer by 0.700 s, put in at 0:06.000", from_seal=False),
    Plant(name="silence behind", do=wave(lambda a: np.concatenate([a, silence(192000)])), state=CHANGED,
          says="longer by 2 bars (4.000 s) at its end"),
    Plant(name="end cut", do=wave(lambda a: a[:-RATE_HZ]), state=CHANGED,
          says="shorter by 1.000 s at its end"),
    Plant(name="edited", do=wave(replaced(4.0, 8.0)), state=CHANGED, says="edited from 0:04.000 to 0:08.000"),
    Plant(name="one beat muted", do=wave(lambda a: np.concatenate([a[:240000], silence(12000), a[252000:]])),
          state=CHANGED, says="silent from 0:05.000 to 0:05.250"),
    Plant(name="edited twice", do=wave(lambda a: replaced(10.0, 11.0)(replaced(2.0, 4.0)(a))), state=CHANGED,
          says="edited from 0:02.000 to 0:04.000, from 0:10.000 to 0:11.000"),
    Plant(name="edited and quieter", do=wave(lambda a: replaced(4.0, 8.0)(a * 0.5012)), state=CHANGED,
          says="quieter by 6.0 dB; edited from 0:04.000 to 0:08.000"),
    Plant(name="edited and later", do=wave(lambda a: later(replaced(4.0, 8.0)(a))), state=CHANGED,
          says="later by 441 samples (9.2 ms); edited from 0:04.009 to 0:08.009", from_seal=False),
    Plant(name="faded out", do=wave(faded_out(4.0)), state=CHANGED,
          says="faded out from 0:12.000 to 0:16.000"),
    Plant(name="faded out in dB", do=wave(shaped(in_db(0.0, -60.0, 6.0), 10.0)), state=CHANGED,
          says="faded out from 0:10.000 to 0:16.000"),
    Plant(name="faded out and silent", state=CHANGED,
          do=wave(shaped(np.concatenate([ramp(1, 0, 2.0), np.zeros(10**6)]), 8.0)),
          says="faded out from 0:08.000 to 0:10.000"),
    Plant(name="held tones faded out", do=wave(faded_out(5.0), CHORDS), path=CHORDS, state=CHANGED,
          says="faded out from 0:11.000 to 0:16.000", from_seal=False),
    Plant(name="held tones faded out at once", do=wave(faded_out(1.0), CHORDS), path=CHORDS, state=CHANGED,
          says="faded out from 0:15.000 to 0:16.000", from_seal=False),
    Plant(name="held tones faded in", do=wave(shaped(ramp(0.0, 1.0, 3.0), 0.0), CHORDS), path=CHORDS,
          state=CHANGED, says="faded in from 0:00.000 to 0:03.000", from_seal=False),
    Plant(name="equal bars, end faded", do=wave(faded_out(8.0, length_s=40.0), LOOP), path=LOOP,
          state=CHANGED, says="faded out from 0:32.000 to 0:40.000"),
    Plant(name="equal bars, long fade", do=wave(faded_out(26.0, length_s=40.0), LOOP), path=LOOP,
          state=CHANGED, says="faded out from 0:14.000 to 0:40.000"),
    Plant(name="equal bars, faded in", do=wave(shaped(ramp(0.0, 1.0, 6.0), 0.0), LOOP), path=LOOP,
          state=CHANGED, says="faded in from 0:00.000 to 0:06.000"),
    Plant(name="equal bars, turned down", do=wave(ducked(12.0, 6.0, 0.25), LOOP), path=LOOP,
          state=CHANGED, says="quieter by up to 12.0 dB from 0:12.000 to 0:19.000"),
    Plant(name="held tones ridden", do=wave(shaped(10 ** (swing(16.0) / 20), 0.0), CHORDS), path=CHORDS,
          state=CHANGED, says="its level changes along the way, from −3.0 to +3.0 dB", from_seal=False),
    Plant(name="timecode later", do=wave(lambda a: np.concatenate([silence(777)[:, :1], a]), LTC), path=LTC,
          state=CHANGED, says="later by 777 samples (16.2 ms)", from_seal=False),
    Plant(name="timecode at 16 bit with dither", do=wave(lambda a: dithered(a), LTC, subtype="PCM_16"),
          path=LTC, state=CHANGED, says="16-bit instead of 24-bit; the same but for its lowest bits",
          from_seal=False),
    Plant(name="turned up in the middle", do=wave(shaped(np.full(4 * RATE_HZ, 1.4), 4.0)),
          state=CHANGED, says="louder by up to 2.9 dB from 0:04.000 to 0:08.000"),
    Plant(name="equal bars, fade and trim", path=LOOP, state=CHANGED,
          do=wave(lambda a: faded_out(4.0, length_s=34.0)(a[: 34 * RATE_HZ]), LOOP),
          says="shorter by 3 bars (6.000 s) at its end; faded out from 0:30.000 to 0:34.000"),
    Plant(name="equal bars, three taken out", do=wave(taken_out(12.0, 6.0), LOOP), path=LOOP, state=CHANGED,
          says="shorter by 3 bars (6.000 s), taken out at 0:12.000"),
    Plant(name="equal bars, end cut", do=wave(lambda a: a[: 14 * RATE_HZ], LOOP), path=LOOP, state=CHANGED,
          says="shorter by 13 bars (26.000 s) at its end"),
    Plant(name="a bar taken out, length kept", state=CHANGED,
          do=wave(lambda a: np.concatenate([taken_out(6.0, 2.0)(a), silence(96000)])),
          says="shorter by 1 bar (2.000 s), taken out at 0:06.000; longer by 1 bar (2.000 s) at its end"),
    Plant(name="left and right exchanged", do=wave(lambda a: a[:, ::-1]), state=CHANGED,
          says="left and right are exchanged"),
    Plant(name="exchanged, later and quieter", do=wave(lambda a: later(a[:, ::-1] * 0.5012)), state=CHANGED,
          says="left and right are exchanged; quieter by 6.0 dB; later by 441 samples (9.2 ms)",
          from_seal=False),
    Plant(name="added up", do=wave(lambda a: np.repeat(a.mean(axis=1, keepdims=True), 2, axis=1)),
          state=CHANGED, says="both sides hold both, added up (mono)"),
    Plant(name="added up to mono", do=wave(lambda a: a.sum(axis=1, keepdims=True)), state=CHANGED,
          says="mono instead of stereo; both sides added up"),
    Plant(name="left silent", do=wave(lambda a: a * [0.0, 1.0]), state=CHANGED,
          says="the left side is silent"),
    Plant(name="right silent", do=wave(lambda a: a * [1.0, 0.0]), state=CHANGED,
          says="the right side is silent"),
    Plant(name="all on the right", do=wave(lambda a: a[:, [0, 0]] * [0.0, 1.0]), state=CHANGED,
          says="the left side is silent; what was on it is on the right"),
    Plant(name="right upside down", do=wave(lambda a: a * [1.0, -1.0]), state=CHANGED,
          says="the right side is upside down (other polarity)"),
    Plant(name="left upside down", do=wave(lambda a: a * [-1.0, 1.0]), state=CHANGED,
          says="the left side is upside down (other polarity)"),
    Plant(name="right quieter", do=wave(lambda a: a * [1.0, 0.5]), state=CHANGED,
          says="the right side is quieter by 6.0 dB"),
    Plant(name="left on both", do=wave(lambda a: a[:, [0, 0]]), state=CHANGED,
          says="both sides hold what was on the left"),
    Plant(name="right side only", do=wave(lambda a: a[:, 1:]), state=CHANGED,
          says="mono instead of stereo; the right side alone"),
    Plant(name="two sides, one silent", do=wave(lambda a: np.repeat(a, 2, axis=1) * [1.0, 0.0], MONO),
          path=MONO, state=CHANGED, says="stereo instead of mono; the right side is silent"),
    Plant(name="16 bit with dither", do=wave(lambda a: dithered(a), subtype="PCM_16"), state=CHANGED,
          says="16-bit instead of 24-bit; the same but for its lowest bits"),
    Plant(name="held tones at 16 bit", do=wave(lambda a: a, CHORDS, subtype="PCM_16"), path=CHORDS,
          state=CHANGED, says="16-bit instead of 24-bit; the same but for its lowest bits"),
    Plant(name="held tones at 16 bit with dither", do=wave(lambda a: dithered(a), CHORDS, subtype="PCM_16"),
          path=CHORDS, state=CHANGED, says="16-bit instead of 24-bit; the same but for its lowest bits"),
    Plant(name="dithered at 24 bit", do=wave(lambda a: dithered(a)), state=CHANGED,
          says="the same but for its lowest bits (dither, or another word length on the way)"),
    Plant(name="16 bit and quieter", do=wave(lambda a: a * 0.5012, subtype="PCM_16"), state=CHANGED,
          says="quieter by 6.0 dB"),
    Plant(name="another take", do=wave(lambda a: music(99)), state=CHANGED, says="another recording"),
    Plant(name="names exchanged", do=exchanged, state=CHANGED, says=f"holds what was {KEYS}",
          from_seal=False, seen_quickly=False),
    Plant(name="left side only", do=wave(lambda a: a[:, :1]), state=CHANGED,
          says="mono instead of stereo; the left side alone"),
    Plant(name="two equal sides", do=wave(lambda a: np.repeat(a, 2, axis=1), MONO), state=CHANGED, path=MONO,
          says="stereo instead of mono; the same on both sides"),
    Plant(name="16 bit", do=wave(lambda a: a, subtype="PCM_16"), state=CHANGED,
          says="16-bit instead of 24-bit; the same but for its lowest bits"),
    Plant(name="silence", do=wave(np.zeros_like), state=CHANGED, says="silent now"),
    Plant(name="no longer silence", do=wave(lambda a: music(60), SILENT), state=CHANGED, path=SILENT,
          says="it sounds now and did not"),
    Plant(name="44.1 kHz", do=wave(lambda a: resample_poly(a, 147, 160, axis=0), rate_hz=44_100),
          state=CHANGED, says="at 44.1 kHz instead of 48 kHz"),
    Plant(name="duller", do=wave(dulled), state=CHANGED,
          says="it sounds alike, but no sample is as it was (processed, or coded and decoded)",
          from_seal=False),  # two seals take it for one that plays a sample later
    Plant(name="32 bit", do=wave(lambda a: a, subtype="PCM_32"), state=CHANGED, audio=False,
          says="stored otherwise (WAV, 24-bit, now WAV, 32-bit), the audio is the same to the bit"),
    Plant(name="RF64", do=wave(lambda a: a, format="RF64"), state=CHANGED, audio=False,
          says="stored otherwise (WAV, 24-bit, now RF64, 24-bit), the audio is the same to the bit"),
    Plant(name="FLAC instead", do=as_flac, state=MOVED, audio=False, path=BASS.replace(".wav", ".flac"),
          says="stored otherwise (WAV, 24-bit, now FLAC, 24-bit), the audio is the same to the bit"),
    Plant(name="a chunk of notes", do=chunk_behind(BASS), state=CHANGED, audio=False,
          says="only metadata differ, the audio is the same to the bit"),
    Plant(name="a bit of the audio", do=flipped(lambda size: size // 2 + 600), state=DECAYED,
          says="1 sample differs at 0:08.002", from_seal=False),
    Plant(name="three samples", do=broken_at(3.0, 9.0, 9.4), state=DECAYED,
          says="3 samples differ at 0:03.000, 0:09.000, 0:09.400", from_seal=False),
    Plant(name="a sector of rubbish", do=rubbish(9.1, 4096), state=DECAYED,
          says="differs from 0:09.000 to 0:09.250"),
    Plant(name="a sector of zeros", do=rubbish(9.1, 4096, zeros=True), state=DECAYED,
          says="differs from 0:09.000 to 0:09.250"),
    Plant(name="turned up by a program that keeps times", do=wave_kept(lambda a: a * 1.5), state=DECAYED,
          says="louder by 3.5 dB"),
    Plant(name="MP3 instead", do=coded("mp3"), state=CHANGED, path=BASS.replace(".wav", ".mp3"),
          says="now MP3, which is lossy (was WAV, 24-bit)", from_seal=False),
    Plant(name="Ogg instead, and quieter", do=coded("ogg", by=0.5012), state=CHANGED,
          path=BASS.replace(".wav", ".ogg"), from_seal=False,
          says="now OGG, which is lossy (was WAV, 24-bit); quieter by 6.0 dB"),
    Plant(name="AIFF instead, and louder", state=CHANGED, path=BASS.replace(".wav", ".aiff"),
          do=lambda show: elsewhere(show, BASS.replace(".wav", ".aiff"), lambda a: a * 1.5, format="AIFF"),
          says="louder by 3.5 dB", from_seal=False),
    Plant(name="another name, and louder", state=CHANGED, path="Night Ferry/Low End.wav",
          do=lambda show: elsewhere(show, "Night Ferry/Low End.wav", lambda a: a * 1.5),
          says="louder by 3.5 dB", from_seal=False),
    Plant(name="a copy in its song", do=copied(BASS, "Night Ferry/Bass copy.wav"), state=NEW,
          path="Night Ferry/Bass copy.wav"),
    Plant(name="gone", do=lambda show: (show / BASS).unlink(), state=MISSING),
    Plant(name="another stem", do=lambda show: write(show / "Night Ferry" / "Organ.wav", music(70)) and None,
          state=NEW, path="Night Ferry/Organ.wav"),
    Plant(name="renamed", do=renamed(BASS, "Night Ferry/Bass final.wav"), state=MOVED, audio=False,
          path="Night Ferry/Bass final.wav"),
    Plant(name="in another song", do=renamed(BASS, "Café Lumière/Bass 2.wav"), state=MOVED, audio=False,
          path="Café Lumière/Bass 2.wav"),
    Plant(name="half of it", do=cut_in_half, state=CHANGED,
          says="broken off at 0:08.000 of 0:16.000 (an interrupted copy?)", from_seal=False),
    Plant(name="garbage", do=garbage, state=CHANGED, says="it can no longer be decoded", from_seal=False),
    Plant(name="another system's names and times", do=as_other_systems_do, state=None),
)  # fmt: skip


def test_the_list_holds_eighty():
    assert len({plant.name for plant in PLANTS}) == len(PLANTS) >= 80


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_planted_change_is_named_for_what_it_is(plant: Plant, sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    plant.do(show)
    check = verified(sealed, show)
    assert check.could_not_read == ()
    if plant.state is None:
        assert check.deltas == ()
        return
    (delta,) = (one for one in check.deltas if one.path == plant.path)
    told(plant, delta)
    others = {one.path for one in check.deltas} - {plant.path}
    assert others <= {KEYS} if plant.name == "names exchanged" else not others
    quick = verified(sealed, show, quick=True)
    if plant.state is not DECAYED and plant.seen_quickly:
        assert quick.deltas == check.deltas  # what changes size, time or name is read, quick or not
    assert quick.not_read >= 5


def told(plant: Plant, delta: StemDelta) -> None:
    words = changes_in_words(delta.changes)
    assert (delta.state, delta.audio_differs) == (plant.state, plant.audio), words
    if plant.says.endswith((".", "decoded")):
        assert words.startswith(plant.says)
    else:
        assert words == plant.says


@pytest.mark.parametrize(
    "plant",
    [p for p in PLANTS if p.says and p.from_seal and p.state is not MOVED],
    ids=lambda plant: plant.name,
)
def test_two_seals_alone_say_the_same(plant: Plant, sealed: Sealed, tmp_path: Path):
    """Both audios are gone: what the sketches alone tell of the new one."""
    show = sealed.copied(tmp_path / "Spare")
    plant.do(show)
    from audit.folder.walk import walk

    def as_sealed(copy: Copy) -> Copy:
        """The new copy as a seal would hold it."""
        old = next(stem for song in sealed.seal.songs for stem in song.stems if stem.path == plant.path)
        return Copy(
            path=copy.path, song=copy.song, stem=copy.stem,
            sealed=replace(
                old, size_bytes=copy.size_bytes, modified_ns=copy.modified_ns, file_hash=copy.file_hash,
                audio_hash=copy.audio[0] if copy.audio else None, format=copy.format, sketch=copy.sketch,
                fingerprint=copy.fingerprint,
            ),
        )  # fmt: skip

    new = [as_sealed(copy) for copy in copies_of_folder(walk(show)) if copy.path == plant.path]
    old = [copy for copy in copies_of_seal(sealed.seal) if copy.path == plant.path]
    (delta,) = differences(old, new).deltas
    told(plant, delta)


def test_a_song_whose_folder_was_renamed_is_told_once(sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    (show / "Night Ferry").rename(show / "03 - Night Ferry")
    check = verified(sealed, show)
    assert check.songs_moved == (("Night Ferry", "03 - Night Ferry"),)
    assert {delta.state for delta in check.deltas} == {MOVED}
    assert len(check.deltas) == 9


def test_a_song_bounced_again_in_a_new_folder_is_followed(sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    (show / "Night Ferry").rename(show / "Night Ferry v2")
    for path in (show / "Night Ferry v2").iterdir():
        if path.name != "Strings.wav":  # silence
            write(path, read(path) * 0.5012)
    check = verified(sealed, show)
    told = {delta.path: (delta.state, changes_in_words(delta.changes)) for delta in check.deltas}
    assert told["Night Ferry v2/Bass.wav"] == (CHANGED, "quieter by 6.0 dB")
    assert {state for state, _ in told.values()} == {CHANGED, MOVED}
    assert len(told) == 9
    assert check.songs_gone == ()


def test_another_song_with_the_same_names_is_another_song(sealed: Sealed, tmp_path: Path):
    """Every song has a Bass.wav, and clicks of one tempo sound alike."""
    show = sealed.copied(tmp_path / "Spare")
    (show / "Night Ferry").rename(show / "Opener")
    for number, path in enumerate(sorted((show / "Opener").iterdir())):
        if path.name not in ("Click.wav", "Timecode.wav"):
            write(path, music(200 + number, channels=read(path).shape[1]))
        else:
            write(path, read(path) * 0.5)
    check = verified(sealed, show)
    assert check.songs_gone == (("Night Ferry", 9),)
    assert {delta.state for delta in check.deltas} == {MISSING, NEW}


def test_another_recording_under_another_name_is_missing_and_new(sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    write(show / "Night Ferry" / "Tuba.wav", music(97))
    (show / BASS).unlink()
    states = {delta.path: delta.state for delta in verified(sealed, show).deltas}
    assert states == {BASS: MISSING, "Night Ferry/Tuba.wav": NEW}


def test_nothing_is_said_of_an_unchanged_copy(sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    assert verified(sealed, show).deltas == ()
    quick = verified(sealed, show, quick=True)
    assert (quick.deltas, quick.not_read, quick.stems) == ((), 10, 10)


def test_rot_is_not_seen_by_the_quick_look(sealed: Sealed, tmp_path: Path):
    show = sealed.copied(tmp_path / "Spare")
    flipped(lambda size: size // 2)(show)
    assert verified(sealed, show, quick=True).deltas == ()
    assert [delta.state for delta in verified(sealed, show).deltas] == [DECAYED]


@pytest.mark.parametrize("path", [BASS, "Night Ferry/Click.wav"])
def test_a_flipped_bit_anywhere_is_found(sealed: Sealed, tmp_path: Path, path: str):
    """A hundred random places a file: an error where the audio suffers, a note where only metadata do."""
    show = sealed.copied(tmp_path / "Spare")
    target = show / path
    chunk_behind(path, keep_time=True)(show)
    good = target.read_bytes()
    old = [copy for copy in copies_of_seal(resealed(sealed, show, path)) if copy.path == path]
    rng = np.random.default_rng(len(path))
    data_from, data_to, notes = good.index(b"data") + 8, len(good) - 14, len(good) - 6
    heard = noted = 0
    places = [
        *rng.integers(0, len(good), 80),
        *rng.integers(0, data_from, 12),
        *rng.integers(notes, len(good), 8),
    ]
    for place in places:
        broken = bytearray(good)
        broken[place] ^= 1 << int(rng.integers(0, 8))
        target.unlink()
        target.write_bytes(broken)
        os.utime(target, ns=(OLD_NS, OLD_NS))
        from audit.folder.walk import walk

        new = [copy for copy in copies_of_folder(walk(show)) if copy.path == path]
        (delta,) = differences(old, new).deltas
        assert delta.state is DECAYED
        if data_from <= place < data_to:
            assert delta.audio_differs, place
        if place >= notes:
            assert not delta.audio_differs, place
        heard, noted = heard + delta.audio_differs, noted + (not delta.audio_differs)
    assert heard + noted == len(places) == 100
    assert noted >= 8


def resealed(sealed: Sealed, show: Path, path: str):
    """The seal with that one stem as it is now."""
    from audit.folder.walk import walk

    (copy,) = (copy for copy in copies_of_folder(walk(show)) if copy.path == path)
    songs = tuple(
        replace(
            song,
            stems=tuple(
                replace(
                    stem, size_bytes=copy.size_bytes, modified_ns=copy.modified_ns, file_hash=copy.file_hash
                )
                if stem.path == path
                else stem
                for stem in song.stems
            ),
        )
        for song in sealed.seal.songs
    )
    return replace(sealed.seal, songs=songs)


assert PAD
assert CAFE
