"""FLAC: its MD5, its frames' checksums, and where a broken file breaks off."""

from __future__ import annotations

import random
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as some

from audit.decode.blocks import open_blocks
from audit.decode.flac import pack_samples
from audit.decode.flac_kernel import pack_and_scale, read_head
from audit.decode.flacframes import BLOCK_SIZES, CRC8, crc8, crc16, find_last_frame, read_frame_head
from audit.results import Cause, FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, ffmpeg, header_of, read_whole
from tests.shared import shared_folder

FRAMES = 50_000
BLOCK = 4096  # libsndfile's and flac's block size at 48 kHz
STREAMINFO_TOTAL = 21  # the byte whose low half begins the 36 bits of the total
STREAMINFO_MD5 = 26

needs_flac = pytest.mark.skipif(shutil.which("flac") is None, reason="flac is not installed")
needs_ffmpeg = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")


def music(channels: int = 2, frames: int = FRAMES) -> np.ndarray:
    """Sines under a little noise: predicted by FLAC, so that every subframe type but the constant occurs."""
    time_s = np.arange(frames)[:, None] / RATE_HZ
    tones = 0.4 * np.sin(2 * np.pi * (220.0 + 110.0 * np.arange(channels)) * time_s)
    return tones + np.random.default_rng(7).normal(0.0, 0.01, (frames, channels))


def written(folder: Path, subtype: str = "PCM_24", channels: int = 2) -> Path:
    path = folder / "stem.flac"
    soundfile.write(path, music(channels), RATE_HZ, subtype=subtype)
    return path


def audio_begin(data: bytes) -> int:
    """Offset of the first frame: behind the metadata blocks."""
    offset = 4
    while True:
        last = data[offset] & 0x80
        offset += 4 + int.from_bytes(data[offset + 1 : offset + 4], "big")
        if last:
            return offset


def flac_accepts(path: Path) -> bool:
    return subprocess.run(["flac", "-s", "-t", path], capture_output=True, check=False).returncode == 0


@pytest.mark.parametrize("channels", [1, 2, 8])
@pytest.mark.parametrize("subtype", ["PCM_S8", "PCM_16", "PCM_24"])
def test_sound_file_has_its_md5_checked(subtype: str, channels: int, tmp_path: Path):
    path = written(tmp_path, subtype, channels)
    if soundfile.info(path).frames != FRAMES:
        pytest.fail("the test's own file is not whole")
    reading = read_whole(path)
    stored = path.read_bytes()[STREAMINFO_MD5 : STREAMINFO_MD5 + 16]
    if not any(stored):
        pytest.skip("this libsndfile stores no MD5")
    assert reading.header.md5 == stored
    assert reading.md5_checked is True
    assert reading.faults == ()


