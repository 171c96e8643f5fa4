"""Pieces of a file at given places, against the whole file as soundfile reads it."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode import flacpieces
from audit.decode.flacpieces import FlacFrames
from audit.decode.header import read_header
from audit.decode.pieces import read_pieces
from audit.decode.source import Source
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


@pytest.fixture(scope="module")
def flac(tmp_path_factory) -> tuple[Path, np.ndarray]:
    """Ten seconds of noise, every other second of it silence: its frames are of very unlike sizes."""
    random = np.random.default_rng(9)
    music = random.uniform(-0.7, 0.7, (480_123, 2)).astype(np.float32)
    music[np.arange(len(music)) // 48_000 % 2 == 1] = 0.0
    path = tmp_path_factory.mktemp("flac") / "rests.flac"
    soundfile.write(path, music, 48_000, subtype="PCM_24")
    return path, soundfile.read(path, dtype="float32", always_2d=True)[0]


SPARSE = [
    -600,
    -200,
    5,
    4090,
    4095,
    4096,
    90_000,
    95_000,
    200_000,
    200_001,
    470_000,
    479_900,
    480_123,
    600_000,
]


def same_as(whole: np.ndarray, found: list[np.ndarray], starts: list[int], frames: int) -> None:
    padded = np.concatenate([np.zeros((1000, 2)), whole, np.zeros((200_000 + frames, 2))])
    assert len(found) == len(starts)
    for start, piece in zip(starts, found, strict=True):
        assert np.array_equal(piece, padded[1000 + start : 1000 + start + frames]), start


@pytest.mark.parametrize("frames", [1, 480, 9600])
def test_sparse_pieces_of_a_flac_are_those_of_the_whole(flac, frames):
    path, whole = flac
    same_as(whole, pieces_of(path, SPARSE, frames), SPARSE, frames)


def test_only_the_frames_that_hold_them_are_decoded(flac, monkeypatch):
    path, whole = flac
    read, usual = [], FlacFrames.decode

    def counted(self, place, stop, channels):
        read.append((place, stop))
        return usual(self, place, stop, channels)

    monkeypatch.setattr(FlacFrames, "decode", counted)
    same_as(whole, pieces_of(path, SPARSE, 480), SPARSE, 480)
    assert all(before[1] <= after[0] for before, after in pairwise(read))  # none of them twice
    assert sum(stop - place for place, stop in read) <= 12 < 480_123 // 4096


def test_a_tag_before_the_flac_and_other_data_in_it_are_stepped_over(flac, tmp_path):
    path, whole = flac
    data = path.read_bytes()
    other = b"\x02" + (64_000).to_bytes(3, "big") + data[-64_000:]  # application data, with frames in it
    tag = b"ID3\x03\x00\x00\x00\x00\x01\x00" + bytes(128)
    tagged = tmp_path / "tagged.flac"
    tagged.write_bytes(tag + data[:42] + other + data[42:])
    same_as(whole, pieces_of(tagged, SPARSE, 480), SPARSE, 480)


@pytest.mark.parametrize("at_once", [17, 1000, 4099, 1 << 16])
def test_frames_are_found_wherever_a_reading_ends(flac, monkeypatch, at_once: int):
    path, _ = flac
    with Source(path) as source:
        whole = FlacFrames.found(source, 480_123)
        monkeypatch.setattr(flacpieces, "_AT_ONCE", at_once)
        offsets, firsts = flacpieces._heads(source, whole.offsets[0], 4096, 480_123)
    assert (offsets, firsts) == (whole.offsets, whole.firsts)
    assert len(firsts) == 119


@pytest.mark.parametrize(
    ("data", "stop", "places"),
    [
        (b"", 0, []),
        (b"\xff", 1, []),
        (b"\xff\xf8", 2, [0]),
        (b"\xff\xf8\xff\xff\xf8\xf8\xff", 7, [0, 3]),
        (b"\xff\xf8\xff\xff\xf8\xf8\xff", 3, [0]),
        (b"\xff\xf8\xff\xff\xf8\xf8\xff", 4, [0, 3]),
    ],
)
def test_where_a_pair_of_bytes_stands(data: bytes, stop: int, places: list[int]):
    found = np.frombuffer(data, np.uint8)
    assert flacpieces._places_of(b"\xff\xf8", found, stop).tolist() == places
    assert not len(flacpieces._places_of(b"\xff", found, stop))  # a stream that ends in the middle of it


@pytest.mark.parametrize("change", ["length unknown", "cut short", "a frame gone", "a header spoilt"])
def test_where_frames_do_not_follow_one_another_all_is_decoded(flac, tmp_path, change):
    path, whole = flac
    data = bytearray(path.read_bytes())
    with Source(path) as source:
        frames = FlacFrames.found(source, 480_123)
    assert frames is not None
    assert frames.firsts == [*range(0, 480_123, 4096), 480_123]
    before, spoilt, after = frames.offsets[9:12]
    if change == "length unknown":
        data[21:26] = bytes([data[21] & 0xF0, 0, 0, 0, 0])
    elif change == "cut short":
        del data[spoilt + 1000 :]
    elif change == "a frame gone":
        del data[spoilt:after]
    else:
        data[spoilt + 4] ^= 0x55
    broken = tmp_path / "broken.flac"
    broken.write_bytes(bytes(data))
    with Source(broken) as source:
        assert FlacFrames.found(source, 480_123) is None
    found = pieces_of(broken, [0, 30_000, 200_000], 480)
    same_as(whole, found[:2], [0, 30_000], 480)
    assert before < spoilt


@pytest.mark.parametrize(("least", "by_frames"), [(255, False), (256, True)])
def test_frames_of_few_samples_are_too_many_to_look_for(flac, tmp_path, least: int, by_frames: bool):
    path, _ = flac
    data = bytearray(path.read_bytes())
    data[8:10] = least.to_bytes(2, "big")  # the shortest block that the header promises
    small = tmp_path / "small.flac"
    small.write_bytes(bytes(data))
    with Source(small) as source:
        found = FlacFrames.found(source, 1)
    assert (found is not None) is by_frames


def test_a_frame_that_does_not_decode_costs_the_pieces_behind_it_only(flac, tmp_path):
    path, whole = flac
    data = bytearray(path.read_bytes())
    with Source(path) as source:
        frames = FlacFrames.found(source, 480_123)
    assert frames is not None
    data[frames.offsets[25] + 200] ^= 0xFF  # its CRC-16 does not hold
    broken = tmp_path / "broken.flac"
    broken.write_bytes(bytes(data))
    found = pieces_of(broken, [0, 50_000, 25 * 4096 + 100, 300_000], 480)
    same_as(whole, found[:2], [0, 50_000], 480)
    assert not found[2].any()
