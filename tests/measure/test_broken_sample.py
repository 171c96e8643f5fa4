"""The one sample that differs, found from a hash and the bits that differ."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.broken_sample import broken_sample
from audit.measure.sketch import chunk_hash


def chunk(channels: int = 2, frames: int = 3000) -> np.ndarray:
    return (0.3 * np.random.default_rng(4).standard_normal((frames, channels))).astype("f4")


def flips(one: np.ndarray, other: np.ndarray) -> int:
    return int(
        np.bitwise_xor.reduce(one.view("<u4"), axis=None)
        ^ np.bitwise_xor.reduce(other.view("<u4"), axis=None)
    )


@pytest.mark.parametrize("channels", [1, 2, 8])
@pytest.mark.parametrize("frame", [0, 1234, 2999])
def test_one_sample_is_found(channels: int, frame: int):
    good = chunk(channels)
    broken = good.copy()
    broken[frame, channels - 1] += 0.01
    assert broken_sample(broken, flips(good, broken), chunk_hash(good)) == (frame, channels - 1)


def test_two_samples_are_not_one():
    good = chunk()
    broken = good.copy()
    broken[5, 0], broken[6, 1] = 0.5, 0.25
    assert broken_sample(broken, flips(good, broken), chunk_hash(good)) is None
    same_bits = good.copy()  # two that undo each other in the exclusive or
    same_bits.view("<u4")[5, 0] ^= 8
    same_bits.view("<u4")[6, 0] ^= 8
    assert broken_sample(same_bits, flips(good, same_bits), chunk_hash(good)) is None


def test_the_chunk_is_left_as_it_is():
    good = chunk()
    broken = good.copy()
    broken[5, 0] = 0.5
    held = broken.copy()
    broken_sample(broken, flips(good, broken), chunk_hash(good))
    assert (broken == held).all()
