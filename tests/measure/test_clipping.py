"""ClippingMeter: runs at full scale, of each format's own full scale, whatever the block borders."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.measure.clipping import ClippingMeter
from audit.measure.stem import StemMeter
from audit.results import Clipping
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed

RATE_HZ = 48_000


def clipping(
    samples: signals.Samples,
    *,
    bits: int | None = 24,
    is_float: bool = False,
    part: tuple[int, ...] | None = None,
    size: int = 65_536,
) -> Clipping:
    meter = ClippingMeter(RATE_HZ, samples.shape[1], bits=bits, is_float=is_float)
    return fed(meter, samples, size).result(part)


@pytest.mark.parametrize("size", [7, *BLOCK_SIZES])
@pytest.mark.parametrize("over_db", [1.0, 6.0])
@pytest.mark.parametrize("bits", [16, 24])
def test_every_planted_run_is_counted_and_placed(bits, over_db, size):
    clipped, truth = signals.clip(signals.music_bed(1.0)[0], over_db)
    result = clipping(signals.quantise(clipped, bits), bits=bits, size=size)
    assert result.runs == truth["runs"] > 0
    assert result.long_runs == truth["long_runs"]
    assert result.longest_frames == truth["longest"]
    assert result.first_at_frame == truth.at_frames[0]
    assert result.longest_at_frame in truth.at_frames


@pytest.mark.parametrize(("length", "runs", "long_runs"), [(2, 0, 0), (3, 1, 0), (9, 1, 0), (10, 1, 1)])
def test_what_makes_a_run(length, runs, long_runs):
    samples = np.zeros((100, 1), np.float32)
    samples[40 : 40 + length] = 1.0
    result = clipping(samples)
    assert (result.runs, result.long_runs) == (runs, long_runs)
    assert result.first_at_frame == (40 if runs else None)
    assert result.longest_frames == (length if runs else 0)


@pytest.mark.parametrize("bits", [8, 16, 20, 24])
def test_full_scale_is_the_formats_own(bits):
    top = (2.0 ** (bits - 1) - 1) / 2.0 ** (bits - 1)
    step = 2.0 ** -(bits - 1)
    for level, runs in ((top, 1), (-top, 1), (-1.0, 1), (top - step, 0), (-top + step, 0)):
        samples = np.zeros((50, 1), np.float32)
        samples[10:14] = level
        assert clipping(samples, bits=bits).runs == runs, (bits, level)


def test_both_negative_full_scales_make_one_run():
    samples = np.zeros((50, 1), np.float32)
    samples[10:14, 0] = [-32767 / 32768, -1.0, -1.0, -32767 / 32768]
    result = clipping(samples, bits=16)
    assert (result.runs, result.longest_frames) == (1, 4)


def test_of_equally_long_runs_the_first_is_the_place():
    samples = np.zeros((90, 1), np.float32)
    for begin in (10, 30, 60):
        samples[begin : begin + 5] = 1.0
    for size in (7, 90):
        assert clipping(samples, size=size).longest_at_frame == 10


def test_a_run_is_of_one_sign():
    samples = np.zeros((50, 1), np.float32)
    samples[10:14, 0] = [1.0, 1.0, -1.0, -1.0]
    assert clipping(samples).runs == 0
    samples[10:16, 0] = [1.0, 1.0, 1.0, -1.0, -1.0, -1.0]
    assert clipping(samples).runs == 2


def test_float_files_hold_more_than_full_scale():
    samples = np.zeros((50, 1), np.float32)
    samples[10:14, 0] = [1.1, 1.5, 1.3, 1.0]
    result = clipping(samples, bits=None, is_float=True)
    assert (result.runs, result.longest_frames, result.over_full_scale) == (1, 4, 3)
    assert clipping(samples * np.float32(0.66), bits=None, is_float=True).over_full_scale == 0


def test_exactly_full_scale_is_not_over():
    samples = np.ones((10, 1), np.float32)
    assert clipping(samples, bits=None, is_float=True).over_full_scale == 0
    assert clipping(-samples, bits=16).over_full_scale == 0


def test_channels_add_up_and_answer_alone():
    one, truth = signals.clip(signals.drums(1.0)[0], 4.0)
    both = signals.quantise(beside(one, signals.sine(100.0, 1.0)[0]), 24)
    assert clipping(both, part=(1,)).runs == 0
    assert clipping(both, part=(0,)) == clipping(both)
    twice = signals.quantise(beside(one, one), 24)
    assert clipping(twice).runs == 2 * truth["runs"]
    assert clipping(twice).longest_frames == truth["longest"]


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(
            signals.sine(997.0, 2.0, peak=1.0)[0], id="a full-scale sine touches with single samples"
        ),
        pytest.param(signals.square(110.0, 1.0, peak=0.999)[0], id="a square just below full scale"),
        pytest.param(signals.music_bed(2.0, peak=1.0)[0], id="music normalised to full scale"),
        pytest.param(signals.silence(1.0)[0], id="silence"),
        pytest.param(signals.silence(0.0)[0], id="nothing"),
    ],
)
def test_clean(take):
    assert clipping(signals.quantise(take, 24)).runs == 0


@settings(max_examples=60, deadline=None)
@given(
    levels=st.lists(st.sampled_from([-1.0, 0.0, 0.5, 1.0, 1.2]), min_size=1, max_size=60),
    size=st.integers(1, 20),
)
def test_any_pattern_in_any_blocks_agrees_with_a_plain_count(levels, size):
    runs, at = [], 0
    while at < len(levels):
        sign = (levels[at] >= 1.0) - (levels[at] <= -1.0)
        end = at + 1
        while end < len(levels) and sign and (levels[end] >= 1.0) - (levels[end] <= -1.0) == sign:
            end += 1
        if sign and end - at >= 3:
            runs.append((at, end - at))
        at = end
    result = clipping(np.array(levels, np.float32)[:, None], bits=None, is_float=True, size=size)
    assert result.runs == len(runs)
    assert result.first_at_frame == (runs[0][0] if runs else None)
    assert result.longest_frames == max((length for _, length in runs), default=0)
    assert result.over_full_scale == sum(level > 1.0 for level in levels)


def test_asking_for_a_result_does_not_end_a_run():
    meter = ClippingMeter(RATE_HZ, 1, bits=24, is_float=False)
    meter.add(np.ones((5, 1), np.float32))
    assert meter.result().longest_frames == 5
    meter.add(np.ones((6, 1), np.float32))
    assert meter.result().longest_frames == 11
    assert meter.result().runs == 1


@pytest.mark.parametrize("bits", [20, 24, 32])
@pytest.mark.parametrize("block", [7, 4096])
def test_16_bit_audio_in_a_larger_sample_has_the_full_scale_of_16_bits(bits: int, block: int):
    codes = np.zeros(3000)
    codes[1000:1012] = 32767
    codes[2000:2004] = -32768
    codes[500] = 12345
    wave = (codes / 32768.0).astype(np.float32)[:, None]
    meter = ClippingMeter(48000, 1, bits=bits, is_float=False)
    for start in range(0, len(wave), block):
        meter.add(wave[start : start + block])
    padded = meter.result(bits_in_use=16)
    assert (padded.runs, padded.long_runs, padded.longest_frames) == (2, 1, 12)
    assert (padded.longest_at_frame, padded.first_at_frame) == (1000, 1000)
    assert meter.result(bits_in_use=bits).runs == 1  # true samples of that depth: only −1.0 is full scale
    assert meter.result().runs == 1


def test_a_stem_of_16_bit_audio_in_24_bits_is_clipped():
    rng = np.random.default_rng(5)
    wave = np.clip(rng.normal(0, 0.6, 48000), -1.0, 32767 / 32768)
    padded = (np.round(wave * 32768) / 32768).astype(np.float32)[:, None]
    meter = StemMeter(48000, 1, bits=24, is_float=False)
    meter.add(padded)
    found = meter.result(((0,),), frames=48000, md5_checked=None)
    plain = StemMeter(48000, 1, bits=16, is_float=False)
    plain.add(padded)
    assert found.bits_in_use == 16
    assert found.parts[0].clipping == plain.result(((0,),), frames=48000, md5_checked=None).parts[0].clipping
    assert found.parts[0].clipping.runs > 0


@pytest.mark.parametrize(
    ("really", "container", "is_float"),
    [(8, 16, False), (16, 24, False), (20, 24, False), (16, 32, False), (24, 32, False), (16, 32, True),
     (24, 32, True)],
)  # fmt: skip
def test_fewer_bits_in_larger_samples_are_clipped_at_their_own_full_scale(really, container, is_float):
    clipped, _ = signals.clip(signals.sine(220.0, 1.0)[0], 3.0, level=1.0 - 2.0 ** -(really - 1))
    meter = StemMeter(RATE_HZ, 1, bits=container, is_float=is_float)
    samples = signals.quantise(clipped, really)
    measured = fed(meter, samples).result(((0,),), frames=len(samples), md5_checked=None)
    assert measured.bits_in_use == really
    assert measured.parts[0].clipping.runs == 440  # both tops of 220 waves
