"""The demo's timecode: counting and bits against the standard, the waveform against libltc."""

from __future__ import annotations

import ctypes
import ctypes.util
from fractions import Fraction

import numpy as np
import pytest

from audit.demo.timecode import encode_timecode
from audit.timecode import (
    FPS_23_976,
    FPS_24,
    FPS_25,
    FPS_29_97,
    FPS_29_97_DROP,
    FPS_30,
    FRAME_RATES,
    Label,
    frame_start,
    frames_per_day,
    index_of,
    label_at,
    word_bits,
)

# IEC 60461:2010 sections 4 to 6 (the rule: frames 0 and 1 of every minute but each tenth are not counted);
# the numbers are worked out from it by hand: 10 minutes hold 10 · 1800 − 9 · 2 = 17982 frames, an hour
# 107892.
DROP_FRAME_EXAMPLES = [
    (Label(0, 0, 59, 29), 1799, 60.02663),
    (Label(0, 1, 0, 2), 1800, 60.06),
    (Label(0, 9, 59, 29), 17981, 599.96603),
    (Label(0, 10), 17982, 599.9994),
    (Label(1), 107892, 3599.9964),
    (Label(10), 1078920, 35999.964),
]


@pytest.mark.parametrize(("label", "index", "elapsed_s"), DROP_FRAME_EXAMPLES, ids=str)
def test_drop_frame_counts_as_the_standard_works_it_out(label: Label, index: int, elapsed_s: float):
    assert index_of(label, FPS_29_97_DROP) == index
    assert label_at(index, FPS_29_97_DROP) == label
    assert index / (30000 / 1001) == pytest.approx(elapsed_s, abs=6e-6)


def test_a_drop_frame_day_has_the_published_number_of_frames():
    assert frames_per_day(FPS_29_97_DROP) == 2589408
    assert label_at(2589408, FPS_29_97_DROP) == Label(0)


@pytest.mark.parametrize("label", [Label(0, 1, 0, 0), Label(0, 1, 0, 1), Label(3, 59, 0, 1)], ids=str)
def test_dropped_numbers_do_not_exist(label: Label):
    with pytest.raises(ValueError, match=r"does not exist at 29\.97 DF"):
        index_of(label, FPS_29_97_DROP)


@pytest.mark.parametrize("label", [Label(24), Label(0, 60), Label(0, 0, 60), Label(0, 0, 0, 25)], ids=str)
def test_labels_outside_the_clock_do_not_exist(label: Label):
    with pytest.raises(ValueError, match="does not exist"):
        index_of(label, FPS_25)


@pytest.mark.parametrize("rate", FRAME_RATES, ids=lambda rate: rate.text)
def test_every_label_of_a_day_is_counted_once_and_in_order(rate):
    step = 997  # prime: visits every minute and second in the long run
    labels = [label_at(index, rate) for index in range(0, frames_per_day(rate), step)]
    assert len(labels) > 2000
    assert [index_of(label, rate) for label in labels] == list(range(0, frames_per_day(rate), step))
    assert labels == sorted(labels)


def packed(bits: tuple[int, ...]) -> str:
    return " ".join(
        f"{sum(bit << place for place, bit in enumerate(bits[at : at + 8])):02X}" for at in range(0, 80, 8)
    )


# Standards page, section 5.2: measured with libltc 1.3.2, parity checked by hand.
WORKED_WORDS = [
    (FPS_25, "00 00 08 05 09 05 00 00 FC BF"),
    (FPS_29_97, "00 00 08 05 09 05 00 00 FC BF"),
    (FPS_30, "00 00 08 05 09 05 00 00 FC BF"),
    (FPS_29_97_DROP, "00 04 08 0D 09 05 00 00 FC BF"),
]


@pytest.mark.parametrize(("rate", "word"), WORKED_WORDS, ids=str)
def test_words_worked_out_by_hand(rate, word: str):
    assert packed(word_bits(Label(0, 59, 58, 0), rate)) == word


@pytest.mark.parametrize("rate", FRAME_RATES, ids=lambda rate: rate.text)
def test_polarity_correction_makes_the_zeros_even(rate):
    """IEC 60461 8.2.6; without it about half of the words are odd."""
    labels = [label_at(index, rate) for index in range(107892, 107892 + 500)]
    assert all(word_bits(label, rate).count(0) % 2 == 0 for label in labels)
    odd = [word_bits(label, rate, polarity_correction=False).count(0) % 2 for label in labels]
    assert 100 < sum(odd) < 400


