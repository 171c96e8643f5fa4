"""ScrambledMeter: bytes put in the wrong places are found and named; noise that is music is left alone."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure import scrambled_kernel
from audit.measure.scrambled import ScrambledMeter
from audit.results import Reading, Scrambled
from tests import signals
from tests.full_band import STEMS, full_band
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.signals import Samples

RATE_HZ = 48_000


def heard(samples: Samples, bits: int, *, is_float: bool = False, size: int = 65_536) -> Scrambled:
    meter = ScrambledMeter(RATE_HZ, samples.shape[1], bits=bits, is_float=is_float)
    return fed(meter, samples, size).result()


def as_bytes(samples: Samples, width: int, *, is_float: bool = False) -> np.ndarray:
    """The data chunk of a WAV file: little-endian, channels interleaved. numpy's own byte orders."""
    if is_float:
        return np.frombuffer(samples.astype("<f4").tobytes(), np.uint8)
    codes = np.clip(np.round(samples.astype(float) * 2**31), -(2**31), 2**31 - 1).astype("<i4")
    return np.frombuffer(codes.tobytes(), np.uint8).reshape(-1, 4)[:, 4 - width :].reshape(-1)


def from_bytes(stream: np.ndarray, width: int, channels: int, *, is_float: bool = False) -> Samples:
    whole = stream[: len(stream) // (width * channels) * width * channels]
    if is_float:
        return np.nan_to_num(np.frombuffer(whole.tobytes(), "<f4"), posinf=0, neginf=0).reshape(-1, channels)
    wide = np.zeros((len(whole) // width, 4), np.uint8)
    wide[:, 4 - width :] = whole.reshape(-1, width)
    wave = np.frombuffer(wide.tobytes(), "<i4") / 2.0**31
    return wave.astype(np.float32).reshape(-1, channels)


def music() -> Samples:
    """16-bit samples, so that the bytes are those of any width."""
    return signals.quantise(signals.music_bed(4.0)[0], 16)


@pytest.mark.parametrize("width", [2, 3])
def test_the_wrong_byte_first(width: int):
    take = signals.quantise(signals.music_bed(4.0)[0], 8 * width)
    swapped = as_bytes(take, width).reshape(-1, width)[:, ::-1].reshape(-1)
    found = heard(from_bytes(swapped, width, 2), 8 * width)
    assert found.reading is Reading.REVERSED
    assert found.readable >= 0.9 * found.windows >= 6
    assert found.first_at_frame == 0
    assert found.roughness > 10 * found.roughness_read


@pytest.mark.parametrize(("width", "shift"), [(2, 1), (3, 1), (3, 2)])
@pytest.mark.parametrize("channels", [1, 2])
def test_lost_bytes(width: int, shift: int, channels: int):
    take = signals.quantise(signals.music_bed(4.0, channels=channels)[0], 8 * width)
    found = heard(from_bytes(as_bytes(take, width)[shift:], width, channels), 8 * width)
    assert found.reading is Reading.SHIFTED
    assert found.readable >= 0.9 * found.windows >= 6


@pytest.mark.parametrize(
    ("really", "really_float", "width", "is_float", "reading"),
    [
        (3, False, 2, False, Reading.INTEGER_24),
        (2, False, 3, False, Reading.INTEGER_16),
        (4, True, 2, False, Reading.FLOAT_32),
        (4, True, 3, False, Reading.FLOAT_32),
        (2, False, 4, True, Reading.INTEGER_16),
    ],
)
def test_another_width(really: int, really_float: bool, width: int, is_float: bool, reading: Reading):
    stream = as_bytes(signals.music_bed(4.0)[0], really, is_float=really_float)
    found = heard(from_bytes(stream, width, 2, is_float=is_float), 8 * width, is_float=is_float)
    assert found.reading is reading
    assert found.readable >= 0.8 * found.windows >= 3


def test_unsigned_samples():
    stream = as_bytes(music(), 2).copy()
    stream[1::2] ^= 0x80
    found = heard(from_bytes(stream, 2, 2), 16)
    assert found.reading is Reading.UNSIGNED
    assert found.readable >= 4


@pytest.mark.parametrize("gain_db", [-30.0, -12.0, 0.0])
def test_unsigned_samples_of_any_level(gain_db: float):
    take = signals.quantise(music() * np.float32(10 ** (gain_db / 20)), 24)
    stream = as_bytes(take, 3).copy()
    stream[2::3] ^= 0x80
    found = heard(from_bytes(stream, 3, 2), 24)
    assert found.reading is Reading.UNSIGNED
    assert found.readable >= 0.5 * found.windows >= 3


@pytest.mark.parametrize("peak_db", [-18.0, -15.0, -6.0])
def test_unsigned_samples_of_eight_bits(peak_db: float):
    """256 heights in all, of which quiet music takes few."""
    take = music()
    codes = np.round(128.0 * take / np.abs(take).max() * 10 ** (peak_db / 20)) / 128.0
    found = heard(np.where(codes >= 0.0, codes - 1.0, codes + 1.0).astype(np.float32), 8)
    assert found.reading is Reading.UNSIGNED
    assert found.readable >= 3


def ticks(gate_s: float, high: float, low: float, rest: float = 0.0) -> Samples:
    """Square bursts a quarter of a second apart, each over a fourth of the second, with rests at `rest`."""
    t = np.arange(8 * RATE_HZ) / RATE_HZ
    inside = t % 0.25
    square = np.where(np.sin(2 * np.pi * 1500 * inside) >= 0, high, low)
    return np.where(inside < gate_s, square, rest).astype(np.float32)[:, None]


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("gate_s", [0.004, 0.012, 0.018, 0.021])
@pytest.mark.parametrize(("high", "low"), [(0.9, -0.9), (0.7, -0.7), (0.45, -0.45), (0.9, 0.0), (0.99, -0.6)])
def test_a_click_of_square_bursts_is_no_unsigned_sound(gate_s: float, high: float, low: float, bits: int):
    """With its silence at full scale it would be smoother."""
    found = heard(signals.quantise(ticks(gate_s, high, low), bits), bits)
    assert found.windows == 16
    assert found.readable == 0


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("upper", [0.95, 0.9, 0.8])
def test_pulses_of_few_heights_are_no_unsigned_sound(upper: float, bits: int):
    """A chip's notes: a high loud one, a low soft one. As unsigned ones the fast would be the soft one."""
    t = np.arange(8 * RATE_HZ) / RATE_HZ
    high = (t % 0.02) < 0.01
    wave = np.where(high, upper, 0.6) * np.sign(np.sin(2 * np.pi * np.where(high, 4000, 200) * t) + 1e-9)
    found = heard(signals.quantise(wave.astype(np.float32)[:, None], bits), bits)
    assert found.windows == 16
    assert found.readable == 0


def test_it_begins_where_a_byte_was_lost():
    stream = as_bytes(signals.music_bed(8.0)[0], 2)
    lost = np.delete(stream, 4 * 5 * RATE_HZ + 2)
    found = heard(from_bytes(lost, 2, 2), 16)
    assert found.first_at_frame == 5 * RATE_HZ
    assert 4 <= found.readable <= 6  # half-seconds from 5 s on, but for hats alone


def test_random_bytes_are_no_audio():
    stream = np.random.default_rng(3).integers(0, 256, 4 * 4 * RATE_HZ, dtype=np.uint8)
    found = heard(from_bytes(stream, 2, 2), 16)
    assert found.reading is None
    assert found.even == found.windows == 8


@pytest.mark.parametrize("name", STEMS[::3])
def test_full_band_instruments_are_left_alone(name: str):
    for bits in (16, 24):
        found = heard(signals.quantise(full_band(name)[: 4 * RATE_HZ], bits), bits)
        assert (found.reading, found.even) == (None, 0)


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(signals.noise(3.0, rms=0.3)[0], id="loud white noise"),
        pytest.param(np.clip(signals.noise(3.0, rms=3.0)[0], -1, 1), id="noise clipped to a wall"),
        pytest.param(signals.square(11_000.0, 3.0, peak=0.99)[0], id="a square wave up high"),
        pytest.param(signals.square(60.0, 3.0, peak=0.99)[0], id="a square bass at full scale"),
        pytest.param(signals.quantise(signals.noise(3.0)[0], 6), id="crushed noise"),
        pytest.param(signals.quantise(signals.hats(3.0)[0], 8), id="hats of 8 bits"),
        pytest.param(signals.timecode(3.0)[0], id="timecode"),
        pytest.param(signals.sine(15_000.0, 3.0, peak=1.0)[0], id="a high tone"),
    ],
)
@pytest.mark.parametrize("bits", [16, 24])
def test_noise_that_somebody_made(take: Samples, bits: int):
    found = heard(signals.quantise(take, bits), bits)
    assert (found.reading, found.even) == (None, 0)


def test_lossy_silent_and_short_files_say_nothing():
    for take, bits in (
        (signals.noise(2.0)[0], None),
        (signals.silence(2.0)[0], 16),
        (signals.noise(0.4)[0], 16),
    ):
        meter = ScrambledMeter(RATE_HZ, 1, bits=bits, is_float=False)
        assert fed(meter, take).result().windows == 0


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_any_block_size_gives_the_same(size: int):
    stream = as_bytes(music(), 2)[1:]
    samples = from_bytes(stream, 2, 2)
    assert heard(samples, 16, size=size) == heard(samples, 16, size=len(samples))


def test_silence_before_it_moves_the_place():
    samples = np.concatenate(
        (signals.silence(1.5, channels=2)[0], from_bytes(as_bytes(music(), 2)[1:], 2, 2))
    )
    assert heard(samples, 16).first_at_frame == round(1.5 * RATE_HZ)


def roughness(wave: Samples) -> float:
    """Of all channels together, from the compiled sums, which plain numpy's have to equal."""
    squares, heights, steps, energies = np.empty((4, wave.shape[1]))
    highest = scrambled_kernel.sums_of(wave, squares, heights, steps, energies)
    wide = wave.astype(np.float64)
    assert highest == np.abs(wide).max()
    np.testing.assert_allclose(squares, np.square(wide).sum(axis=0))
    np.testing.assert_allclose(heights, np.abs(wide).sum(axis=0))
    np.testing.assert_allclose(steps, np.square(np.diff(wide, axis=0)).sum(axis=0), atol=1e-15)
    np.testing.assert_allclose(energies, np.square(wide - wide.mean(axis=0)).sum(axis=0), atol=1e-15)
    return float(steps.sum() / energies.sum())


def test_roughness_of_known_waves():
    """White noise: 2. A sine of frequency f: 2 − 2·cos(2πf/rate), from the addition theorem."""
    noise = signals.noise(2.0)[0]
    assert roughness(noise) == pytest.approx(2.0, abs=0.03)
    assert roughness(signals.sine(1000.0, 1.0)[0]) == pytest.approx(2 - 2 * np.cos(2 * np.pi / 48), rel=1e-3)
    assert roughness(beside(noise[:, :1], noise[:, :1])) == pytest.approx(roughness(noise))


def test_a_constant_is_not_rough():
    meter = fed(ScrambledMeter(RATE_HZ, 1, bits=24, is_float=False), np.full((48_000, 1), 0.7, np.float32))
    assert (meter.result().windows, meter.result().readable) == (2, 0)


def test_a_bright_left_side_beside_a_dark_right_one_is_no_32_bit_file():
    """Read as 32 bits, 16-bit stereo loses its left side."""
    bright = signals.turn(signals.noise(4.0, low_hz=4_000, high_hz=9_000)[0], -6.0)
    dark = signals.noise(4.0, low_hz=100, high_hz=900, seed=2)[0]
    found = heard(signals.quantise(beside(bright, dark), 16), 16)
    assert found.windows >= 6
    assert found.reading is None


def test_32_bits_read_as_16_are_told_on_a_pair_with_a_dark_side():
    dark = signals.noise(4.0, low_hz=100, high_hz=900, seed=2)[0]
    really = from_bytes(as_bytes(signals.turn(beside(dark, dark), -3.0), 4).reshape(-1), 2, 2)
    assert heard(really, 16).reading is Reading.INTEGER_32
