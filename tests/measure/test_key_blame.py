"""KeyPairs: which of a song's stems is the transposed one, by every two of them alone."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest

from audit.measure.key_blame import MANY_FRAMES, KeyPairs


def pairs(
    stands: Mapping[int, int],
    frames: int = MANY_FRAMES,
    gain: float = 1.0,
    apart: tuple[int, int] | None = None,
) -> KeyPairs:
    """Stems that stand so many semitones above their song. Two fit at the turn that lays them together."""

    def compare(one: int, other: int) -> np.ndarray:
        scores = np.zeros((0 if apart == (other, one) else frames, 12))
        scores[:, (stands[other] - stands[one]) % 12] = gain
        return scores

    return KeyPairs(list(stands), compare)


@pytest.mark.parametrize("semitones", [-5, -1, 2, 6])
def test_the_one_that_all_the_others_leave_behind_leads(semitones: int):
    found = pairs({0: 0, 1: 0, 2: semitones, 3: 0})
    assert found.gain(2, -semitones) == pytest.approx(3 * MANY_FRAMES**0.5)  # three others, 1 better each
    assert found.gain(2, 0) == 0.0
    assert found.lead(2, -semitones) == pytest.approx(1.0)
    assert found.votes(2, -semitones) == (3, 0)
    assert found.gain(0, semitones) == pytest.approx(-(MANY_FRAMES**0.5))  # one better, two worse
    assert found.lead(0, semitones) == 0.0
    assert found.votes(0, semitones) == (1, 2)


def test_of_two_alone_neither_leads():
    found = pairs({0: 0, 1: 3})
    assert found.lead(1, -3) == found.lead(0, 3) == 0.0
    assert found.gain(1, -3) > 0.0


def test_one_that_goes_with_a_third_is_not_the_wrong_one():
    """2 never sounds with 0: what 1 has to do with 2 tells that 0 is turned."""
    found = pairs({0: 4, 1: 0, 2: 0}, apart=(0, 2))
    assert found.lead(0, -4) == pytest.approx(1.0)
    assert found.votes(0, -4) == (1, 0)
    assert found.lead(1, 4) == 0.0


def test_two_that_are_turned_alike_are_found_one_after_the_other():
    found = pairs({0: 0, 1: 0, 2: 5, 3: 5, 4: 0})
    assert found.lead(2, -5) == found.lead(3, -5) == 0.0
    found.turn_back(2, -5)
    assert found.gain(2, 0) == 0.0
    assert found.votes(2, 0) == (0, 0)
    assert found.votes(3, -5) == (4, 0)
    assert found.lead(3, -5) == pytest.approx(1.0)
    assert found.lead(0, 5) == 0.0


@pytest.mark.parametrize(
    ("frames", "gain", "votes"),
    [
        (16, 0.21, 1),
        (16, 0.19, 0),
        (64, 0.19, 0),
        (8, 0.41, 1),
        (8, 0.39, 0),
        (7, 2.0, 0),
    ],
)
def test_how_long_two_sound_together_says_how_much_one_of_them_has_to_say(
    frames: int, gain: float, votes: int
):
    assert pairs({0: 0, 1: 2}, frames, gain).votes(1, -2) == (votes, 0)
    assert pairs({0: 0, 1: 2}, frames, -gain).votes(1, -2) == (0, votes)


def test_longer_together_weighs_more():
    short, long = pairs({0: 0, 1: 1}, 16).gain(1, -1), pairs({0: 0, 1: 1}, 64).gain(1, -1)
    assert long == pytest.approx(2 * short)


def test_a_pair_seen_from_the_other_end_is_the_same_turned_about():
    found = pairs({0: 0, 1: 4})
    assert [found.gain(0, turn) for turn in range(12)] == [found.gain(1, -turn) for turn in range(12)]
