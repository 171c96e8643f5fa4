"""Files that change under the reader, and headers that were never meant well: no crash, no hang."""

from __future__ import annotations

import io
import os
import resource
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as some

from audit.decode.blocks import open_blocks
from audit.decode.header import Header
from audit.errors import UnreadableAudioError
from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, header_of

FRAMES = 3000
KINDS = ("wav", "extensible", "rf64", "w64", "aiff", "aifc", "caf", "flac", "ogg", "mp3")
LONGEST_S = 5.0


@cache
def sound(kind: str) -> bytes:
    """A small whole file of that kind."""
    audio = made.pcm_bytes(made.random_samples(FRAMES, 2, 24), 3)
    shape = {"channels": 2, "rate_hz": RATE_HZ, "bits": 24}
    form = made.wave_format(**shape, extensible=kind == "extensible")
    if kind in ("wav", "extensible"):
        return made.wave(audio, form, before=[made.bext(5)], after=[made.chunk(b"LIST", b"INFO")])
    if kind == "rf64":
        sizes = made.ds64(len(audio), FRAMES)
        return made.wave(audio, form, magic=b"RF64", data_size=made.ALL_ONES, ds64=sizes)
    if kind == "w64":
        return made.wave64(audio, form)
    if kind in ("aiff", "aifc"):
        return made.aiff(audio, **shape, frame_bytes=6, compression=b"in24" if kind == "aifc" else None)
    if kind == "caf":
        return made.caf(audio, **shape)
    return _by_libsndfile(kind)


def _by_libsndfile(kind: str) -> bytes:
    file = io.BytesIO()
    tones = np.random.default_rng(1).uniform(-0.5, 0.5, (FRAMES, 2))
    soundfile.write(file, tones, RATE_HZ, format=kind.upper(), subtype="PCM_16" if kind == "flac" else None)
    return file.getvalue()


def survive(path: Path) -> Header:
    """Reads a file to its end under the rules that hold for every file."""
    began = time.monotonic()
    header = header_of(path)
    assert header.format is not None or header.faults
    try:
        with open_blocks(path, header) as reader:
            for block in reader:
                assert block.dtype == np.float32
                assert block.shape[1] == reader.format.channels
                assert len(block) > 0
    except UnreadableAudioError:
        assert header.faults
    else:
        assert header.format is not None
        if header.layout is not None:
            assert reader.frames_read == header.format.frames
            assert reader.frames_read * (header.format.frame_bytes or 0) <= path.stat().st_size
    assert time.monotonic() - began < LONGEST_S
    return header


CHANGES = some.lists(
    some.tuples(some.integers(0, 200), some.sampled_from([0, 1, 0x7F, 0x80, 0xFF, 0x20, 0x41])), max_size=6
)
ANYWHERE = some.lists(some.tuples(some.floats(0, 0.999), some.integers(0, 255)), max_size=6)


@pytest.mark.parametrize("kind", KINDS)
def test_mutated_headers(kind: str, tmp_path_factory: pytest.TempPathFactory):
    """Seeded: the same 120 mutations of each kind on every run."""
    path = tmp_path_factory.mktemp(kind) / "stem.wav"

    @settings(
        max_examples=120, deadline=None, derandomize=True, database=None,
        phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(changes=CHANGES, anywhere=ANYWHERE, kept=some.floats(0.0, 1.0), more=some.binary(max_size=40))
    def mutated(
        changes: list[tuple[int, int]], anywhere: list[tuple[float, int]], kept: float, more: bytes
    ) -> None:
        data = bytearray(sound(kind))
        for place, value in changes:
            data[min(place, len(data) - 1)] = value
        for share, value in anywhere:
            data[int(share * len(data))] = value
        path.write_bytes(data[: int(len(data) * min(1.0, 2 * kept))] + more)
        survive(path)

    mutated()


@pytest.mark.parametrize("kind", KINDS)
def test_every_length_of_a_cut_header(kind: str, tmp_path: Path):
    path = tmp_path / "stem.wav"
    for length in range(0, 160, 3):
        path.write_bytes(sound(kind)[:length])
        header = survive(path)
        assert header.faults


@pytest.mark.parametrize("kind", KINDS)
def test_every_byte_of_a_header_at_its_extremes(kind: str, tmp_path: Path):
    path = tmp_path / "stem.wav"
    for place in range(0, 120):
        for value in (0x00, 0xFF):
            data = bytearray(sound(kind))
            data[place] = value
            path.write_bytes(data)
            survive(path)


def test_file_that_becomes_shorter_while_it_is_read(tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(sound("wav"))
    with open_blocks(path, header_of(path), 1000) as reader:
        next(reader)
        with path.open("r+b") as file:
            file.truncate(path.stat().st_size // 2)
        rest = sum(len(block) for block in reader)
        (fault,) = reader.faults
    assert fault.kind is FaultKind.TRUNCATED
    assert fault.at_frame == reader.frames_read == 1000 + rest < FRAMES


def test_file_that_vanishes_between_header_and_blocks(tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(sound("wav"))
    header = header_of(path)
    path.unlink()
    with pytest.raises(UnreadableAudioError, match=r"^'stem\.wav': no such file or directory$"):
        open_blocks(path, header)


def test_disk_that_fails_in_mid_file(tmp_path: Path):
    """A folder put under the reader's descriptor makes the next read fail, as a pulled disk does."""
    path = tmp_path / "stem.wav"
    path.write_bytes(sound("wav"))
    with open_blocks(path, header_of(path), 1000) as reader:
        next(reader)
        folder = os.open(tmp_path, os.O_RDONLY)
        os.dup2(folder, reader._decoder._source.file.fileno())  # type: ignore[attr-defined]
        os.close(folder)
        assert list(reader) == []
        (fault,) = reader.faults
    assert fault.kind is FaultKind.UNREADABLE
    assert fault.detail == "the disk gave up while it was read: is a directory"
    assert fault.at_frame == 1000


@pytest.mark.parametrize("kind", KINDS)
def test_no_descriptor_is_left_open(kind: str, tmp_path: Path):
    path = tmp_path / "stem.wav"
    descriptors = Path("/proc/self/fd")
    if not descriptors.is_dir():
        pytest.skip("this system does not list a process's open files")
    before = len(list(descriptors.iterdir()))
    for data in (sound(kind), sound(kind)[:90], b"garbage"):
        path.write_bytes(data)
        for _ in range(5):
            survive(path)
    assert len(list(descriptors.iterdir())) == before


def test_memory_is_flat_in_length(tmp_path: Path):
    """Three minutes of 24-bit stereo (52 MB): the process grows by blocks, not by the file."""
    path = tmp_path / "stem.wav"
    frames = 180 * RATE_HZ
    with path.open("wb") as file:
        form = made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24)
        file.write(made.wave(b"", form, data_size=6 * frames))
        second = made.pcm_bytes(made.random_samples(RATE_HZ, 2, 24), 3)
        for _ in range(180):
            file.write(second)
    header = header_of(path)
    with open_blocks(path, header) as reader:
        next(reader)
        before_kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        for _ in reader:
            pass
        assert reader.frames_read == frames
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before_kib < 6 * 1024
