"""Single fields of headers, names against contents, and files that are no audio."""

from __future__ import annotations

import os
import socket
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode.aiff import read_extended
from audit.decode.blocks import open_blocks
from audit.decode.chunks import MAX_CHUNKS
from audit.decode.header import PLACEHOLDER_BYTES, read_header
from audit.errors import UnreadableAudioError
from audit.results import FaultKind
from tests import containers as made
from tests.decode.reading import RATE_HZ, header_of, read_whole

AUDIO = made.pcm_bytes(made.random_samples(480, 2, 24), 3)
FORMAT = made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24)
SOUND = made.wave(AUDIO, FORMAT)


def the_fault(path: Path, kind: FaultKind) -> str:
    """The detail of the file's only fault, which must be of that kind."""
    (fault,) = header_of(path).faults
    assert fault.kind is kind
    return fault.detail


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
    """The standards page, section 6.3, prints these bytes."""
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


OTHER_CONTAINERS = {
    "aif": lambda **k: made.aiff(AUDIO, channels=2, rate_hz=RATE_HZ, bits=24, frame_bytes=6, **k),
    "caf": lambda **k: made.caf(AUDIO, channels=2, rate_hz=RATE_HZ, bits=24, little_endian=True, **k),
    "w64": lambda **k: made.wave64(AUDIO, FORMAT, **k),
}
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
    assert reading.kinds == [kind]
    assert len(reading.samples) == 480


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
        assert "no audio among its first 4 096 chunks" in the_fault(path, FaultKind.UNREADABLE)


# --- names against contents ---------------------------------------------------------------------------------


def content(container: str, folder: Path) -> bytes:
    if container == "WAV":
        return SOUND
    if container in ("RF64", "BW64"):
        return made.wave(AUDIO, FORMAT, magic=container.encode(), data_size=made.ALL_ONES,
                         ds64=made.ds64(len(AUDIO), 480))  # fmt: skip
    if container in ("W64", "AIFF", "CAF"):
        return OTHER_CONTAINERS[{"W64": "w64", "AIFF": "aif", "CAF": "caf"}[container]]()
    if container == "AIFC":
        return OTHER_CONTAINERS["aif"](compression=b"NONE")
    path = folder / f"made.{container.lower()}"
    soundfile.write(path, np.zeros((4800, 1)), RATE_HZ, format=container)
    return path.read_bytes()


RIGHT = {
    "wav": ["WAV", "RF64", "BW64"], "wave": ["WAV"], "bwf": ["WAV", "BW64"], "rf64": ["RF64", "WAV"],
    "w64": ["W64", "WAV"], "WAV": ["WAV"], "aif": ["AIFF", "AIFC"], "aiff": ["AIFF", "AIFC"],
    "aifc": ["AIFC", "AIFF"], "caf": ["CAF"], "flac": ["FLAC"], "ogg": ["OGG"], "oga": ["OGG"],
    "opus": ["OGG"], "mp3": ["MP3"], "bak": ["WAV", "FLAC"],
}  # fmt: skip
WRONG = {
    "wav": ["FLAC", "AIFF", "MP3", "OGG", "CAF", "W64"], "flac": ["WAV", "OGG"], "aif": ["WAV", "CAF"],
    "mp3": ["WAV", "OGG"], "caf": ["AIFF"], "ogg": ["MP3"], "w64": ["AIFF"],
}  # fmt: skip
PAIRS = [(name, kind, right) for table, right in ((RIGHT, True), (WRONG, False))
         for name, kinds in table.items() for kind in kinds]  # fmt: skip


