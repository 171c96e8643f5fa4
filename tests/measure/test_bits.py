"""BitsMeter: bits in use of samples whose lowest codes are known."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.bits import BitsMeter
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed


def bits_in_use(
    samples: signals.Samples,
    bits: int | None,
    *,
    is_float: bool = False,
    part: tuple[int, ...] | None = None,
    size: int = 65_536,
) -> int | None:
    return fed(BitsMeter(samples.shape[1], bits, is_float), samples, size).result(part)


@pytest.mark.parametrize("size", BLOCK_SIZES)
@pytest.mark.parametrize(
    ("really", "container"), [(16, 24), (16, 16), (24, 24), (20, 24), (8, 16), (16, 32), (24, 32)]
)
def test_padded_samples_show_their_real_width(really, container, size):
    samples = signals.quantise(signals.noise(0.5, channels=2)[0], really)
    assert bits_in_use(samples, container, size=size) == really


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_one_odd_sample_is_enough_to_use_the_lowest_bit(size):
    samples = signals.quantise(signals.noise(0.5)[0], 16)
    samples[20_000] += np.float32(2.0**-23)
    assert bits_in_use(samples, 24, size=size) == 24


@pytest.mark.parametrize("frame", [0, 4095, 4096, 65_535, 65_536])
@pytest.mark.parametrize("is_float", [False, True])
def test_wherever_in_a_block_it_stands(frame, is_float):
    samples = signals.quantise(signals.noise(2.0)[0], 16)
    samples[frame] = np.float32(0.25 + 2.0**-23)
    assert bits_in_use(samples, 24, is_float=is_float) == 24
    assert distinct(samples, 24, is_float=is_float) == 0


@pytest.mark.parametrize("frame", [4096, 20_000])
def test_a_float_sample_that_is_no_code_counts_though_the_lowest_bit_was_met_before(frame):
    samples = signals.quantise(signals.noise(0.5)[0], 24)
    samples[frame] = np.float32(2.0**-26)
    assert bits_in_use(samples, 32, is_float=True) is None


@pytest.mark.parametrize(("halvings", "used"), [(0, 16), (1, 17), (3, 19)])
def test_a_gain_by_a_power_of_two_moves_the_bits_down(halvings, used):
    samples = signals.quantise(signals.noise(0.5)[0], 16) * np.float32(0.5**halvings)
    assert bits_in_use(samples, 24) == used


def test_turned_down_sixteen_bits_fill_the_container():
    samples = signals.quantise(signals.turn(signals.quantise(signals.noise(0.5)[0], 16), -3.3), 24)
    assert bits_in_use(samples, 24) == 24


def test_channels_answer_alone_and_together():
    both = beside(signals.quantise(signals.noise(0.2)[0], 16), signals.quantise(signals.noise(0.2)[0], 20))
    assert [bits_in_use(both, 24, part=part) for part in ((0,), (1,), (0, 1), None)] == [16, 20, 20, 20]


def test_the_lowest_codes_of_32_bits_show_in_quiet_samples():
    quiet = np.full((10, 1), 2.0**-20 + 2.0**-31, np.float32)
    assert bits_in_use(quiet, 32) == 32


@pytest.mark.parametrize(
    ("samples", "bits", "is_float"),
    [
        pytest.param(signals.silence(0.5)[0], 24, False, id="silence"),
        pytest.param(signals.noise(0.5)[0], 32, True, id="float"),
        pytest.param(signals.noise(0.5)[0], None, False, id="lossy"),
        pytest.param(signals.silence(0.0)[0], 24, False, id="nothing"),
    ],
)
def test_no_answer(samples, bits, is_float):
    assert bits_in_use(samples, bits, is_float=is_float) is None


def test_a_32_bit_sample_that_float32_rounds_up_to_full_scale_is_no_overflow():
    """2^31 − 1 becomes 1.0, which no signed code of 32 bits can say: codes are counted in 64."""
    assert bits_in_use(np.array([[1.0], [0.5]], np.float32), 32) == 2


def test_full_scale_codes_of_both_signs():
    samples = np.array([[-1.0], [32767 / 32768]], np.float32)
    assert bits_in_use(samples, 16) == 16
    assert bits_in_use(samples[:1], 16) == 1


@pytest.mark.parametrize("really", [8, 16, 24])
def test_float_files_that_hold_whole_codes(really):
    assert bits_in_use(signals.quantise(signals.noise(0.5)[0], really), 32, is_float=True) == really


def test_float_samples_above_full_scale_are_no_codes():
    samples = signals.quantise(signals.noise(0.5)[0], 16)
    samples[100] = 1.5
    assert bits_in_use(samples, 32, is_float=True) is None


def distinct(samples, bits, *, is_float=False, size=65_536):
    return fed(BitsMeter(samples.shape[1], bits, is_float), samples, size).distinct


@pytest.mark.parametrize("size", BLOCK_SIZES)
@pytest.mark.parametrize(
    ("samples", "bits", "values"),
    [
        pytest.param(signals.quantise(signals.square(100.0, 1.0)[0], 16), 24, 2, id="a square wave"),
        pytest.param(signals.quantise(signals.noise(1.0)[0], 8) * np.float32(0.5), 24, 256, id="8 bits"),
        pytest.param(signals.quantise(signals.noise(1.0, rms=0.2)[0], 16), 24, 4096, id="16 bits"),
        pytest.param(signals.quantise(signals.noise(1.0)[0], 24), 24, 0, id="24 bits are not counted"),
    ],
)
def test_how_many_values_there_are(samples, bits, values, size):
    found = distinct(samples, bits, size=size)
    assert found == values or (values == 256 and 80 <= found <= 256)
