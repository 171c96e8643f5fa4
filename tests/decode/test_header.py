"""Single fields of headers, and claims that are not believed."""

from __future__ import annotations

import shutil
import struct
import tracemalloc
from pathlib import Path

import pytest
import soundfile

from audit.decode.aiff import read_extended
from audit.decode.chunks import MAX_CHUNKS
from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, ffmpeg, header_of, read_whole
from tests.decode.small_files import AUDIO, FORMAT, OTHER_CONTAINERS, SOUND, the_fault

# --- bext ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("frames", [0, 1, 172_800_000, 2**32 + 5, 2**63])
@pytest.mark.parametrize("behind", [False, True])
def test_time_reference_before_and_behind_the_audio(frames: int, behind: bool, tmp_path: Path):
    path = tmp_path / "stem.wav"
    piece = [made.bext(frames, history=b"A=PCM\r\n")]
    path.write_bytes(made.wave(AUDIO, FORMAT, **{"after" if behind else "before": piece}))
    header = header_of(path)
    assert header.faults == ()
    assert header.format is not None
    assert header.format.time_reference_frames == frames


def test_offsets_of_the_bext_chunk(tmp_path: Path):
    """EBU Tech 3285: the time reference stands at 338, behind 256 + 32 + 32 + 10 + 8 bytes of text."""
    chunk = made.bext(0x0102030405060708)
    body = chunk[8:]
    assert body[320:338] == b"2024-05-0112-00-00"
    assert struct.unpack("<Q", body[338:346]) == (0x0102030405060708,)
    assert len(body) == 602
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(AUDIO, FORMAT, before=[chunk]))
    assert header_of(path).format.time_reference_frames == 0x0102030405060708  # type: ignore[union-attr]


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")
def test_time_reference_that_ffmpeg_wrote(tmp_path: Path):
    whole, path = tmp_path / "whole.wav", tmp_path / "stem.wav"
    whole.write_bytes(SOUND)
    ffmpeg("-i", whole, "-write_bext", "1", "-metadata", "time_reference=4295139296", "-c", "copy", path)
    assert header_of(path).format.time_reference_frames == 4_295_139_296  # type: ignore[union-attr]


def test_without_bext_there_is_no_time_reference(tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(AUDIO, FORMAT, after=[made.chunk(b"bext", b"too short")]))
    header = header_of(path)
    assert header.format is not None
    assert header.format.time_reference_frames is None
    assert header.faults == ()


# --- AIFF, CAF, Wave64 --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rate_hz", "field"),
    [
        (44100, "400eac44000000000000"), (48000, "400ebb80000000000000"),
        (88200, "400fac44000000000000"), (96000, "400fbb80000000000000"),
    ],
)  # fmt: skip
def test_aiff_rate_bytes(rate_hz: int, field: str, tmp_path: Path):
    """COMM's sample rate in AIFF 1.3 (1989) is an 80-bit extended float [memory]; the bytes are worked out
    from that: exponent 16383 + 15 or + 16, then the rate as a 64-bit mantissa whose top bit is 1."""
    assert read_extended(bytes.fromhex(field)) == rate_hz
    path = tmp_path / "stem.aif"
    content = made.aiff(AUDIO, channels=2, rate_hz=rate_hz, bits=24, frame_bytes=6)
    assert bytes.fromhex(field) in content[:60]
    path.write_bytes(content)
    assert header_of(path).format.sample_rate_hz == rate_hz  # type: ignore[union-attr]
    assert soundfile.info(path).samplerate == rate_hz


def test_extended_numbers_at_the_edges():
    assert read_extended(bytes(10)) == 0.0
    assert read_extended(bytes.fromhex("bfff8000000000000000")) == -1.0
    assert read_extended(b"\x7f\xfe" + b"\xff" * 8) == float("inf")