def test_binary_group_flags_sit_where_each_rate_has_them():
    """IEC 60461 table 2 to 5: bits 27 and 59 change places at 25 frames."""
    for flags, bits_25, bits_30 in [(1, {27}, {43}), (2, {58}, {58}), (4, {43}, {59})]:
        for rate, wanted in [(FPS_25, bits_25), (FPS_30, bits_30)]:
            word = word_bits(Label(0), rate, binary_group_flags=flags, polarity_correction=False)
            assert {bit for bit in range(64) if word[bit]} == wanted


def test_user_bits_fill_the_eight_groups():
    word = word_bits(Label(0), FPS_24, user_bits=range(1, 9), polarity_correction=False)
    groups = [sum(word[4 + 8 * g + place] << place for place in range(4)) for g in range(8)]
    assert groups == list(range(1, 9))
    with pytest.raises(ValueError, match="eight numbers"):
        word_bits(Label(0), FPS_24, user_bits=(16,) + (0,) * 7)


# Standards page, section 5.1: samples per frame.
SAMPLES_PER_FRAME = [
    (FPS_23_976, 48000, Fraction(2002)),
    (FPS_24, 44100, Fraction(3675, 2)),
    (FPS_25, 44100, Fraction(1764)),
    (FPS_29_97, 44100, Fraction(147147, 100)),
    (FPS_29_97_DROP, 48000, Fraction(8008, 5)),
    (FPS_30, 96000, Fraction(3200)),
]


@pytest.mark.parametrize(("rate", "sample_rate_hz", "samples"), SAMPLES_PER_FRAME, ids=str)
def test_frames_start_at_exact_positions(rate, sample_rate_hz: int, samples: Fraction):
    assert frame_start(1, rate, sample_rate_hz) == samples
    assert frame_start(1000, rate, sample_rate_hz) == 1000 * samples


def crossings(wave: np.ndarray) -> np.ndarray:
    """Interpolated positions where the sign changes."""
    before = np.flatnonzero(np.signbit(wave[1:]) != np.signbit(wave[:-1]))
    a, b = wave[before].astype(float), wave[before + 1].astype(float)
    return before + a / (a - b)


