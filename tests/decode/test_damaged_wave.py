"""Headers of recordings that were never closed, were cut, or lie: state -> fault, frames, samples.

The column `libsndfile` is what libsndfile 1.2.2 makes of each (own measurement; its `wav.c` repairs a data
size of 0 only where RIFF's is 8, and clamps what is too long to the file's end): it shows why the decoder
does not take libsndfile's word for them.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode.extent import truncated
from audit.decode.header import read_header
from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, ffmpeg, read_whole

FRAMES = 48000
FRAME_BYTES = 6
SAMPLES = made.random_samples(FRAMES, 2, 24)
AUDIO = made.pcm_bytes(SAMPLES, 3)
EXACT = (SAMPLES / 2.0**23).astype(np.float32)
FORMAT = made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24)
HALF = len(AUDIO) // 2
LIST = made.chunk(b"LIST", b"INFOISFT\x06\x00\x00\x00stem!\x00")
BEXT = made.bext(172_800_000)

UNFINISHED, TRUNCATED, EMPTY = FaultKind.UNFINISHED, FaultKind.TRUNCATED, FaultKind.EMPTY
UNREADABLE, DAMAGED = FaultKind.UNREADABLE, FaultKind.DAMAGED


@dataclass(frozen=True, kw_only=True)
class State:
    """One header state: the file, and what is to be said of it."""

    name: str
    file: bytes
    kinds: tuple[FaultKind, ...] = ()
    frames: int = FRAMES
    value: float | None = None  # of the first fault
    libsndfile: int | None = None  # frames; -1: it refuses the file


def wave(audio: bytes = AUDIO, **fields: object) -> bytes:
    return made.wave(audio, FORMAT, **fields)  # type: ignore[arg-type]


RF64_SIZES = {"magic": b"RF64", "riff_size": made.ALL_ONES, "data_size": made.ALL_ONES}
BW64_SIZES = {**RF64_SIZES, "magic": b"BW64"}
DS64 = made.ds64(len(AUDIO), FRAMES)
FULL = wave()
LATE = bytes(6_000) + AUDIO[HALF : HALF + 60_000] + bytes(66_000)  # silence at both ends, longer than a probe
RESTED = wave(AUDIO[:HALF] + LATE, data_size=HALF)

STATES = [
    # rows of section 6.4
    State(name="data 0, RIFF 8", file=wave(data_size=0, riff_size=8), kinds=(UNFINISHED,), value=1.0,
          libsndfile=FRAMES),
    State(name="data 0, RIFF 0", file=wave(data_size=0, riff_size=0), kinds=(UNFINISHED,), libsndfile=0),
    State(name="data 0, RIFF 36", file=wave(data_size=0, riff_size=36), kinds=(UNFINISHED,), libsndfile=0),
    State(name="data 0, RIFF right", file=wave(data_size=0), kinds=(UNFINISHED,), libsndfile=0),
    State(name="data and RIFF all ones", file=wave(data_size=made.ALL_ONES, riff_size=made.ALL_ONES),
          kinds=(UNFINISHED,), libsndfile=FRAMES),
    State(name="data 0x7FFFFFDA", file=wave(data_size=0x7FFFFFDA), kinds=(UNFINISHED,), libsndfile=FRAMES),
    State(name="data 0x7FFFF000", file=wave(data_size=0x7FFFF000), kinds=(UNFINISHED,), libsndfile=FRAMES),
    State(name="cut to half", file=FULL[: 44 + HALF], kinds=(TRUNCATED,), frames=FRAMES // 2, value=0.5,
          libsndfile=FRAMES // 2),
    State(name="header claims half, more audio follows", file=wave(data_size=HALF), kinds=(UNFINISHED,),
          value=0.5, libsndfile=FRAMES // 2),
    State(name="data chunk missing", file=wave(with_data=False), kinds=(UNREADABLE,), frames=0,
          libsndfile=-1),
    State(name="RF64 without ds64", file=wave(**RF64_SIZES), kinds=(UNFINISHED,), libsndfile=-1),
    State(name="RF64 with ds64", file=wave(**RF64_SIZES, ds64=DS64), libsndfile=FRAMES),
    State(name="BW64 with ds64", file=wave(**BW64_SIZES, ds64=DS64), libsndfile=-1),
    State(name="zero-filled tail", file=wave(AUDIO[:HALF] + bytes(HALF)), libsndfile=FRAMES),
    State(name="byteRate wrong",
          file=made.wave(AUDIO, made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24, byte_rate=1)),
          libsndfile=FRAMES),
    State(name="blockAlign wrong",
          file=made.wave(AUDIO, made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24, block_align=7)),
          kinds=(DAMAGED,), libsndfile=FRAMES),
    # the like of them
    State(name="ragged last frame, by the header", file=wave(AUDIO[:-2]), kinds=(TRUNCATED,),
          frames=FRAMES - 1, value=1.0, libsndfile=FRAMES - 1),
    State(name="ragged last frame, by the cut", file=FULL[:-4], kinds=(TRUNCATED,), frames=FRAMES - 1,
          value=1 / RATE_HZ, libsndfile=FRAMES - 1),
    State(name="cut before the first frame", file=FULL[:44], kinds=(EMPTY,), frames=0),
    State(name="cut inside the header", file=FULL[:30], kinds=(UNREADABLE,), frames=0, libsndfile=-1),
    State(name="data 0 and really empty", file=wave(b""), kinds=(EMPTY,), frames=0),
    State(name="data 0, only a LIST chunk follows", file=wave(b"", after=[LIST]), kinds=(EMPTY,), frames=0),
    State(name="data 0, only silence follows", file=wave(bytes(len(AUDIO)), data_size=0),
          kinds=(UNFINISHED,)),
    State(name="data all ones, nothing follows", file=wave(b"", data_size=made.ALL_ONES), kinds=(EMPTY,),
          frames=0),
    State(name="no format chunk", file=FULL[:12] + made.chunk(b"data", AUDIO), kinds=(UNREADABLE,), frames=0,
          libsndfile=-1),
    State(name="RF64, ds64 never filled in", file=wave(**RF64_SIZES, ds64=made.ds64(0, 0)),
          kinds=(UNFINISHED,)),
    State(name="BW64 cut to half",
          file=wave(**BW64_SIZES, ds64=DS64)[: -HALF], kinds=(TRUNCATED,), frames=FRAMES // 2, value=0.5),
    State(name="BW64, ds64 claims half", file=wave(**BW64_SIZES, ds64=made.ds64(HALF, FRAMES // 2)),
          kinds=(UNFINISHED,), value=0.5),
    State(name="claims 2^31 frames", file=wave(data_size=0xC000_0000), kinds=(TRUNCATED,)),
    # whole files that must stay silent
    State(name="sound", file=FULL, libsndfile=FRAMES),
    State(name="RIFF size wrong, data right", file=wave(riff_size=0), libsndfile=FRAMES),
    State(name="an empty data chunk before the real one", file=wave(before=[made.chunk(b"data", b"")])),
    State(name="LIST and bext behind the audio", file=wave(after=[LIST, BEXT]), libsndfile=FRAMES),
    State(name="a chunk of an unknown kind behind the audio",
          file=wave(after=[made.chunk(b"zZ9!", b"12345")]), libsndfile=FRAMES),
    State(name="LIST behind the audio cut off", file=wave(after=[LIST])[:-9]),
    State(name="an ID3v1 tag behind the audio", file=FULL + b"TAG".ljust(128, b" ")),
    State(name="filled up with zeros to 4096", file=FULL + bytes(-len(FULL) % 4096)),
    State(name="header claims half, the rest begins and ends in silence", file=RESTED, kinds=(UNFINISHED,),
          frames=(HALF + len(LATE)) // FRAME_BYTES),
    State(name="odd audio with its pad byte, LIST behind",
          file=made.wave(AUDIO[: 3 * 47999], made.wave_format(channels=1, rate_hz=RATE_HZ, bits=24),
                         after=[LIST]), frames=47999),
    State(name="odd audio, pad byte forgotten, LIST behind",
          file=made.wave(AUDIO[: 3 * 47999], made.wave_format(channels=1, rate_hz=RATE_HZ, bits=24)
                         )[:-1] + LIST, frames=47999),
]  # fmt: skip


def test_names_of_the_states_are_unique():
    assert len(STATES) > 30
    assert len({state.name for state in STATES}) == len(STATES)


@pytest.mark.parametrize("state", STATES, ids=lambda state: state.name)
def test_state(state: State, tmp_path: Path):
    path = tmp_path / "Bass.wav"
    path.write_bytes(state.file)
    reading = read_whole(path)
    assert tuple(reading.kinds) == state.kinds
    assert len(reading.samples) == state.frames
    if reading.header.format is not None:
        assert reading.header.format.frames == state.frames
    if state.value is not None:
        assert reading.faults[0].value == pytest.approx(state.value)
        assert reading.faults[0].unit is not None
    if state.libsndfile is not None:
        assert frames_by_libsndfile(path) == state.libsndfile


@pytest.mark.parametrize("state", [s for s in STATES if s.frames >= FRAMES // 2 and "zero" not in s.name
                                   and "silence" not in s.name and "odd audio" not in s.name],
                         ids=lambda state: state.name)  # fmt: skip
def test_what_is_there_is_the_original(state: State, tmp_path: Path):
    path = tmp_path / "Bass.wav"
    path.write_bytes(state.file)
    np.testing.assert_array_equal(read_whole(path).samples, EXACT[: state.frames])


def frames_by_libsndfile(path: Path) -> int:
    try:
        return len(soundfile.read(path)[0])
    except soundfile.LibsndfileError:
        return -1


def test_the_words_hold_both_numbers(tmp_path: Path):
    path = tmp_path / "Bass.wav"
    path.write_bytes(FULL[: 44 + HALF])
    (fault,) = read_whole(path).faults
    assert fault.detail == "0:00.500 missing: the header promises 48\u00a0000 samples, 24\u00a0000 are there"
    assert fault.at_frame == 24000


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
@pytest.mark.parametrize(("container", "codec"), [("wav", "pcm_s24le"), ("aiff", "pcm_s24be"),
                                                  ("w64", "pcm_s24le")])  # fmt: skip
def test_file_that_ffmpeg_wrote_into_a_pipe_is_unfinished(container: str, codec: str, tmp_path: Path):
    """A pipe cannot be rewound: ffmpeg leaves sizes of zero or all ones in the header."""
    whole = tmp_path / "whole.wav"
    whole.write_bytes(FULL)
    path = tmp_path / f"piped.{container}"
    path.write_bytes(ffmpeg("-i", whole, "-c:a", codec, "-f", container, "-"))
    reading = read_whole(path)
    assert reading.kinds == [UNFINISHED]
    np.testing.assert_array_equal(reading.samples, EXACT)


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
def test_a_reader_that_goes_by_a_wrong_frame_size_loses_audio(tmp_path: Path):
    """Why a wrong blockAlign is a fault: ffmpeg decodes fewer frames and ends with exit code 0 (6.4)."""
    state = next(state for state in STATES if state.name == "blockAlign wrong")
    path = tmp_path / "Bass.wav"
    path.write_bytes(state.file)
    decoded = ffmpeg("-i", path, "-c:a", "pcm_s24le", "-f", "s24le", "-")
    assert len(decoded) // FRAME_BYTES < FRAMES


def test_one_missing_frame_is_told_as_one_frame():
    assert "1 sample missing" in truncated(48_000, 47_999, 48_000).detail
    assert "47 samples missing" in truncated(48_000, 47_953, 48_000).detail
    assert truncated(48_000, 47_952, 48_000).detail.startswith("0:00.001 missing: ")


def test_a_whole_file_of_two_gigabytes_is_whole(tmp_path: Path):
    """Its size happens to look like a streaming writer's "unknown". Sparse: only the header is written."""
    size = 0x7FFF_0000 // FRAME_BYTES * FRAME_BYTES + FRAME_BYTES
    path = tmp_path / "Bass.wav"
    path.write_bytes(made.wave(b"", FORMAT, data_size=size))
    with path.open("r+b") as file:
        file.truncate(44 + size)
    header = read_header(path, size_bytes=44 + size)
    assert header.faults == ()
    assert header.format is not None
    assert header.format.frames == size // FRAME_BYTES
