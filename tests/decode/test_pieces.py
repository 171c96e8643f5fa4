"""Pieces of a file at given places, against the whole file as soundfile reads it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode.header import read_header
from audit.decode.pieces import read_pieces
from audit.errors import UnreadableAudioError

FRAMES = 150_001
STARTS = [-500, -1, 0, 10, 5000, 5000, 65_000, 65_536, 131_000, 149_990, 150_001, 400_000]


@pytest.fixture(scope="module")
def noise() -> np.ndarray:
    return np.random.default_rng(4).uniform(-0.5, 0.5, (FRAMES, 2)).astype(np.float32)


def write(folder: Path, noise: np.ndarray, ending: str, subtype: str) -> Path:
    path = folder / f"noise.{ending}"
    soundfile.write(path, noise, 48_000, subtype=subtype)
    return path


def pieces_of(path: Path, starts: list[int], frames: int) -> list[np.ndarray]:
    return list(read_pieces(path, read_header(path, size_bytes=path.stat().st_size), starts, frames))


@pytest.mark.parametrize(
    ("ending", "subtype"),
    [("wav", "PCM_24"), ("wav", "FLOAT"), ("aiff", "PCM_16"), ("caf", "PCM_24"), ("flac", "PCM_24"),
     ("ogg", "VORBIS")],
)  # fmt: skip
@pytest.mark.parametrize("frames", [1, 9600, 70_000])
def test_pieces_are_those_of_the_whole(tmp_path, noise, ending, subtype, frames):
    path = write(tmp_path, noise, ending, subtype)
    whole, _ = soundfile.read(path, dtype="float32", always_2d=True)
    padded = np.concatenate([np.zeros((500, 2)), whole, np.zeros((frames + 400_000, 2))])
    found = pieces_of(path, STARTS, frames)
    assert len(found) == len(STARTS)
    for start, piece in zip(STARTS, found, strict=True):
        assert piece.shape == (frames, 2)
        assert np.abs(piece - padded[500 + start : 500 + start + frames]).max() < 1e-4


def test_no_places_no_pieces(tmp_path, noise):
    assert pieces_of(write(tmp_path, noise, "wav", "PCM_24"), [], 100) == []


def test_what_is_no_number_is_silence(tmp_path):
    broken = np.ones((1000, 1), dtype=np.float32)
    broken[10], broken[20], broken[30] = np.nan, np.inf, -np.inf
    path = write(tmp_path, broken, "wav", "FLOAT")
    (piece,) = pieces_of(path, [0], 1000)
    assert np.flatnonzero(piece[:, 0] == 0.0).tolist() == [10, 20, 30]


@pytest.mark.parametrize("ending", ["wav", "flac", "ogg"])
def test_a_file_that_is_gone(tmp_path, noise, ending):
    path = write(tmp_path, noise, ending, {"wav": "PCM_24", "flac": "PCM_24", "ogg": "VORBIS"}[ending])
    header = read_header(path, size_bytes=path.stat().st_size)
    path.unlink()
    with pytest.raises(UnreadableAudioError, match="noise"):
        list(read_pieces(path, header, [0], 100))


def test_damaged_flac_gives_what_it_can(tmp_path, noise):
    path = write(tmp_path, noise, "flac", "PCM_24")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 : len(data) // 2 + 4000] = bytes(4000)
    path.write_bytes(bytes(data))
    found = pieces_of(path, [0, 70_000, 140_000], 4800)
    assert [piece.shape for piece in found] == [(4800, 2)] * 3
    assert np.abs(found[0] - noise[:4800]).max() < 1e-4
