"""Tops of two equal samples: what clipping leaves of drums and plucks."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.signal

from tests import signals
from tests.measure.test_flat_tops import RATE_HZ, flat_tops, told_by_pairs, turned_down


def short_tops(*tops: tuple[float, ...], apart: int = 300) -> np.ndarray:
    """Each of these values in a row, zeros between them; shape (frames, 1)."""
    rests = np.zeros(apart)
    return np.concatenate([rests, *(part for top in tops for part in (np.array(top), rests))]).astype(
        np.float32
    )[:, None]


FIVE = [(0.1 + 0.05 * k, 0.5, 0.5, 0.3 - 0.05 * k) for k in range(5)]


def plain_pairs(wave: np.ndarray, tolerance: float, fall: float) -> tuple[int, int]:
    """Second implementation, over the whole of a channel: different pairs at the maximum, and all touches."""
    level = np.abs(wave)
    at = np.flatnonzero(level >= level.max() - tolerance)
    touches = 1 + int((np.diff(at) > 24).sum())
    sides: list[tuple[float, float]] = []
    for first, last in ((run[0], run[-1]) for run in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1)):
        sign = np.sign(wave[first])
        before, after = wave[first - 1], wave[last + 1]
        if last == first + 1 and level.max() - sign * before >= fall and level.max() - sign * after >= fall:
            near = 10 * tolerance + 0.001 * level.max()
            if len(sides) >= 16 or all(abs(before - a) > near or abs(after - b) > near for a, b in sides):
                sides.append((before, after))
    return len(sides), touches


@pytest.mark.parametrize(("bits", "dither"), [(24, False), (16, False), (16, True)])
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_clipped_drums_have_pairs_and_a_plain_search_agrees(bits: int, dither: bool, seed: int):
    low = scipy.signal.butter(6, 7000.0, fs=RATE_HZ, output="sos")
    noise = scipy.signal.sosfilt(low, signals.noise(8.0, rms=0.2, seed=seed)[0][:, :1], axis=0)
    bursts = noise * np.exp(-(np.arange(len(noise)) % 6000) / 900)[:, None]
    samples = signals.quantise(turned_down(bursts.astype(np.float32), 3.0)[0], bits, dither=dither, seed=seed)
    found = flat_tops(samples, bits=bits)
    expected = plain_pairs(samples[:, 0], 3.5 * 2.0 ** -(bits - 1), 60 * 3.5 * 2.0**-15)
    assert (found.pairs, found.pairs_among) == expected
    assert told_by_pairs(found)
    assert found.pairs_dbfs == pytest.approx(found.level_dbfs, abs=0.01) if found.plateaus else True


def test_pairs_say_how_many_where_and_how_loud():
    found = flat_tops(short_tops((0.2, 0.5, 0.1), *FIVE))
    assert (found.pairs, found.pairs_among, found.plateaus, found.touches) == (5, 6, 0, 0)
    assert found.pairs_at_frame == 300 + 3 + 300 + 1
    assert found.pairs_dbfs == pytest.approx(20 * math.log10(0.5), abs=0.01)
    assert flat_tops(-short_tops((0.2, 0.5, 0.1), *FIVE)).pairs == 5
    assert flat_tops(short_tops((0.2, 0.6, 0.1), *FIVE)).pairs == 0  # not at the maximum
    assert flat_tops(short_tops(*FIVE, (0.2, 0.6, 0.1))).pairs == 0


@pytest.mark.parametrize(("fall", "pairs"), [(0.0061, 0), (0.0067, 5)])
@pytest.mark.parametrize("side", [0, 3])
def test_a_pair_stands_sixty_tolerances_of_16_bits_above_both_neighbours(fall: float, pairs: int, side: int):
    tops = [tuple(0.5 - fall if k == side else value for k, value in enumerate(top)) for top in FIVE]
    assert flat_tops(short_tops(*tops)).pairs == pairs


@pytest.mark.parametrize(
    ("bits", "apart_codes", "pairs"), [(16, 3, 5), (16, 4, 0), (24, 768, 5), (24, 1024, 0)]
)
def test_the_two_of_a_pair_are_equal_within_dither(bits: int, apart_codes: int, pairs: int):
    less = 0.5 - apart_codes * 2.0 ** -(bits - 1)
    for two in ((0.5, less), (less, 0.5)):
        assert flat_tops(short_tops(*[(a, *two, d) for a, _, _, d in FIVE]), bits=bits).pairs == pairs


def test_the_same_sound_again_is_one_pair():
    assert flat_tops(short_tops(*FIVE, *FIVE, *FIVE[::-1])).pairs == 5
    noise = np.float32(2e-5) * np.random.default_rng(2).normal(size=(304 * 9 + 300, 1)).astype(np.float32)
    assert flat_tops(short_tops(*[FIVE[0]] * 9) + noise, bits=16).pairs == 1
    nearly = [(a + 0.0004 * k, b, c, d) for k in range(5) for a, b, c, d in FIVE[:1]]
    assert flat_tops(short_tops(*nearly), bits=24).pairs == 3  # 0.0005 apart and more
    many = [(0.004 * k, 0.5, 0.5, 0.1) for k in range(40)]
    assert flat_tops(short_tops(*many[:15], *many[:15])).pairs == 15
    assert flat_tops(short_tops(*many, *many)).pairs == 80  # past sixteen kinds each counts


def test_what_holds_every_value_twice_has_no_pairs():
    twice = [(a, a, b, b, d, d) for a, b, _, d in FIVE]
    assert flat_tops(short_tops(*twice)).pairs == 0
    once = [(a, a, b, b, d) for a, b, _, d in FIVE]
    assert flat_tops(short_tops(*once)).pairs == 5


def test_pairs_are_the_same_in_any_blocks():
    samples = short_tops(*FIVE)
    for size in (1, 3, 7, 303, 304, 305):
        assert flat_tops(samples, size=size) == flat_tops(samples), size