@needs_flac
@pytest.mark.parametrize("bits", [8, 16, 24])
def test_md5_of_the_reference_encoder(bits: int, tmp_path: Path):
    """RFC 9639 section 8.2: the MD5 is that of the unencoded audio, little-endian at the stream's width."""
    samples = made.random_samples(FRAMES, 2, bits)
    raw = tmp_path / "raw"
    raw.write_bytes(made.pcm_bytes(samples, bits // 8))
    path = tmp_path / "stem.flac"
    shape = ["--endian=little", "--sign=signed", "--channels=2", f"--bps={bits}", f"--sample-rate={RATE_HZ}"]
    subprocess.run(["flac", "-s", "--force-raw-format", *shape, raw, "-o", path], check=True)
    reading = read_whole(path, block_frames=10_000)
    assert reading.md5_checked is True
    np.testing.assert_array_equal(reading.samples, (samples / 2.0 ** (bits - 1)).astype(np.float32))


@needs_ffmpeg
def test_md5_as_ffmpeg_counts_it(tmp_path: Path):
    """RFC 9639, December 2024, section 8.2 [memory]: the MD5 is that of the unencoded samples,
    interleaved, little-endian. ffmpeg's over pcm_s24le is that very sum."""
    path = written(tmp_path)
    text = ffmpeg("-i", path, "-c:a", "pcm_s24le", "-f", "md5", "-").decode()
    md5 = header_of(path).md5
    assert md5 is not None
    assert text.strip() == f"MD5={md5.hex()}"


@pytest.mark.parametrize("sample_bytes", [1, 2, 3, 4])
def test_packing_keeps_the_upper_bytes(sample_bytes: int):
    samples = made.random_samples(33, 3, 8 * sample_bytes)
    left_justified = (samples << (32 - 8 * sample_bytes)).astype(np.int32)
    assert pack_samples(left_justified, sample_bytes).tobytes() == made.pcm_bytes(samples, sample_bytes)
    packed = np.empty(left_justified.size * sample_bytes, np.uint8)
    scaled = np.empty(left_justified.size, np.float32)
    pack_and_scale(left_justified.reshape(-1), sample_bytes, packed, scaled)
    assert np.array_equal(packed, pack_samples(left_justified, sample_bytes))
    assert np.array_equal(scaled, left_justified.reshape(-1).astype(np.float32) * np.float32(2.0**-31))


def test_md5_of_zeros_is_no_checksum(tmp_path: Path):
    path = written(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[:STREAMINFO_MD5] + bytes(16) + data[STREAMINFO_MD5 + 16 :])
    reading = read_whole(path)
    assert reading.header.md5 is None
    assert reading.md5_checked is None
    assert reading.faults == ()


def test_wrong_md5_is_damage(tmp_path: Path):
    path = written(tmp_path)
    path.write_bytes(made.flip_bit(path.read_bytes(), 8 * STREAMINFO_MD5))
    reading = read_whole(path)
    assert reading.md5_checked is False
    assert reading.kinds == [FaultKind.DAMAGED]
    assert "MD5 does not match" in reading.faults[0].detail
    assert len(reading.samples) == FRAMES


def test_md5_is_not_claimed_before_the_end(tmp_path: Path):
    path = written(tmp_path)
    with open_blocks(path, header_of(path), 1000) as reader:
        next(reader)
        assert reader.md5_checked is False
        assert reader.faults == ()
        for _ in reader:
            pass
        assert reader.md5_checked is True


@needs_flac
@pytest.mark.parametrize("seed", range(40))
def test_one_flipped_bit_is_always_found(seed: int, tmp_path: Path):
    """Any bit of the frames; what is read before the break is the original. `flac -t` agrees."""
    path = written(tmp_path)
    original = read_whole(path).samples
    data = path.read_bytes()
    bit = random.Random(seed).randrange(8 * audio_begin(data), 8 * len(data))
    path.write_bytes(made.flip_bit(data, bit))
    assert not flac_accepts(path)
    reading = read_whole(path)
    assert reading.kinds in ([FaultKind.DAMAGED], [FaultKind.TRUNCATED])
    assert reading.md5_checked is False
    whole_frame = FRAMES // BLOCK * BLOCK
    if reading.kinds == [FaultKind.TRUNCATED]:  # only the stream's last frame may be taken for a cut
        assert len(reading.samples) == whole_frame
    np.testing.assert_array_equal(reading.samples, original[: len(reading.samples)])
    (fault,) = reading.faults
    if fault.at_frame is not None:
        assert fault.at_frame == len(reading.samples)
        assert fault.at_frame % BLOCK == 0


@pytest.mark.parametrize("block_frames", [1000, 4096, 65536])
def test_place_of_the_break_does_not_depend_on_the_block_size(block_frames: int, tmp_path: Path):
    path = written(tmp_path)
    data = path.read_bytes()
    path.write_bytes(made.flip_bit(data, 8 * (len(data) // 2)))
    reading = read_whole(path, block_frames)
    assert reading.kinds == [FaultKind.DAMAGED]
    assert reading.faults[0].at_frame == len(reading.samples) == read_whole(path).faults[0].at_frame
    assert 0 < len(reading.samples) < FRAMES


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.999])
def test_cut_file_is_truncated(share: float, tmp_path: Path):
    path = written(tmp_path)
    original = read_whole(path).samples
    data = path.read_bytes()
    path.write_bytes(data[: int(share * len(data))])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    (fault,) = reading.faults
    assert fault.value == pytest.approx((FRAMES - len(reading.samples)) / RATE_HZ)
    assert fault.unit == "s"
    np.testing.assert_array_equal(reading.samples, original[: len(reading.samples)])
    assert len(reading.samples) >= int(0.9 * share * FRAMES) - BLOCK


def test_cut_between_two_frames_is_truncated(tmp_path: Path):
    path = written(tmp_path)
    data = path.read_bytes()
    last = data.rindex(b"\xff\xf8", 0, len(data) - 100)  # the last frame's sync code
    path.write_bytes(data[:last])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert len(reading.samples) == FRAMES // BLOCK * BLOCK


def test_cut_where_the_audio_would_begin_is_refused(tmp_path: Path):
    path = written(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: audio_begin(data)])
    (fault,) = header_of(path).faults
    assert fault.kind is FaultKind.UNREADABLE
    assert "ends before its audio begins" in fault.detail


def test_format_after_the_pass_counts_what_was_there(tmp_path: Path):
    path = written(tmp_path)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    header = header_of(path)
    with open_blocks(path, header) as reader:
        assert reader.format == header.format
        frames = sum(len(block) for block in reader)
        assert reader.format.frames == frames < FRAMES


def test_length_never_written(tmp_path: Path):
    """RFC 9639 section 8.2: a total of 0 means unknown, which is what an encoder writing to a pipe leaves."""
    path = written(tmp_path)
    data = bytearray(path.read_bytes())
    data[STREAMINFO_TOTAL] &= 0xF0
    data[STREAMINFO_TOTAL + 1 : STREAMINFO_TOTAL + 5] = bytes(4)
    path.write_bytes(data)
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.UNFINISHED]
    assert reading.header.format is not None
    assert reading.header.format.frames == len(reading.samples) == FRAMES
    assert reading.md5_checked is True


@needs_ffmpeg
def test_file_that_ffmpeg_wrote_into_a_pipe(tmp_path: Path):
    path = tmp_path / "piped.flac"
    path.write_bytes(ffmpeg("-i", written(tmp_path), "-f", "flac", "-"))
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.UNFINISHED]
    assert len(reading.samples) == FRAMES
    assert reading.md5_checked is None


