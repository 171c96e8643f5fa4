"""The tests' own timecode encoder, against IEC 60461's tables, libltc, and the numbers of the standard."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tests import ltc
from tests.measure import libltc

NTSC = Fraction(30_000, 1001)
FILM = Fraction(24_000, 1001)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 96_000])
@pytest.mark.parametrize(
    ("fps", "drop", "start"),
    [
        (24, False, "00:59:58:20"), (25, False, "23:59:58:00"), (30, False, "01:00:00:00"),
        (NTSC, False, "10:09:58:15"), (NTSC, True, "10:08:58:15"), (NTSC, True, "10:09:58:15"),
        (FILM, False, "12:34:56:07"),
    ],
)  # fmt: skip
def test_libltc_reads_every_frame(rate_hz, fps, drop, start):
    samples, truth = ltc.timecode(5.0, rate_hz=rate_hz, fps=fps, drop=drop, start=start, user=0x89ABCDEF)
    frames = libltc.decode(samples, frame_samples=round(rate_hz / fps))
    texts = [frame.text for frame in frames]
    # The first word only locks the decoder, the last needs one edge more to end.
    assert truth.text[1:-1] == tuple(texts[texts.index(truth.text[1]) :])[: len(truth.text) - 2]
    places = dict(zip(truth.text, truth.at_frames, strict=True))
    # libltc reports offsets to within a few samples: it tracks edges at half amplitude in 8 bits.
    assert all(abs(frame.start - places[frame.text]) <= rate_hz / 4000 for frame in frames[2:])


def test_libltc_reads_it_upside_down_and_backwards():
    samples, truth = ltc.timecode(3.0, inverted=True)
    assert len(libltc.decode(samples, frame_samples=1920)) >= len(truth.text) - 2
    backwards = libltc.decode(samples[::-1].copy(), frame_samples=1920)
    assert len(backwards) >= len(truth.text) - 3
    assert all(frame.reversed for frame in backwards)


@pytest.mark.parametrize(
    ("fps", "bit_hz"), [(FILM, 1918.0819), (24, 1920), (25, 2000), (NTSC, 2397.6024), (30, 2400)]
)
def test_bit_rates_are_those_of_the_standard(fps, bit_hz):
    # IEC 60461:2010, 8.4: 80 bits a frame.
    _, truth = ltc.timecode(0.2, fps=fps)
    assert truth["bit_hz"] == pytest.approx(bit_hz, abs=1e-4)


def test_all_zeros_and_all_ones_are_tones_of_1000_and_2000_hz():
    # IEC 60461:2010, 8.3: a zero has an edge at its borders only, a one also in its middle.
    samples, _ = ltc.timecode(0.04, start="00:00:00:00", rise_s=0.0)
    # An edge that falls on a sample may show there or in the next one.
    edges = np.flatnonzero(np.diff(np.sign(samples[:, 0] + 1e-9)) != 0) + 1
    lengths = np.diff(edges)
    assert set(np.round(lengths / 12).tolist()) == {1.0, 2.0}
    assert np.abs(lengths - 12 * np.round(lengths / 12)).max() <= 1
    in_sync = lengths[(edges[:-1] >= 66 * 24 - 2) & (edges[:-1] < 78 * 24 - 2)]
    assert np.round(in_sync / 12).tolist() == [1.0] * 24  # the twelve ones of the sync word


def test_the_sync_word_and_the_fields_stand_where_the_table_says():
    # IEC 60461:2010 Tables 2-5: least significant bit first; packed, the sync bytes are FC BF.
    bits = ltc.word(12, 34, 56, 29, drop=True, fps=30, user=0x87654321)
    assert np.packbits(bits[64:], bitorder="little").tobytes() == b"\xfc\xbf"
    fields = {
        (0, 4): 9, (4, 8): 1, (8, 10): 2, (10, 11): 1, (11, 12): 0, (12, 16): 2, (16, 20): 6, (20, 24): 3,
        (24, 27): 5, (32, 36): 4, (40, 43): 3, (48, 52): 2, (56, 58): 1, (60, 64): 8,
    }  # fmt: skip
    for (first, end), value in fields.items():
        assert sum(bit << i for i, bit in enumerate(bits[first:end])) == value, (first, end)


@pytest.mark.parametrize("fps", [24, 25, 30])
def test_every_word_has_an_even_number_of_zeros(fps):
    # IEC 60461:2010, 8.2.6: then each word begins with an edge of the same direction.
    for frame in range(fps):
        for user in (0, 1, 0xFFFFFFFF, 0x12345678):
            assert ltc.word(23, 59, 58, frame, drop=False, fps=fps, user=user).count(0) % 2 == 0


@pytest.mark.parametrize(
    ("start", "next_one", "drop"),
    [
        ("00:00:59:29", (0, 1, 0, 2), True), ("00:09:59:29", (0, 10, 0, 0), True),
        ("00:00:59:29", (0, 1, 0, 0), False), ("23:59:59:29", (0, 0, 0, 0), True),
    ],
)  # fmt: skip
def test_drop_frame_counting(start, next_one, drop):
    # IEC 60461:2010, 4: frames 00 and 01 are left out at every minute but each tenth.
    assert ltc.count_frames(start, 2, fps=30, drop=drop)[1] == next_one


def test_drop_frame_loses_108_frames_an_hour():
    addresses = ltc.count_frames("00:00:00:00", 107_892 + 1, fps=30, drop=True)
    assert addresses[-1] == (1, 0, 0, 0)  # 30 × 3600 − 108, IEC 60461:2010, 4
