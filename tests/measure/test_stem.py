"""StemMeter: one pass feeds every meter, and its parts answer like the meters on their own."""

from __future__ import annotations

import subprocess
import sys
import tracemalloc

import numpy as np
import pytest

from audit.measure.activity import ActivityMeter
from audit.measure.clipping import ClippingMeter
from audit.measure.flat_tops import FlatTopMeter
from audit.measure.levels import LevelMeter
from audit.measure.loudness import LoudnessMeter
from audit.measure.peaks import PeakMeter
from audit.measure.scrambled import ScrambledMeter
from audit.measure.stem import StemMeter
from audit.measure.stereo import StereoMeter
from audit.results import Reading, StemMeasures
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, blocks, fed

RATE_HZ = 48_000


def measured(
    samples: signals.Samples, parts: tuple[tuple[int, ...], ...], *, bits: int | None = 24, size: int = 65_536
) -> StemMeasures:
    meter = StemMeter(RATE_HZ, samples.shape[1], bits=bits, is_float=bits is None)
    return fed(meter, samples, size).result(parts, frames=len(samples), md5_checked=None)


def test_a_stem_with_a_click_on_one_side_and_timecode_on_the_other():
    click, code = signals.clicks(10.0)[0], signals.timecode(10.0, peak=0.25)[0]
    samples = signals.quantise(beside(click, code), 16)
    meter = fed(StemMeter(RATE_HZ, 2, bits=24, is_float=False), samples)
    assert meter.nature(0).tick_share > 0.8
    assert meter.nature(1).timecode_share > 0.9
    result = meter.result(((0,), (1,)), frames=len(samples), md5_checked=True)
    assert [part.channels for part in result.parts] == [(0,), (1,)]
    assert result.parts[0].peaks.sample_dbfs == pytest.approx(-6.02, abs=0.01)
    assert result.parts[1].peaks.sample_dbfs == pytest.approx(-12.04, abs=0.01)
    assert all(part.stereo is None for part in result.parts)
    assert result.bits_in_use == 16
    assert result.md5_checked is True
    assert result.frames == 480_000
    assert result.content_hash is not None


def test_parts_answer_like_the_meters_on_their_own():
    samples = signals.quantise(signals.clip(signals.music_bed(5.0, channels=3)[0], 2.0)[0], 24)
    for channels in ((0, 1), (2,)):
        part = measured(samples, (channels,)).parts[0]
        alone = (
            fed(LevelMeter(RATE_HZ, 3), samples), fed(ActivityMeter(RATE_HZ, 3), samples),
            fed(StereoMeter(RATE_HZ, 3), samples), fed(LoudnessMeter(RATE_HZ, 3), samples),
            fed(PeakMeter(RATE_HZ, 3), samples),
            fed(ClippingMeter(RATE_HZ, 3, bits=24, is_float=False), samples),
            fed(FlatTopMeter(RATE_HZ, 3, bits=24, is_float=False), samples),
        )  # fmt: skip
        together = (
            part.levels, part.activity, part.stereo, part.loudness, part.peaks, part.clipping, part.flat_tops,
        )  # fmt: skip
        assert together == tuple(meter.result(channels) for meter in alone)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_nothing(size):
    samples = signals.quantise(signals.clip(signals.music_bed(3.3)[0], 2.0)[0], 24)
    assert measured(samples, ((0, 1),), size=size) == measured(samples, ((0, 1),), size=2000)


def test_bytes_in_the_wrong_places_are_told_of_the_stem():
    bed = signals.quantise(signals.music_bed(4.0)[0], 16)
    codes = np.round(bed.astype(np.float64) * 32_768.0).astype("<i2")
    swapped = (codes.byteswap().astype(np.float64) / 32_768.0).astype(np.float32)
    meter = fed(StemMeter(RATE_HZ, 2, bits=16, is_float=False), swapped)
    alone = fed(ScrambledMeter(RATE_HZ, 2, bits=16, is_float=False), swapped)
    found = meter.result(((0, 1),), frames=len(swapped), md5_checked=None).scrambled
    assert found == alone.result()
    assert found is not None
    assert (found.reading, found.readable) == (Reading.REVERSED, 8)


def test_not_a_number_is_counted_and_measured_as_silence():
    samples = signals.music_bed(2.0)[0]
    broken, zeroed = samples.copy(), samples.copy()
    broken[40_000:40_010, 1] = np.nan
    broken[50_000, 0] = np.inf
    zeroed[40_000:40_010, 1] = zeroed[50_000, 0] = 0.0
    meter = StemMeter(RATE_HZ, 2, bits=None, is_float=True)
    passed = np.concatenate([meter.add(block) for block in blocks(broken, 10_000)])
    np.testing.assert_array_equal(passed, zeroed)
    result = meter.result(((0, 1),), frames=len(samples), md5_checked=None)
    assert (result.not_finite, result.not_finite_at_frame) == (11, 40_000)
    assert result.parts == measured(zeroed, ((0, 1),), bits=None).parts
    assert result.bits_in_use is None


@pytest.mark.parametrize("channels", [1, 2, 8])
@pytest.mark.parametrize("frames", [0, 1, 65_535])
def test_silent_short_and_wide_stems(channels, frames):
    silent = np.zeros((frames, channels), np.float32)
    result = measured(silent, (tuple(range(channels)),))
    assert result.content_hash is None
    assert result.parts[0].peaks.sample_dbfs == -np.inf
    assert result.parts[0].loudness.integrated_lufs is None
    sounding = measured(silent + np.float32(0.25), (tuple(range(channels)),))
    assert (sounding.content_hash is not None) == (frames > 0)


def test_memory_does_not_grow_with_the_stem():
    bed = np.asfortranarray(signals.music_bed(10.0)[0])
    meter = StemMeter(RATE_HZ, 2, bits=24, is_float=False)
    tracemalloc.start()
    for _ in range(6):
        meter.add(bed)
    first = tracemalloc.get_traced_memory()[0]
    for _ in range(18):  # three minutes
        meter.add(bed)
    grown = tracemalloc.get_traced_memory()[0] - first
    tracemalloc.stop()
    # Three hours may take 20 MB more than three minutes, 60 times as long. Half of it is for what the song
    # keeps of its sum, for the results, and for memory that the system does not take back.
    assert grown < 10e6 / 60


def test_importing_the_meters_loads_neither_numba_nor_scipy():
    code = (
        "import sys, audit.measure.stem, audit.measure.partsfit;"
        "heavy = {'numba', 'scipy', 'librosa', 'soundfile'};"
        "print(sorted({name.split('.')[0] for name in sys.modules} & heavy))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
