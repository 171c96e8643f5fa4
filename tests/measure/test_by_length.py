"""A stem whose file is shorter or longer than the others': moved by that it meets their strokes, or not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import correlate

from audit.measure.by_length import FEWEST, by_length
from audit.results import ByLength
from tests.measure.test_alignment_of_stems import BEATS, onsets, part


def band(seed: int, *, late_s: float = 0.0, often: float = 0.6) -> np.ndarray:
    """Someone who plays on many of the strokes that are written, as others do."""
    random = np.random.default_rng(99)
    tune = np.sort(np.concatenate([beat + 0.5 * random.choice(8, 3, replace=False) / 8.0 for beat in BEATS]))
    player = np.random.default_rng(seed)
    played = tune[player.random(len(tune)) < often]
    return np.sort(played + late_s + 0.004 * player.standard_normal(len(played)))


def asked(own_s: np.ndarray, longer_s: float | None, *, others: int = 3) -> ByLength | None:
    everyone = [own_s, *(band(seed) for seed in range(2, 2 + others))]
    first, *rest = by_length([onsets(one) for one in everyone], [longer_s, *[0.0] * others], BEATS)
    assert all(one is None for one in rest)  # as long as the others: nothing to ask
    return first


@pytest.mark.parametrize("off_s", [-7.83, -0.377, -0.112, -0.085, 0.085, 0.112, 0.93])
def test_a_start_that_was_cut_off_is_seen_and_a_cut_end_is_not(off_s: float):
    moved = asked(band(1, late_s=off_s), off_s)
    ended = asked(band(1), off_s)
    assert moved is not None
    assert ended is not None
    assert moved.lag_ms == ended.lag_ms == pytest.approx(1000.0 * off_s)
    assert moved.there > 2.0 * moved.as_is
    assert moved.there >= 0.95 * moved.anywhere
    assert abs(moved.beside_ms) <= 4.0
    assert ended.as_is > 2.0 * ended.there
    assert type(moved.there) is type(moved.as_is) is type(moved.anywhere) is float  # kept on disk as it is


@pytest.mark.parametrize("back_ms", [-9, 0, 9, 17])
def test_who_lies_back_meets_the_others_as_much_beside_the_place(back_ms: int):
    moved = asked(band(1, late_s=-0.112 + back_ms / 1000.0), -0.112)
    assert moved is not None
    assert moved.beside_ms == pytest.approx(back_ms, abs=3.0)


def test_meetings_stand_where_a_plain_correlation_has_them():
    """Second implementation: scipy.signal.correlate of impulses of 1 ms, smoothed by the same bell."""
    own_s, their_s = band(1, late_s=-0.112), [band(seed) for seed in (2, 3, 4)]
    size, bell = 140_000, np.exp(-0.5 * (np.arange(-18, 19) / 6.0) ** 2)
    wanted = np.zeros(2401)
    for others in (*their_s, BEATS):
        counts = [np.bincount(np.rint(1000.0 * one).astype(int), minlength=size) for one in (own_s, others)]
        both = correlate(counts[0].astype(float), counts[1].astype(float), method="fft")
        wanted += np.convolve(both, bell, mode="same")[size - 1 - 112 - 1200 : size - 112 + 1200]
    moved = asked(own_s, -0.112)
    assert moved is not None
    ratio = (wanted.max() - wanted.mean()) / (wanted[1312 - 25 : 1312 + 36].max() - wanted.mean())
    assert moved.anywhere / moved.as_is == pytest.approx(ratio, rel=0.12)


@pytest.mark.parametrize(("strokes", "told"), [(FEWEST, True), (FEWEST - 1, False)])
def test_a_few_strokes_say_nothing(strokes: int, told: bool):
    assert (asked(band(1)[:strokes], -0.2) is not None) is told


@pytest.mark.parametrize(("others", "told"), [(2, True), (1, False)])
def test_two_other_stems_have_to_be_asked(others: int, told: bool):
    assert (asked(band(1), -0.2, others=others) is not None) is told


@pytest.mark.parametrize("longer_s", [0.0, None])
def test_nothing_is_asked_of_a_stem_of_the_usual_length_or_of_none(longer_s: float | None):
    assert asked(band(1, late_s=-0.112), longer_s) is None


def test_stems_of_odd_lengths_are_no_witnesses():
    everyone = [
        band(1, late_s=-0.112),
        band(2, late_s=-0.112),
        band(3),
        band(4, late_s=-0.112),
        part(5, (0.0,)),
    ]
    first, *_ = by_length([onsets(one) for one in everyone], [-0.112, -0.112, 0.0, -0.112, 0.0], BEATS)
    assert first is not None
    assert first.others == 2
    assert first.there > first.as_is
