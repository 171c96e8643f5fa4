"""What stands behind the audio's claimed end: more audio, or chunks, tags and filling?"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audit.decode.chunks import IFF, RIFF, WAVE64, Dialect, audio_follows
from audit.decode.source import Source
from tests import containers as made

NOISE = np.random.default_rng(3).integers(128, 256, 400, dtype=np.uint8).tobytes()
LIST = made.chunk(b"LIST", b"INFO")
BEFORE = bytes(12)


def follows(folder: Path, rest: bytes, dialect: Dialect = RIFF, *, zeros_count: bool = False) -> bool:
    path = folder / "x.wav"
    path.write_bytes(BEFORE + rest)
    with Source(path) as source:
        return audio_follows(source, len(BEFORE), dialect, zeros_count=zeros_count)


@pytest.mark.parametrize(
    "rest",
    [
        b"",
        NOISE[:7],  # too little to be told from a slip of the writer
        b"TAG" + NOISE[:125],
        b"APETAGEX" + NOISE,
        b"ID3\x03" + NOISE,
        LIST,
        LIST + LIST,
        LIST + NOISE[:7],
        LIST[:-2],
        bytes(500),
        made.chunk(b"zZ9!", NOISE),
    ],
    ids=["nothing", "seven bytes", "ID3v1", "APE", "ID3v2", "LIST", "two", "LIST and seven bytes",
         "LIST cut", "zeros", "an unknown chunk"],
)  # fmt: skip
def test_no_audio(tmp_path: Path, rest: bytes):
    assert not follows(tmp_path, rest)


@pytest.mark.parametrize(
    "rest",
    [
        NOISE[:8],
        NOISE,
        b"TAG" + NOISE[:126],  # a tag is 128 bytes long
        LIST + NOISE,
        bytes(500) + NOISE,
        b"Ahem" + NOISE,  # printable by chance: the chunk that it would begin ends behind the file
    ],
    ids=["eight bytes", "noise", "no ID3v1", "behind a LIST", "after a rest", "text by chance"],
)
def test_audio(tmp_path: Path, rest: bytes):
    assert follows(tmp_path, rest)


@pytest.mark.parametrize("zeros_count", [False, True])
def test_zeros_are_filling_unless_silence_counts(tmp_path: Path, zeros_count: bool):
    assert follows(tmp_path, bytes(500), zeros_count=zeros_count) is zeros_count


def test_the_end_of_long_filling_is_looked_at_too(tmp_path: Path):
    """Beyond the first megabytes only the last bytes are read. The file is sparse: it costs nothing."""
    path = tmp_path / "x.wav"
    for tail, audio in ((b"", False), (NOISE, True)):
        with path.open("wb") as file:
            file.truncate(6 << 20)
            file.seek(0, 2)
            file.write(tail)
        with Source(path) as source:
            assert audio_follows(source, 12, RIFF) is audio


@pytest.mark.parametrize("dialect", [RIFF, IFF, WAVE64], ids=["RIFF", "IFF", "Wave64"])
def test_noise_is_audio_in_every_dialect(tmp_path: Path, dialect: Dialect):
    assert follows(tmp_path, NOISE, dialect)