@needs_flac
def test_width_that_the_decoder_does_not_know(tmp_path: Path):
    raw = tmp_path / "raw"
    raw.write_bytes(made.pcm_bytes(made.random_samples(5000, 1, 32), 4))
    path = tmp_path / "stem.flac"
    shape = ["--endian=little", "--sign=signed", "--channels=1", "--bps=32", f"--sample-rate={RATE_HZ}"]
    done = subprocess.run(
        ["flac", "-s", "--force-raw-format", *shape, raw, "-o", path], check=False, capture_output=True
    )
    if done.returncode != 0:
        pytest.skip("this flac writes no 32-bit files")
    (fault,) = header_of(path).faults
    assert fault.kind is FaultKind.UNREADABLE
    assert fault.detail == "32-bit FLAC: the decoder reads 8, 16 and 24 bits"
    assert fault.cause is Cause.FORMAT


def test_frame_headers_of_the_reference_encoder(tmp_path: Path):
    """Number and size of a frame, and that one turned bit makes it none (RFC 9639 section 9.1)."""
    data = written(tmp_path).read_bytes()
    begin = audio_begin(data)
    first = read_frame_head(data, begin, BLOCK)
    last = find_last_frame(data, BLOCK)
    assert first is not None
    assert last is not None
    assert (first.offset, first.first_frame, first.frames) == (begin, 0, BLOCK)
    assert (last.first_frame, last.end_frame) == (FRAMES // BLOCK * BLOCK, FRAMES)
    for bit in range(8 * 6):
        assert read_frame_head(made.flip_bit(data, 8 * begin + bit), begin, BLOCK) is None


NUMBERS = (
    b"\x00", b"\x7f", b"\xc2\x80", b"\xe1\x85\xbf", b"\xf4\x8f\xbf\xbf", b"\x85", b"\xff\x80", b"\xc2\x00",
    b"\xfe\x82\x80\x80\x80\x80\x80",
)  # fmt: skip
HEADS = some.builds(
    lambda second, sizes, channels, number, rest: bytes([0xFF, second, sizes, channels, *number, *rest]),
    some.sampled_from([0xF8, 0xF9, 0xFA]), some.integers(0, 255), some.sampled_from([0x08, 0x18, 0x09]),
    some.sampled_from(NUMBERS), some.binary(max_size=6),
)  # fmt: skip


@settings(deadline=None)  # the first one compiles
@given(HEADS, some.booleans())
def test_compiled_and_plain_read_the_same_headers(head: bytes, whole: bool):
    if whole:
        head += bytes([crc8(head)])
    plain = read_frame_head(head, 0, BLOCK)
    compiled = read_head(np.frombuffer(head[:16], np.uint8), BLOCK, BLOCK_SIZES, CRC8)
    assert compiled == ((plain.first_frame, plain.frames) if plain else (0, 0))


def test_checksums_of_the_standard():
    """CRC check values of "123456789": CRC-8 (0x07) F4, CRC-16/UMTS (0x8005, not mirrored) FEE8.

    Source: the catalogue of parametrised CRC algorithms [memory]; polynomials: RFC 9639 section 9.
    """
    assert crc8(b"123456789") == 0xF4
    assert crc16(b"123456789") == 0xFEE8


def test_corpus_is_whole():
    """Every file of a real, clean show: no fault, and every FLAC's checksum right."""
    paths = sorted(shared_folder("corpus").rglob("*.flac"))[::8]
    assert len(paths) >= 4
    for path in paths:
        header = header_of(path)
        with open_blocks(path, header) as reader:
            for _ in reader:
                pass
        assert (header.faults, reader.faults, reader.md5_checked) == ((), (), True)
