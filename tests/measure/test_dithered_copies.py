"""Blocks played twice and dithered anew afterwards are found; what only comes near itself is not."""

from __future__ import annotations

from time import process_time

import numpy as np
import pytest

from audit.measure import repeats
from audit.measure.damage import DamageMeter
from audit.results import Repeat
from tests import signals
from tests.measure.feeding import fed
from tests.measure.test_damage import inserted, overwritten
from tests.provoking import PROVOKING, Provoking
from tests.waves import Samples

RATE_HZ = 48_000
AT = 187_345

DITHERED = {
    "to 16 bit": (16, 16),
    "to 24 bit": (24, 24),
    "to 16 bit, in 24": (16, 24),
    "in float": (24, None),
}
"""Bits of the audio and of its file."""


def copies(samples: Samples, how: str, seed: int = 5, size: int = 65_536) -> tuple[Repeat, ...]:
    """What is told of the samples after dither."""
    bits, file_bits = DITHERED[how]
    meter = DamageMeter(RATE_HZ, samples.shape[1], bits=file_bits, is_float=file_bits is None)
    return fed(meter, signals.quantise(samples, bits, dither=True, seed=seed), size).result().repeats


@pytest.fixture(scope="module")
def bed() -> Samples:
    return signals.music_bed(8.0, seed=61)[0]


@pytest.mark.parametrize("how", DITHERED)
@pytest.mark.parametrize("frames", [128, 256, 1024])
@pytest.mark.parametrize("plant", [inserted, overwritten])
def test_a_block_played_twice_is_found_after_dither(bed, plant, frames, how):
    samples = plant(bed, AT, frames)
    once = signals.quantise(samples, DITHERED[how][0], dither=True)
    assert not np.array_equal(once[AT : AT + frames], once[AT + frames : AT + 2 * frames])
    (found,) = copies(samples, how)
    assert abs(found.at_frame - (AT + frames)) <= repeats.SLACK
    assert abs(found.frames - frames) <= repeats.SLACK
    assert found.channels == (0, 1)


@pytest.mark.parametrize("how", DITHERED)
def test_in_hiss_which_has_no_seam(how):
    hiss = signals.noise(4.0, rms=0.05, seed=63)[0]
    (found,) = copies(inserted(hiss, 90_000, 256), how)
    assert abs(found.at_frame - 90_256) <= repeats.SLACK


def test_played_three_times_more(bed):
    (found,) = copies(inserted(bed, AT, 512, 3), "to 16 bit")
    assert found.times == 3


@pytest.mark.parametrize("how", DITHERED)
def test_blocks_below_the_shortest_and_past_the_longest_are_none(bed, how):
    assert copies(overwritten(bed, AT, 96), how) == ()
    assert copies(overwritten(bed, AT, 4200), how) == ()


@pytest.mark.parametrize(("apart_codes", "told"), [(0.0, 1), (0.2, 1), (4.0, 0), (30.0, 0)])
def test_a_copy_that_is_not_the_same_is_none(bed, apart_codes, told):
    """A hum of so many codes of 16 bits lies over the copy: more than dither is another sound."""
    samples = overwritten(bed, AT, 1024)
    hum = apart_codes * 2.0**-15 * np.sin(np.arange(1024) * 2 * np.pi / 300.0)
    samples[AT + 1024 : AT + 2048] += hum[:, None].astype(np.float32)
    assert len(copies(samples, "to 16 bit, in 24")) == told


@pytest.mark.parametrize("how", DITHERED)
def test_a_sequenced_hit_and_a_tone_of_whole_periods_are_none(how):
    hit = np.random.default_rng(3).standard_normal(4096) * np.exp(-np.arange(4096) / 500.0)
    roll = np.tile(0.3 * hit, 40)[:, None].astype(np.float32)
    assert copies(roll, how) == ()
    note = 0.3 * np.sin(2 * np.pi * 187.5 * np.arange(24_000) / RATE_HZ)  # 256 samples a period
    notes = np.concatenate([np.zeros(5000), *([note, np.zeros(700)] * 6)])[:, None].astype(np.float32)
    assert copies(notes, how) == ()


@pytest.mark.parametrize("stem", PROVOKING, ids=lambda stem: stem.name)
def test_provoking_stems_are_silent_after_dither(stem: Provoking):
    for how in ("to 16 bit, in 24", "to 24 bit"):
        assert copies(stem.make(), how) == ()


def test_the_blocks_of_the_stream_make_no_difference(bed):
    samples = inserted(bed, AT, 256)
    assert copies(samples, "to 16 bit", size=777) == copies(samples, "to 16 bit")


@pytest.mark.parametrize("kind", ["a quiet tail", "a square wave"])
def test_sound_that_is_near_itself_everywhere_costs_no_more_than_noise(kind: str):
    """All lags are near there: followed to their ends, they took a hundred times as long."""
    from audit.measure.repeats_kernel import near_copies

    time_s = np.arange(200_000) / 48_000
    rng = np.random.default_rng(4)
    quiet = 3e-5 * np.sin(2 * np.pi * 220.0 * time_s)
    square = 0.3 * np.sign(np.sin(2 * np.pi * 100.0 * time_s))
    waves = {"noise": 0.1 * rng.standard_normal(len(time_s)), "a quiet tail": quiet, "a square wave": square}
    code, found = 2.0**-15, np.zeros((256, 3), dtype=np.int64)

    def spent_s(name: str) -> float:
        wave = waves[name].astype(np.float32)
        slack, least = np.float32(2.5 * code), np.float32(4.0 * code)
        near_copies(wave, 20_000, 128, slack, least, 64, 8192, found)  # compiled
        began = process_time()
        for place in range(20_000, 60_000, 200):
            near_copies(wave, place, 128, slack, least, 64, 8192, found)
        return process_time() - began

    assert spent_s(kind) < 20.0 * spent_s("noise") + 0.05