TRAILERS = {
    "aif": made.chunk(b"NAME", b"Bass", order=">"),
    "caf": b"info" + struct.pack(">q", 8) + b"12345678",
    "w64": made.bext(77),
}
HALF_SIZES = {"aif": 8 + len(AUDIO) // 2, "caf": 4 + len(AUDIO) // 2, "w64": 24 + len(AUDIO) // 2}
UNSET_SIZES = [("aif", 0), ("aif", 8), ("aif", made.ALL_ONES), ("aif", 0x7FFF_FFF0), ("caf", 0), ("caf", 4),
               ("caf", -1),
               ("w64", 0), ("w64", 24), ("w64", -1), ("w64", 1 << 62)]  # fmt: skip


@pytest.mark.parametrize("extension", OTHER_CONTAINERS)
def test_whole_file_with_a_chunk_behind_the_audio(extension: str, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    path.write_bytes(OTHER_CONTAINERS[extension](after=[TRAILERS[extension]]))
    reading = read_whole(path)
    assert reading.faults == ()
    assert len(reading.samples) == 480
    if extension == "w64":
        assert reading.header.format.time_reference_frames == 77  # type: ignore[union-attr]


@pytest.mark.parametrize(("extension", "size"), UNSET_SIZES)
def test_length_never_filled_in(extension: str, size: int, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    path.write_bytes(OTHER_CONTAINERS[extension](data_size=size))
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.UNFINISHED]
    assert len(reading.samples) == 480


@pytest.mark.parametrize("extension", OTHER_CONTAINERS)
def test_header_claims_half(extension: str, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    path.write_bytes(OTHER_CONTAINERS[extension](data_size=HALF_SIZES[extension]))
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.UNFINISHED]
    assert len(reading.samples) == 480


@pytest.mark.parametrize("extension", OTHER_CONTAINERS)
def test_cut_to_half(extension: str, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    path.write_bytes(OTHER_CONTAINERS[extension]()[: -len(AUDIO) // 2])
    reading = read_whole(path)
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert reading.faults[0].value == pytest.approx(240 / RATE_HZ, rel=0.05)
    assert 230 <= len(reading.samples) <= 240  # Wave64 and AIFF pad at the end


def test_caf_that_was_never_closed_is_refused_by_others(tmp_path: Path):
    """A data size of −1 is legal by Apple's CAF specification; libsndfile 1.2.2 refuses it [measured]."""
    path = tmp_path / "stem.caf"
    path.write_bytes(OTHER_CONTAINERS["caf"](data_size=-1))
    with pytest.raises(soundfile.LibsndfileError):
        soundfile.info(path)


@pytest.mark.parametrize(("frames", "kind"), [(960, FaultKind.TRUNCATED), (0, FaultKind.UNFINISHED),
                                              (240, FaultKind.UNFINISHED)])  # fmt: skip
def test_aiff_frame_count_against_its_audio(frames: int, kind: FaultKind, tmp_path: Path):
    path = tmp_path / "stem.aif"
    path.write_bytes(OTHER_CONTAINERS["aif"](frames=frames))
    reading = read_whole(path)
    assert [fault.kind for fault in reading.header.faults] == reading.kinds == [kind]
    assert reading.header.format is not None
    assert reading.header.format.frames == len(reading.samples) == 480


def test_aiff_pad_byte_that_was_counted_is_no_frame(tmp_path: Path):
    path = tmp_path / "stem.aif"
    path.write_bytes(
        made.aiff(
            bytes(range(1, 102)) + b"\0", channels=1, rate_hz=RATE_HZ, bits=8, frame_bytes=1, frames=101
        )
    )
    reading = read_whole(path)
    assert reading.faults == ()
    assert len(reading.samples) == 101


@pytest.mark.parametrize("extension", ["aif", "caf", "w64", "wav"])
def test_no_audio_chunk(extension: str, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    whole = SOUND if extension == "wav" else OTHER_CONTAINERS[extension]()
    path.write_bytes(whole.replace(b"SSND", b"JUNK").replace(b"data", b"JUNK"))
    assert "no audio chunk" in the_fault(path, FaultKind.UNREADABLE)


# --- claims that are not believed ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("channels", 0, "0 channels"), ("channels", 33, "33 channels"), ("channels", 65535, "65535 channels"),
        ("rate_hz", 0, "0 Hz"), ("rate_hz", 0xFFFF_FFFF, "4294967295 Hz"), ("bits", 0, "0 bits"),
        ("bits", 65, "65 bits"), ("bits", 64, "8 bytes"),
    ],
)  # fmt: skip
def test_absurd_claims(field: str, value: int, words: str, tmp_path: Path):
    path = tmp_path / "stem.wav"
    claims = {"channels": 2, "rate_hz": RATE_HZ, "bits": 24, field: value}
    path.write_bytes(made.wave(AUDIO, made.wave_format(**claims, block_align=6, byte_rate=6)))
    assert words in the_fault(path, FaultKind.UNREADABLE)


@pytest.mark.parametrize("channels", [1, 32])
def test_channel_counts_that_are_read(channels: int, tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(AUDIO, made.wave_format(channels=channels, rate_hz=RATE_HZ, bits=24)))
    assert header_of(path).format.channels == channels  # type: ignore[union-attr]


def test_memory_does_not_follow_a_claim(tmp_path: Path):
    """2^31 frames of 32 channels are claimed, a few kilobytes are there."""
    path = tmp_path / "stem.wav"
    wide = made.wave_format(channels=32, rate_hz=RATE_HZ, bits=32)
    sizes = made.ds64(2**31 * 128, 2**31)
    path.write_bytes(made.wave(bytes(128 * 500), wide, magic=b"RF64", data_size=made.ALL_ONES, ds64=sizes))
    tracemalloc.start()
    try:
        reading = read_whole(path)
        peak_bytes = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert reading.kinds == [FaultKind.TRUNCATED]
    assert len(reading.samples) == 500
    assert peak_bytes < 2_000_000


@pytest.mark.parametrize("chunks", [MAX_CHUNKS - 2, MAX_CHUNKS - 1, 1_000_000])
def test_very_many_chunks_are_given_up_politely(chunks: int, tmp_path: Path):
    """`fmt ` and `data` count too: one chunk fewer than the limit is still read."""
    path = tmp_path / "stem.wav"
    small = made.chunk(b"JUNK", b"")
    path.write_bytes(made.wave(AUDIO, FORMAT, before=[small * chunks]))
    header = header_of(path)
    if chunks <= MAX_CHUNKS - 2:
        assert header.format is not None
        assert header.format.frames == 480
    else:
        assert "no audio among its first 4096 chunks" in the_fault(path, FaultKind.UNREADABLE)