@pytest.mark.parametrize("sample_rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("rate", FRAME_RATES, ids=lambda rate: rate.text)
def test_edges_keep_the_standards_one_percent(rate, sample_rate_hz: int):
    """IEC 60461 8.6.4: clock edges within 1 % of a bit, mid-cell edges within 0.5 %; interpolated."""
    wave = encode_timecode(Label(1), 20, rate, sample_rate_hz)
    bit = float(frame_start(1, rate, sample_rate_hz)) / 80
    half_cells = crossings(wave) / (bit / 2)
    assert half_cells.size > 20 * 80
    error_bits = np.abs(half_cells - np.round(half_cells)) / 2
    assert error_bits.max() < 0.005
    bits = [b for k in range(20) for b in word_bits(label_at(index_of(Label(1), rate) + k, rate), rate)]
    wanted = [p for n, b in enumerate(bits) for p in ((2 * n, 2 * n + 1) if b else (2 * n,))]
    found = np.round(half_cells).astype(int).tolist()
    assert found == [*wanted[1:], 20 * 160]  # the first edge leaves silence, the last closes the last bit


def test_edges_rise_in_forty_microseconds_without_overshoot():
    """IEC 60461 8.6.2: 40 ± 10 µs from 10 to 90 %; 8.6.3: at most 5 % overshoot."""
    rate_hz = 960_000
    wave = encode_timecode(Label(1), 1, FPS_25, rate_hz, level_dbfs=0.0)
    assert np.abs(wave).max() == pytest.approx(1.0, abs=1e-6)
    edge = round(float(frame_start(1, FPS_25, rate_hz)) / 80)  # the second cell's start: +1 to −1
    around = wave[edge - 60 : edge + 60]
    below, above = np.flatnonzero(around > 0.8)[-1], np.flatnonzero(around < -0.8)[0]
    assert (above - below) / rate_hz * 1e6 == pytest.approx(40, abs=2.1)


def test_level_is_twelve_below_full_scale_unless_asked():
    assert np.abs(encode_timecode(Label(1), 3, FPS_25, 48000)).max() == pytest.approx(
        10 ** (-12 / 20), rel=1e-4
    )
    loud = encode_timecode(Label(1), 3, FPS_25, 48000, level_dbfs=-3)
    assert np.abs(loud).max() == pytest.approx(10 ** (-3 / 20), rel=1e-4)


def test_every_frame_starts_with_the_same_polarity():
    wave = encode_timecode(Label(1), 60, FPS_25, 48000)
    assert all(wave[1920 * k + 4] > 0.2 for k in range(60))


def test_a_rate_that_cannot_carry_it_is_refused():
    with pytest.raises(ValueError, match="22050 Hz"):
        encode_timecode(Label(1), 3, FPS_25, 22050)


class LtcFrameExt(ctypes.Structure):
    """libltc's LTCFrameExt on a 64-bit machine: ten bytes of frame, then positions; 368 bytes in all."""

    _fields_ = (
        ("bits", ctypes.c_ubyte * 10),
        ("off_start", ctypes.c_longlong),
        ("off_end", ctypes.c_longlong),
        ("reverse", ctypes.c_int),
        ("rest", ctypes.c_ubyte * 332),
    )


class SmpteTimecode(ctypes.Structure):
    """libltc's SMPTETimecode."""

    _fields_ = (
        ("timezone", ctypes.c_char * 6),
        ("years", ctypes.c_ubyte),
        ("months", ctypes.c_ubyte),
        ("days", ctypes.c_ubyte),
        ("hours", ctypes.c_ubyte),
        ("mins", ctypes.c_ubyte),
        ("secs", ctypes.c_ubyte),
        ("frame", ctypes.c_ubyte),
    )


@pytest.fixture(scope="module")
def libltc() -> ctypes.CDLL:
    try:
        library = ctypes.CDLL("libltc.so.11")
    except OSError:
        pytest.skip("libltc.so.11 is not installed: the second implementation cannot be asked")
    library.ltc_decoder_create.restype = ctypes.c_void_p
    library.ltc_decoder_create.argtypes = [ctypes.c_int, ctypes.c_int]
    library.ltc_decoder_free.argtypes = [ctypes.c_void_p]
    library.ltc_decoder_write_float.argtypes = [
        ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_longlong,
    ]  # fmt: skip
    library.ltc_decoder_read.argtypes = [ctypes.c_void_p, ctypes.POINTER(LtcFrameExt)]
    library.ltc_frame_to_time.argtypes = [
        ctypes.POINTER(SmpteTimecode), ctypes.POINTER(LtcFrameExt), ctypes.c_int,
    ]  # fmt: skip
    return library


def decoded(libltc: ctypes.CDLL, wave: np.ndarray, samples_per_frame: int) -> list[tuple[Label, int, bytes]]:
    """Label, start position and word of every frame that libltc reads."""
    assert ctypes.sizeof(SmpteTimecode) == 13
    assert ctypes.sizeof(LtcFrameExt) == 368
    decoder = libltc.ltc_decoder_create(samples_per_frame, 64)
    frames = []
    try:
        data = np.ascontiguousarray(wave, dtype=np.float32)
        for at in range(0, data.size, 4800):
            block = data[at : at + 4800].copy()
            libltc.ltc_decoder_write_float(decoder, block.ctypes.data, block.size, at)
            frame = LtcFrameExt()
            while libltc.ltc_decoder_read(decoder, ctypes.byref(frame)):
                time = SmpteTimecode()
                libltc.ltc_frame_to_time(ctypes.byref(time), ctypes.byref(frame), 0)
                label = Label(time.hours, time.mins, time.secs, time.frame)
                frames.append((label, frame.off_start, bytes(frame.bits)))
    finally:
        libltc.ltc_decoder_free(decoder)
    return frames


@pytest.mark.parametrize("sample_rate_hz", [44100, 48000, 96000])
@pytest.mark.parametrize("rate", FRAME_RATES, ids=lambda rate: rate.text)
def test_libltc_reads_every_frame(libltc, rate, sample_rate_hz: int):
    """Second implementation: across a minute's end, where drop-frame skips numbers."""
    start = Label(0, 59, 58, 0)
    count = 5 * rate.count
    frames = decoded(
        libltc,
        encode_timecode(start, count, rate, sample_rate_hz),
        round(float(frame_start(1, rate, sample_rate_hz))),
    )
    first = index_of(start, rate)
    assert [label for label, _, _ in frames] == [label_at(first + k, rate) for k in range(count)]
    words = [" ".join(f"{byte:02X}" for byte in word) for _, _, word in frames]
    assert words == [packed(word_bits(label_at(first + k, rate), rate)) for k in range(count)]
    starts = np.array([float(frame_start(k, rate, sample_rate_hz)) for k in range(count)])
    found = np.array([position for _, position, _ in frames])
    # libltc works on whole samples and 8 bits: it names a start to a few samples; exactness is tested above.
    assert np.abs(found - starts)[1:].max() <= 4


def test_libltc_reads_it_far_below_its_usual_level_and_at_minus_three(libltc):
    for level_dbfs in (-30.0, -3.0):
        wave = encode_timecode(Label(1), 30, FPS_25, 48000, level_dbfs=level_dbfs)
        assert len(decoded(libltc, wave, 1920)) == 30
