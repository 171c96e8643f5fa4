"""holes_among: which cuts of a sound are holes in it, on both sides of what tells them from rests."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.measure.holes import CHOKED, OTHER_SOUND, Cut, Runs, holes_among

RATE_HZ = 48_000
HOLE = Cut(
    at_frame=20 * RATE_HZ, frames=round(0.1 * RATE_HZ), value=0.0, equal=True, level=0.1, kept=0.9,
    kept_most=0.9, step_db=0.0, slope_db=1.0, unlike=1.0,
)  # fmt: skip
"""A tenth of a second of nothing in a steady sound."""


def chosen(*cuts: Cut, ends_s: tuple[float, ...] = ()):
    """ends_s: where other runs begin that are hard at both edges."""
    runs = Runs(RATE_HZ // 10)
    for at_frame in (*(cut.at_frame for cut in cuts), *(round(at_s * RATE_HZ) for at_s in ends_s)):
        runs.count(at_frame)
    return holes_among(cuts, runs, rate_hz=RATE_HZ, tolerance=0.0)


@pytest.mark.parametrize("frames", [170, 4800])
def test_a_hole_in_a_steady_sound_is_one(frames: int):
    (found,) = chosen(replace(HOLE, frames=frames))
    assert (found.at_frame, found.frames) == (HOLE.at_frame, frames)


@pytest.mark.parametrize(("unlike", "told"), [(OTHER_SOUND, True), (OTHER_SOUND + 1.0, False)])
def test_two_sounds_that_share_nothing_are_two_notes(unlike: float, told: bool):
    assert bool(chosen(replace(HOLE, frames=168, unlike=unlike))) is told


@pytest.mark.parametrize(
    ("frames", "others", "told"),
    [
        (4800, CHOKED - 1, True),
        (4800, CHOKED, False),
        (1440, CHOKED, True),  # 30 ms: too short for a rest of that kind
    ],
)
def test_one_more_rest_among_sounds_that_are_choked_dead(frames: int, others: int, told: bool):
    ends_s = tuple(11.0 + 1.4 * number for number in range(others))
    assert bool(chosen(replace(HOLE, frames=frames), ends_s=ends_s)) is told
    assert chosen(HOLE, ends_s=tuple(40.0 + 1.4 * number for number in range(others)))  # too far away


def test_holes_do_not_choke_one_another():
    """Six holes in twenty seconds, as a failing disk makes them, at uneven distances."""
    places_s = (11.0, 14.3, 18.9, 21.2, 25.7, 28.1, 30.9)
    cuts = [replace(HOLE, at_frame=round(at_s * RATE_HZ)) for at_s in places_s]
    assert len(chosen(*cuts)) == len(cuts)


@pytest.mark.parametrize(
    ("odd", "same"),
    [
        ({}, True), ({"kept": 0.7}, True), ({"kept": 0.69}, False), ({"unlike": 1.9}, True),
        ({"unlike": 1.91}, False), ({"step_db": -6.0}, True), ({"step_db": -6.1}, False),
    ],
)  # fmt: skip
def test_one_sound_on_both_sides(odd: dict[str, float], same: bool):
    (found,) = chosen(replace(HOLE, frames=480, **odd))
    assert found.same_sound is same
