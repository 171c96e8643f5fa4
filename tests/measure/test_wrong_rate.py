"""Wrong sample rates from lists of onsets: every ratio, stems that are merely short, and who is to blame."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.wrong_rate import RATIOS, falls_badly, wrong_rates

BEATS = 2.0 + 0.5 * np.arange(200)
MUSIC = BEATS[8:]


def part(seed: int, *, often: float = 0.6, first: int = 0, last: int | None = None) -> np.ndarray:
    """Someone who plays on beats and halves, with a bar's own pattern, from one beat to another."""
    random = np.random.default_rng(seed)
    halves = np.sort(np.concatenate([MUSIC[first:last], MUSIC[first:last] + 0.25]))
    pattern = random.random(8) < often
    pattern[0] = True
    played = halves[np.tile(pattern, len(halves) // 8 + 1)[: len(halves)]]
    played = played[random.random(len(played)) < 0.9]
    return np.sort(played + 0.004 * random.standard_normal(len(played)))


def song(first: np.ndarray) -> list[np.ndarray]:
    return [first, part(2), part(3), part(4)]


@pytest.mark.parametrize("ratio", RATIOS)
@pytest.mark.parametrize("seed", [1, 5, 6])
def test_every_ratio_is_told_of_the_stem_that_has_it(ratio: float, seed: int):
    found = wrong_rates(song(part(seed) / ratio), BEATS, 0.25)
    assert list(found) == [0]
    assert found[0].ratio == ratio
    assert found[0].fit > 0.5


@pytest.mark.parametrize("seed", range(1, 9))
def test_a_stem_of_half_the_song_is_no_fault(seed: int):
    half = len(MUSIC) // 2
    assert wrong_rates(song(part(seed, last=half)), BEATS, 0.25) == {}
    assert wrong_rates(song(part(seed, first=half)), BEATS, 0.25) == {}


@pytest.mark.parametrize("seed", range(1, 6))
def test_others_that_stop_half_way_do_not_make_a_stem_too_long(seed: int):
    half = len(MUSIC) // 2
    stems = [part(seed), *(part(other, last=half) for other in (12, 13, 14))]
    assert wrong_rates(stems, BEATS, 0.25) == {}


def test_half_time_and_double_time_are_no_wrong_rates():
    stems = [MUSIC[::2].copy(), np.sort(np.concatenate([MUSIC, MUSIC + 0.25])), part(2), part(3)]
    assert wrong_rates(stems, BEATS, 0.25) == {}


def test_two_wrong_stems_are_both_told():
    stems = [part(1) / (160 / 147), part(2), part(3), part(4), part(5) / 2.0]
    found = wrong_rates(stems, BEATS, 0.25)
    assert {number: one.ratio for number, one in found.items()} == {0: 160 / 147, 4: 2.0}


def test_a_file_that_begins_with_noise_does_not_begin_early():
    with_noise = np.concatenate([[0.001], part(1, last=len(MUSIC) // 2)])
    assert wrong_rates(song(with_noise), BEATS, 0.25) == {}


@pytest.mark.parametrize("ratio", [0.5, 2.0])
def test_others_whose_only_onset_is_the_first_frame_break_nothing(ratio: float):
    drone = np.array([0.0])
    assert list(wrong_rates([part(1) / ratio, drone, drone], BEATS, 0.25)) in ([], [0])


def test_nothing_is_said_of_few_onsets():
    assert wrong_rates(song((part(1) / 2.0)[:11]), BEATS, 0.25) == {}
    assert wrong_rates([], BEATS, 0.25) == {}


@pytest.mark.parametrize("seed", range(1, 9))
@pytest.mark.parametrize("ppm", [-1500.0, -1000.0, 1000.0, 1500.0])
def test_a_stem_that_slides_has_no_half_rate(seed: int, ppm: float):
    """At half its speed it slides half as far, and meets the others' eighths the better for it."""
    eighths = np.sort(np.concatenate([MUSIC, MUSIC + 0.25]))
    slid = part(seed, often=0.2) * (1.0 + ppm / 1e6)
    assert wrong_rates([slid, eighths, eighths, eighths], BEATS, 0.25) == {}


@pytest.mark.parametrize(
    ("ratio", "best", "fit", "fit_as_is", "badly"),
    [
        (2.0, 2.0, 0.40, 0.45, True),
        (0.5, 0.5, 0.40, 0.45, True),
        (2.0, 2.0, 0.45, 0.40, False),
        (2.0, 2.0, 0.60, 0.70, False),
        (2.0, 2.0, 0.50, 0.60, False),
        (160 / 147, 160 / 147, 0.40, 0.45, False),
        (2.0, 160 / 147, 0.49, 0.10, True),
        (2.0, 160 / 147, 0.50, 0.10, False),
        (0.5, 0.5, 0.99, 0.95, True),
        (0.5, 0.5, 0.99, 0.94, False),
        (2.0, 2.0, 0.99, 0.95, False),
    ],
)
def test_how_many_strokes_fall_into_place(
    ratio: float, best: float, fit: float, fit_as_is: float, badly: bool
):
    """Mallets that swing beside a band on every beat fit 0.39 at twice their speed, 0.48 as they are."""
    assert falls_badly(ratio, best, fit, fit_as_is) is badly