@pytest.mark.parametrize(("extension", "container", "right"), PAIRS)
def test_extension_against_container(extension: str, container: str, right: bool, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    path.write_bytes(content(container, tmp_path))
    header = header_of(path)
    assert header.format is not None
    assert header.format.container == container
    if right:
        assert header.faults == ()
    else:
        assert the_fault(path, FaultKind.WRONG_EXTENSION) == f"named .{extension}, but it holds {container}"


@pytest.mark.parametrize("inside", ["MP3", "FLAC"])
def test_id3_tag_in_front(inside: str, tmp_path: Path):
    tag = b"ID3\x04\x00\x00\x00\x00\x02\x01" + bytes(257)
    path = tmp_path / "stem.wav"
    path.write_bytes(tag + content(inside, tmp_path))
    assert the_fault(path, FaultKind.WRONG_EXTENSION) == f"named .wav, but it holds {inside}"
    reading = read_whole(path)
    assert len(reading.samples) >= 4800


# --- no audio at all ----------------------------------------------------------------------------------------

STRANGERS = [
    (b"\0\0\0\x20ftypM4A \0\0\0\0" + bytes(50) + b"mp4a", "AAC in an MP4 container: not a format"),
    (b"\0\0\0\x20ftypM4A \0\0\0\0" + bytes(50) + b"alac", "Apple Lossless in an MP4 container"),
    (b"\xff\xf1\x50\x80" + bytes(60), "AAC (ADTS) audio"),
    (bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c"), "WMA (Windows Media) audio"),
    (b"MThd\0\0\0\x06", "a MIDI file"),
    (b"PK\x03\x04", "a ZIP archive"),
    (bytes(100_000), "nothing but zeros"),
    (b"RIFF\x24\0\0\0AVI LIST", "holds 'AVI ', not WAVE audio"),
    (b"FORM\0\0\0\x2418SV", "not audio"),
    (b"R", "its first bytes are 52"),
    (b"RIFF", "not WAVE audio"),
    (b"fLaC", "without its stream information"),
    (b"caff", "no audio chunk"),
    (np.random.default_rng(3).bytes(100_000), "not a sound file of a known kind"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "words"), STRANGERS, ids=[words for _, words in STRANGERS])
def test_strangers_are_named(data: bytes, words: str, tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(data)
    assert words in the_fault(path, FaultKind.UNREADABLE)
    with pytest.raises(UnreadableAudioError, match=r"^'stem\.wav': "):
        open_blocks(path, header_of(path))


def test_zero_bytes(tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(b"")
    assert the_fault(path, FaultKind.EMPTY) == "it holds no bytes at all"


def test_folder_that_is_named_like_a_stem(tmp_path: Path):
    path = tmp_path / "x.wav"
    path.mkdir()
    assert "it is a folder" in the_fault(path, FaultKind.UNREADABLE)


def test_pipe_and_socket_are_not_opened(tmp_path: Path):
    """Opening a named pipe for reading would wait for a writer for ever."""
    pipe = tmp_path / "x.wav"
    os.mkfifo(pipe)
    assert "not a regular file" in the_fault(pipe, FaultKind.UNREADABLE)
    with socket.socket(socket.AF_UNIX) as plug:
        plug.bind(str(tmp_path / "y.wav"))
        assert "not a regular file" in the_fault(tmp_path / "y.wav", FaultKind.UNREADABLE)


def test_missing_file(tmp_path: Path):
    header = read_header(tmp_path / "gone.wav", size_bytes=100)
    assert header.faults[0].detail == "it cannot be opened: no such file or directory"


def test_permission_denied(tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(SOUND)
    path.chmod(0)
    superuser = os.geteuid() == 0  # who may read everything: steps down for a moment
    try:
        if superuser:
            os.seteuid(65534)
        (fault,) = read_header(path, size_bytes=len(SOUND)).faults
    finally:
        if superuser:
            os.seteuid(0)
    assert fault.kind is FaultKind.UNREADABLE
    assert fault.detail == "it cannot be opened: permission denied"


def test_path_past_the_systems_limit(tmp_path: Path):
    header = read_header(tmp_path / ("d/" * 3000) / "stem.wav", size_bytes=100)
    assert header.faults[0].kind is FaultKind.UNREADABLE
    assert "too long" in header.faults[0].detail


HOSTILE_NAMES = [
    b"new\nline.wav", b"esc\x1b[2J.wav", b"not utf-8 \xff\xfe.wav", "ü".encode() * 120 + b".wav",
    b"- rf.wav", b"%s%n.wav", b".wav", "e\u0301\u202egnp.wav".encode(),
]  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_names_open(name: bytes, tmp_path: Path):
    path = tmp_path / os.fsdecode(name)
    for whole in (SOUND, content("FLAC", tmp_path)):
        path.write_bytes(whole)
        reading = read_whole(path)
        assert len(reading.samples) > 0


def test_hostile_name_is_escaped_in_the_error(tmp_path: Path):
    path = tmp_path / os.fsdecode(b"a\n\x1b\xff.wav")
    path.write_bytes(b"nothing")
    with pytest.raises(UnreadableAudioError) as caught:
        open_blocks(path, header_of(path))
    assert str(caught.value).isprintable()


# --- placeholders -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "allocated", "absent"),
    [
        (PLACEHOLDER_BYTES, 0, True), (PLACEHOLDER_BYTES - 1, 0, False), (100_000_000, 4_999_999, True),
        (100_000_000, 5_000_000, False), (100_000_000, None, False),
    ],
)  # fmt: skip
def test_placeholder_by_its_blocks(size: int, allocated: int | None, absent: bool, tmp_path: Path):
    path = tmp_path / "stem.wav"
    path.write_bytes(SOUND)
    header = read_header(path, size_bytes=size, allocated_bytes=allocated)
    assert ([fault.kind for fault in header.faults] == [FaultKind.NOT_ON_DISK]) == absent


def test_placeholder_is_not_read(tmp_path: Path):
    """No file of that name exists: a reader that opened it would say so instead."""
    header = read_header(tmp_path / "gone.wav", size_bytes=13_824_044, allocated_bytes=0)
    (fault,) = header.faults
    assert fault.kind is FaultKind.NOT_ON_DISK
    assert fault.detail.startswith("this disk holds 0 of its 13 824 044 bytes")
    with pytest.raises(UnreadableAudioError):
        open_blocks(tmp_path / "gone.wav", header)


def test_file_with_holes_of_our_own_making_looks_so(tmp_path: Path):
    path = tmp_path / "stem.wav"
    with path.open("wb") as file:
        file.truncate(1 << 20)
    state = path.stat()
    if state.st_blocks * 512 > 50_000:
        pytest.skip("this file system makes no files with holes")
    header = read_header(path, size_bytes=state.st_size, allocated_bytes=state.st_blocks * 512)
    assert [fault.kind for fault in header.faults] == [FaultKind.NOT_ON_DISK]
