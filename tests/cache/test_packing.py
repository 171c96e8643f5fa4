"""What is kept comes back as it was; what is no such thing is refused."""

from __future__ import annotations

import math
from array import array
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.cache import packing
from audit.cache.packing import UnpackError, digest_of, pack, unpack
from audit.cache.records import NO_SONG, PairRecord, PairRow, SongRecord
from audit.evidence import SongEvidence
from audit.results import Chroma, Loudness, Peaks
from audit.timecode import FPS_29_97_DROP, FrameRate

NO_EVIDENCE = SongEvidence(song=NO_SONG, stems=())


def test_the_demo_comes_back_as_it_was(demo_scan):
    songs = demo_scan.evidence.songs
    assert len(songs) == 8
    for song in songs:
        assert unpack(pack(song), SongEvidence) == song


def test_packed_numbers_keep_their_kind():
    chroma = Chroma(
        hop_s=0.1, classes=array("B", range(24)), levels=array("B", [0, 255]), tonal=0.1, tuning_cents=None,
        tuning_agreed=0.2,
    )  # fmt: skip
    back = unpack(pack(chroma), Chroma)
    assert back == chroma
    assert back.classes.typecode == "B"


@given(st.floats(allow_nan=False), st.floats(allow_nan=False))
def test_every_float_comes_back_to_the_bit(one: float, other: float):
    peaks = Peaks(
        sample_dbfs=one, sample_at_frame=1, true_dbtp=other, true_at_s=0.0, channel_dbfs=(one, -math.inf)
    )
    back = unpack(pack(peaks), Peaks)
    assert [v.hex() for v in (back.sample_dbfs, back.true_dbtp)] == [one.hex(), other.hex()]
    assert back.channel_dbfs == (one, -math.inf)


def test_fractions_and_strange_paths_come_back():
    assert unpack(pack(FPS_29_97_DROP), FrameRate).frames_per_s == Fraction(30000, 1001)
    path = Path("Caf\udce9/Bass.wav")  # a byte that is no UTF-8
    assert unpack(pack(path), Path) == path


@given(st.lists(st.text(st.characters(categories=("Ll", "Cs", "Cc", "Nd"))), max_size=4))
def test_names_that_are_no_utf8_come_back(names: list[str]):
    record = SongRecord(evidence=NO_EVIDENCE, stems=tuple(names))
    assert unpack(pack(record), SongRecord) == record


def test_names_that_are_no_utf8_stay_apart():
    names = (
        "S\udcfcsser",
        "S\udcf6sser",
        "S\0dcfcsser",
        "S\\xfcsser",
        "S\N{LATIN SMALL LETTER U WITH DIAERESIS}sser",
    )
    assert len({digest_of(name) for name in names}) == len(names)
    row = PairRow(pairs={name: PairRecord(laid=((name, "b", None),)) for name in names})
    assert unpack(pack(row), PairRow) == row


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xc1",
        b"\xc1\xc1",
        b"\xc1\x81\xa1a\x01",
        b"no such thing",
        pack("words"),
        pack(FPS_29_97_DROP)[:-1],
    ],
)
def test_other_bytes_are_refused(data: bytes):
    with pytest.raises(UnpackError):
        unpack(data, FrameRate)


def test_a_digest_tells_values_apart():
    quiet = Loudness(
        integrated_lufs=None, max_momentary_lufs=None, max_momentary_at_s=None, max_short_term_lufs=None,
        range_lu=None,
    )  # fmt: skip
    assert digest_of(quiet, "a") == digest_of(replace(quiet), "a")
    assert len({digest_of(quiet, "a"), digest_of(quiet, "b"), digest_of("a", quiet), digest_of(quiet)}) == 4


def test_what_has_no_form_to_be_kept_in_is_refused_by_name():
    """msgspec asks its hooks for kinds it does not know, and wants NotImplementedError for none of ours."""
    with pytest.raises(NotImplementedError, match="complex cannot be kept"):
        packing._written(1j)
    with pytest.raises(NotImplementedError, match="cannot be read back"):
        packing._read(complex, b"")
