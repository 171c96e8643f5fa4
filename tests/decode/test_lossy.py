"""Ogg Vorbis, Opus and MP3: marked as lossy, and their damage found where the container tells."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode.mpeg import frame_length
from audit.decode.mpegstream import count_mpeg_frames
from audit.decode.ogg import find_damaged_page, page_crc, pages
from audit.decode.sndfile import count_frames, open_stream
from audit.decode.source import Source
from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, ffmpeg, header_of, read_whole

FRAMES = 96_000
needs_ffmpeg = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")

CODECS = [("ogg", "OGG", "VORBIS"), ("opus", "OGG", "OPUS"), ("mp3", "MP3", "MPEG_LAYER_III")]


def noise(channels: int = 2) -> np.ndarray:
    """Noise in a slow swell, so that a variable bit rate varies."""
    swell = 0.5 - 0.5 * np.cos(np.linspace(0.0, 6.0 * np.pi, FRAMES))[:, None]
    return swell * np.random.default_rng(2).uniform(-0.5, 0.5, (FRAMES, channels))


def written(folder: Path, extension: str, container: str, subtype: str, channels: int = 2) -> Path:
    path = folder / f"stem.{extension}"
    soundfile.write(path, noise(channels), RATE_HZ, format=container, subtype=subtype)
    return path


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(("extension", "container", "subtype"), CODECS)
def test_lossy_formats(extension: str, container: str, subtype: str, channels: int, tmp_path: Path):
    path = written(tmp_path, extension, container, subtype, channels)
    reading = read_whole(path)
    stem_format = reading.header.format
    assert stem_format is not None
    assert (stem_format.container, stem_format.encoding) == (container, subtype)
    assert (stem_format.lossy, stem_format.bits, stem_format.is_float) == (True, None, False)
    assert reading.faults == ()
    assert reading.md5_checked is None
    assert abs(len(reading.samples) - FRAMES) <= 3000  # MP3 keeps whole frames and its encoder's delay
    expected = soundfile.read(path, dtype="float32", always_2d=True)[0]
    np.testing.assert_array_equal(reading.samples[: len(expected)], expected)


@pytest.mark.parametrize(("extension", "container", "subtype"), CODECS[:2])
def test_cut_ogg_is_truncated(extension: str, container: str, subtype: str, tmp_path: Path):
    path = written(tmp_path, extension, container, subtype)
    data = path.read_bytes()
    path.write_bytes(data[: int(0.7 * len(data))])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert 0.4 * FRAMES < len(reading.samples) < 0.8 * FRAMES


@pytest.mark.parametrize(("extension", "container", "subtype"), CODECS[:2])
def test_ogg_cut_between_two_pages_is_truncated(extension: str, container: str, subtype: str, tmp_path: Path):
    """Every page that is left is whole; the one that is marked as the last is missing."""
    path = written(tmp_path, extension, container, subtype)
    data = path.read_bytes()
    path.write_bytes(data[: data.rindex(b"OggS")])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert 0 < len(reading.samples) < FRAMES


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
@pytest.mark.parametrize(("extension", "container", "subtype"), CODECS[:2])
def test_flipped_bit_in_an_ogg_page_is_damage(
    extension: str, container: str, subtype: str, share: float, tmp_path: Path
):
    path = written(tmp_path, extension, container, subtype)
    data = path.read_bytes()
    path.write_bytes(made.flip_bit(data, 8 * int(share * len(data))))
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.DAMAGED]
    assert reading.faults[0].at_frame is not None
    assert reading.faults[0].at_frame <= share * FRAMES * 1.2


def test_ogg_page_checksum():
    """RFC 3533's CRC without its start and final inversion: CRC-32/MPEG-2's polynomial from 0.

    Check value of "123456789" for polynomial 0x04C11DB7, start 0, not mirrored: 89A1897F [memory];
    computed here bit by bit as the second implementation.
    """
    value = 0
    for byte in b"123456789":
        value ^= byte << 24
        for _ in range(8):
            value = ((value << 1) ^ 0x04C11DB7) & 0xFFFF_FFFF if value >> 31 else value << 1
    assert page_crc(b"123456789") == value == 0x89A1897F


@needs_ffmpeg
@pytest.mark.parametrize("rate", [("-q:a", "4"), ("-b:a", "96k")])
def test_mp3_without_a_length_tag_is_read_to_its_end(rate: tuple[str, str], tmp_path: Path):
    """mpg123's estimate, by which libsndfile stops, loses half of a file of variable bit rate."""
    source = written(tmp_path, "wav", "WAV", "PCM_16")
    path = tmp_path / "untagged.mp3"
    ffmpeg("-i", source, "-write_xing", "0", "-id3v2_version", "0", *rate, path)
    reading = read_whole(path)
    assert reading.faults == ()
    decoded = np.frombuffer(ffmpeg("-i", path, "-c:a", "pcm_f32le", "-f", "f32le", "-"), np.float32)
    assert abs(len(reading.samples) - len(decoded) // 2) <= 1152
    assert len(reading.samples) > 0.98 * FRAMES


@needs_ffmpeg
def test_counted_frames_are_ffmpegs(tmp_path: Path):
    path = tmp_path / "untagged.mp3"
    ffmpeg("-i", written(tmp_path, "wav", "WAV", "PCM_16"), "-write_xing", "0", "-id3v2_version", "0", path)
    decoded = ffmpeg("-i", path, "-c:a", "pcm_s16le", "-f", "s16le", "-")
    with Source(path) as source:
        frames, end = count_mpeg_frames(source, 0)
        assert end == source.size
    assert frames == len(decoded) // (4 * 1152)


def test_long_looks_through_a_file_say_that_they_are_at_work(tmp_path: Path):
    """A scan takes two minutes without a word for a hang; a page check or a count may take longer."""
    path = written(tmp_path, "ogg", "OGG", "VORBIS")
    said: list[None] = []
    with Source(path, lambda: said.append(None)) as source:
        assert find_damaged_page(source) is None
        assert len(said) >= sum(1 for _ in pages(source))
        said.clear()
        with open_stream(source, "OGG", 0) as stream:
            said.clear()
            assert count_frames(stream, source.at_work) == FRAMES
    assert len(said) >= FRAMES // 65536


def test_cut_mp3_is_truncated_and_quiet(tmp_path: Path, capfd: pytest.CaptureFixture[str]):
    """mpg123 would write its complaints to the terminal."""
    path = written(tmp_path, "mp3", "MP3", "MPEG_LAYER_III")
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert 0.4 * FRAMES < len(reading.samples) < 0.6 * FRAMES
    broken = bytearray(data)
    for place in range(600, len(data), 450):
        broken[place : place + 30] = os.urandom(0) + bytes(range(200, 230))
    path.write_bytes(broken)
    read_whole(path)
    assert capfd.readouterr() == ("", "")


def test_mpeg_frame_lengths():
    """ISO/IEC 11172-3: 144 × bit rate ÷ sample rate + padding: 417 and 418 bytes at 128 kbit/s, 44.1 kHz."""
    assert frame_length(bytes.fromhex("fffb9000")) == 417
    assert frame_length(bytes.fromhex("fffb9200")) == 418
    assert frame_length(bytes.fromhex("fffb9400")) == 384  # 48 kHz
    assert frame_length(bytes.fromhex("fff38000")) == 208  # MPEG-2, 64 kbit/s, 22.05 kHz
    for none in ("fffb0000", "fffbf000", "fffb9c00", "ffeb9000", "fff99000", "fefb9000", "ff"):
        assert frame_length(bytes.fromhex(none)) is None


@pytest.mark.parametrize("noise_seed", range(20))
def test_noise_is_not_taken_for_mp3(noise_seed: int, tmp_path: Path):
    path = tmp_path / "stem.mp3"
    path.write_bytes(b"\xff\xfb\x90\x00" + np.random.default_rng(noise_seed).bytes(20_000))
    assert [fault.kind for fault in header_of(path).faults] == [FaultKind.UNREADABLE]
