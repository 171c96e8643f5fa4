"""show.seal: what goes in comes out, and anything else is told from it."""

from __future__ import annotations

import gzip
import json
import subprocess
from dataclasses import replace
from pathlib import Path
from shutil import which

import pytest

from audit.errors import UsageError
from audit.facts import StemFormat
from audit.results import Sketch
from audit.seal.file import is_seal, read_seal, to_bytes
from audit.seal.model import SCHEMA, Seal, SealedMeasures, SealedSong, SealedStem

STEM = SealedStem(
    path="Café/Bass\u202e.wav", file="Bass\u202e.wav", role="bass", size_bytes=2**40, modified_ns=2**62,
    file_hash="c0ffee", audio_hash=None,
    format=StemFormat(container="WAV", encoding="PCM_24", sample_rate_hz=48000, channels=2, frames=10),
    measures=SealedMeasures(integrated_lufs=-18.2),
    sketch=Sketch(
        rate_hz=48000, channels=2, frames=10, chunk_frames=12000, hashes=bytes(range(4)), crest_at=bytes(4),
        crests=b"\x00\x00\x80?", levels=b"\xff",
    ),
    fingerprint=bytes(range(8)),
)  # fmt: skip
SEAL = Seal(
    schema=SCHEMA, made_by="stemaudit", sealed_at="2026-05-01T18:00:00+00:00", show="Harbour Lights",
    songs=(SealedSong(name="Café", folder="Café", verdict="clear", stems=(STEM,), bar_s=2.0),),
)  # fmt: skip


def written(tmp_path: Path, data: bytes) -> Path:
    path = tmp_path / "show.seal"
    path.write_bytes(data)
    return path


def test_round_trip(tmp_path: Path):
    path = written(tmp_path, to_bytes(SEAL))
    assert read_seal(path) == SEAL
    assert is_seal(path)
    assert to_bytes(SEAL) == to_bytes(read_seal(path))


def test_a_name_that_is_no_utf8_comes_back(tmp_path: Path):
    """Linux takes any byte but 0 and / into a name; Python keeps others than UTF-8 as PEP 383 says."""
    folder = "S\udcfcsser"
    stems = tuple(
        replace(STEM, path=f"{folder}/{name}", file=name, failure=name)
        for name in ("B\udce4.wav", "B\udce5.wav")
    )
    song = replace(SEAL.songs[0], name=folder, folder=folder, stems=stems)
    seal = replace(SEAL, show="T\udcff", songs=(song, *SEAL.songs))
    path = written(tmp_path, to_bytes(seal))
    assert read_seal(path) == seal
    kept = json.loads(gzip.decompress(path.read_bytes()))["songs"][0]
    assert (kept["folder"], kept["stems"][1]["file"]) == (r"S\xfcsser", r"B\xe5.wav")


def test_it_is_json_that_anybody_can_read(tmp_path: Path):
    path = written(tmp_path, to_bytes(SEAL))
    assert json.loads(gzip.decompress(path.read_bytes()))["songs"][0]["stems"][0]["file_hash"] == "c0ffee"
    if which("gunzip"):
        plain = subprocess.run(
            ["gunzip", "-c"], input=path.read_bytes(), capture_output=True, check=True
        ).stdout
        assert json.loads(plain)["schema"] == 1


def test_any_flipped_bit_is_told(tmp_path: Path):
    good = to_bytes(SEAL)
    told = 0
    for at in range(len(good)):
        broken = bytearray(good)
        broken[at] ^= 0x08
        try:
            same = read_seal(written(tmp_path, bytes(broken))) == SEAL
        except UsageError:
            told += 1
            same = True
        assert same, at  # bits of gzip's own header (its time, its system) say nothing
    assert told > 0.9 * len(good)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is no seal"),
        (b"RIFF....WAVE", "is damaged, or no seal"),
        (to_bytes(SEAL)[:-20], "is damaged, or no seal"),
        (gzip.compress(b"[1, 2]", mtime=0), "is no seal"),
        (gzip.compress(b'{"schema": 1}', mtime=0), "is no seal"),
        (gzip.compress(b'{"schema": 99, "songs": 7}', mtime=0), "later stemaudit"),
    ],
)
def test_what_is_none_is_refused(tmp_path: Path, data: bytes, says: str):
    with pytest.raises(UsageError, match=says):
        read_seal(written(tmp_path, data))


def test_none_there(tmp_path: Path):
    with pytest.raises(UsageError, match="there is no seal"):
        read_seal(tmp_path / "show.seal")
    assert not is_seal(tmp_path / "show.seal")


def test_keys_of_later_versions_are_passed_over(tmp_path: Path):
    document = json.loads(gzip.decompress(to_bytes(SEAL)))
    document["songs"][0]["stems"][0]["mood"] = "blue"
    assert read_seal(written(tmp_path, gzip.compress(json.dumps(document).encode(), mtime=0))) == SEAL
