"""Names against contents, files that are no audio, and files whose bytes are not here."""

from __future__ import annotations

import errno
import os
import shutil
import socket
import struct
import subprocess
from pathlib import Path

import numpy as np
import pytest

from audit.decode.blocks import open_blocks
from audit.decode.header import PLACEHOLDER_BYTES, read_header
from audit.errors import ExhaustedError, UnreadableAudioError
from audit.results import Cause, FaultKind
from tests.decode.reading import header_of, read_whole
from tests.decode.small_files import SOUND, content, the_fault

# --- names against contents ---------------------------------------------------------------------------------


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
    (b"\xff\xfb\x90\x64" + bytes(60), "its first bytes are ff fb 90 64"),  # one MPEG frame's head, no stream
    (bytes.fromhex("3026b2758e66cf11a6d900aa0062ce6c"), "WMA (Windows Media) audio"),
    (b"MThd\0\0\0\x06", "a MIDI file"),
    (b"PK\x03\x04", "a ZIP archive"),
    (bytes(100_000), "nothing but zeros"),
    (b"RIFF\x24\0\0\0AVI LIST", "holds 'AVI ', not WAVE audio"),
    (b"FORM\0\0\0\x2418SV", "not audio"),
    (b"R", "its first bytes are 52"),
    (b"RIFF", "a RIFF file that does not say what it holds, not WAVE audio"),
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
    assert fault.cause is Cause.PERMISSION


def test_too_many_open_files_is_no_fault_of_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    path = tmp_path / "stem.wav"
    path.write_bytes(SOUND)
    header = header_of(path)

    def refuse(*_: object) -> int:
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))

    monkeypatch.setattr(os, "open", refuse)
    (fault,) = read_header(path, size_bytes=len(SOUND)).faults
    assert fault.cause is Cause.OURS
    with pytest.raises(ExhaustedError):
        open_blocks(path, header)


@pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg writes these files")
@pytest.mark.parametrize(
    ("name", "codec"),
    [
        ("a.m4a", "alac"), ("a.m4a", "aac"), ("a.caf", "alac"), ("a.oga", "flac"), ("a.aac", "aac"),
        ("a.wma", "wmav2"), ("a.wv", "wavpack"),
    ],
)  # fmt: skip
def test_sound_that_is_not_decoded_here_is_no_garbage(name: str, codec: str, tmp_path: Path):
    tone = ["-f", "lavfi", "-i", "sine=duration=0.5"]
    subprocess.run(["ffmpeg", "-loglevel", "error", *tone, "-c:a", codec, tmp_path / name], check=True)
    (fault,) = header_of(tmp_path / name).faults
    assert (fault.kind, fault.cause) == (FaultKind.UNREADABLE, Cause.FORMAT)


def test_garbage_is_not_called_another_format(tmp_path: Path):
    (tmp_path / "stem.wav").write_bytes(b"garbage " * 100)
    (fault,) = header_of(tmp_path / "stem.wav").faults
    assert fault.cause is Cause.FILE


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
    ("size", "allocated", "elsewhere", "absent"),
    [
        (PLACEHOLDER_BYTES, 0, False, True), (PLACEHOLDER_BYTES - 1, 0, False, False),
        (100_000_000, 512, False, False), (100_000_000, 0, False, True), (100_000_000, None, False, False),
        (100_000_000, 100_000_000, True, True), (1_000, None, True, True),
    ],
)  # fmt: skip
def test_placeholder_by_its_blocks_or_the_systems_word(
    size: int, allocated: int | None, elsewhere: bool, absent: bool, tmp_path: Path
):
    path = tmp_path / "stem.wav"
    path.write_bytes(SOUND)
    header = read_header(path, size_bytes=size, allocated_bytes=allocated, elsewhere=elsewhere)
    assert ([fault.kind for fault in header.faults] == [FaultKind.NOT_ON_DISK]) == absent


def test_placeholder_is_not_read(tmp_path: Path):
    """No file of that name exists: a reader that opened it would say so instead."""
    header = read_header(tmp_path / "gone.wav", size_bytes=13_824_044, allocated_bytes=0)
    (fault,) = header.faults
    assert fault.kind is FaultKind.NOT_ON_DISK
    assert fault.detail.startswith("this disk holds none of its 13\u00a0824\u00a0044 bytes")
    with pytest.raises(UnreadableAudioError):
        open_blocks(tmp_path / "gone.wav", header)


def wav_header(frames: int) -> bytes:
    """Mono, 16 bit, 48 kHz."""
    size = 2 * frames
    form = struct.pack("<HHIIHH", 1, 1, 48_000, 96_000, 2, 16)
    return (
        b"RIFF"
        + struct.pack("<I", 36 + size)
        + b"WAVEfmt \x10\0\0\0"
        + form
        + b"data"
        + struct.pack("<I", size)
    )


def test_a_file_with_holes_is_silence_and_is_read(tmp_path: Path):
    """What a program writes that stores silence as holes: the header's block and nothing else."""
    path = tmp_path / "stem.wav"
    frames = 500_000
    with path.open("wb") as file:
        file.write(wav_header(frames))
        file.truncate(44 + 2 * frames)
    state = path.stat()
    if state.st_blocks * 512 > 50_000:
        pytest.skip("this file system makes no files with holes")
    header = read_header(path, size_bytes=state.st_size, allocated_bytes=state.st_blocks * 512)
    assert header.faults == ()
    assert header.format is not None
    assert header.format.frames == frames


def test_a_file_that_is_one_hole_is_not_opened(tmp_path: Path):
    path = tmp_path / "stem.wav"
    with path.open("wb") as file:
        file.truncate(1 << 20)
    state = path.stat()
    if state.st_blocks > 0:
        pytest.skip("this file system makes no files without blocks")
    header = read_header(path, size_bytes=state.st_size, allocated_bytes=0)
    assert [fault.kind for fault in header.faults] == [FaultKind.NOT_ON_DISK]
