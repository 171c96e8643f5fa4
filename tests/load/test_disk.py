"""Reading in rounds: worked values, and a simulated spinning disk that the formulas must agree with.

Worked example: stereo 24-bit 48 kHz stems on a 5400 rpm laptop disk; seek 12 ms and full stroke 20 ms as in
the data sheet of a 2.5-inch drive (Hitachi Travelstar 5K320, OEM specification), half a turn 5.56 ms.
"""

from __future__ import annotations

import math
import random

import pytest

from audit.load import disk

RATE = 288_000.0  # bytes a second of one stem
B = 60e6
TURN_S = 60 / 5400
L = 0.012 + TURN_S / 2
SD = 0.00526
FULL_SEEK_S = 0.020

TABLE = [
    # refill s, t ms, mean model, z 2.33, z 3.5, worst case
    (0.25, 18.756, 13, 11.15, 10.20, 7),
    (0.5, 19.956, 25, 22.16, 20.84, 14),
    (1.0, 22.356, 44, 41.21, 39.55, 27),
    (2.0, 27.156, 73, 69.88, 68.06, 49),
    (4.0, 36.756, 108, 105.40, 103.73, 79),
]


@pytest.mark.parametrize(("refill", "t_ms", "mean", "z233", "z35", "worst"), TABLE)
def test_worked_table(refill: float, t_ms: float, mean: int, z233: float, z35: float, worst: int):
    t = disk.refill_s(L, refill * RATE, B)
    assert 1e3 * t == pytest.approx(t_ms, abs=0.001)
    assert disk.most_stems(t, refill) == mean
    assert disk.stems_with_margin(t, SD, refill, 2.33) == pytest.approx(z233, abs=0.01)
    assert disk.stems_with_margin(t, SD, refill, 3.5) == pytest.approx(z35, abs=0.01)
    assert disk.stems_at_worst(FULL_SEEK_S, TURN_S, refill * RATE, B, refill) == worst


@pytest.mark.parametrize(
    ("stems", "expected_s", "two_refills_mb"), [(16, 0.3043, 2.80), (32, 0.6637, 12.23), (64, 1.6218, 59.78)]
)
def test_smallest_refill(stems: int, expected_s: float, two_refills_mb: float):
    shortest = disk.smallest_refill_s([RATE] * stems, L, B)
    assert shortest == pytest.approx(expected_s, abs=1e-4)
    assert 2 * shortest * RATE * stems / 1e6 == pytest.approx(two_refills_mb, abs=0.02)
    assert disk.utilisation([RATE] * stems, L, B, shortest) == pytest.approx(1.0)


def test_no_refill_is_long_enough_for_more_than_the_disk_transfers():
    assert disk.smallest_refill_s([RATE] * 209, L, B) is None
    assert disk.smallest_refill_s([RATE] * 208, L, B) is not None


def test_utilisation_of_32_stems():
    assert disk.utilisation([RATE] * 32, L, B, 0.5) == pytest.approx(1.277, abs=0.001)
    assert disk.utilisation([RATE] * 32, L, B, 1.0) == pytest.approx(0.7154, abs=0.0001)


@pytest.mark.parametrize(("latency_s", "bytes_per_s", "stems"), [(100e-6, 500e6, 1288), (60e-6, 2e9, 3787)])
def test_solid_state_rows(latency_s: float, bytes_per_s: float, stems: int):
    assert disk.most_stems(disk.refill_s(latency_s, 0.5 * RATE, bytes_per_s), 0.5) == stems


def test_no_spread_is_the_mean_model():
    t = disk.refill_s(L, RATE, B)
    assert disk.stems_with_margin(t, 0.0, 1.0, 3.5) == pytest.approx(1.0 / t)


def test_queue_is_little_s_law_up_to_what_the_disk_transfers():
    assert disk.reads_per_s(1, 1e-4, 1e5, 5e8, 1e9) == pytest.approx(1 / (1e-4 + 2e-4))
    assert disk.reads_per_s(2, 1e-4, 1e5, 5e8, 1e9) == pytest.approx(2 / (1e-4 + 2e-4))
    assert disk.reads_per_s(64, 1e-4, 1e5, 5e8, 1e9) == pytest.approx(1e9 / 1e5)


def _late_share(stems: int, refill: float, rounds: int, draw: random.Random) -> float:
    """Share of rounds that take longer than the refill lasts, in the order of arrival."""
    transfer = refill * RATE / B
    late = 0
    for _ in range(rounds):
        took = 0.0
        for _ in range(stems):
            way = abs(draw.random() - draw.random())  # of the stroke, between two places anywhere
            seek = (1 + 19 * (1.2244 * math.sqrt(way) - 0.2244 * way)) / 1e3
            took += seek + draw.random() * TURN_S + transfer
        late += took > refill
    return late / rounds


@pytest.mark.parametrize("refill", [0.25, 0.5, 1.0])
def test_a_simulated_disk_keeps_up_what_the_margin_allows(refill: float):
    """Seek curve through 1 and 20 ms, uniform places and turns: L and its spread follow from it."""
    t = disk.refill_s(L, refill * RATE, B)
    draw = random.Random(7)
    safe = math.floor(disk.stems_with_margin(t, SD, refill, disk.CAREFUL_Z)) - 1
    assert _late_share(safe, refill, 4000, draw) == 0.0
    at_one_per_cent = math.floor(disk.stems_with_margin(t, SD, refill, 2.33))
    assert _late_share(at_one_per_cent, refill, 4000, draw) <= 0.015
    assert _late_share(at_one_per_cent + 1, refill, 4000, draw) > 0.01
    assert _late_share(disk.most_stems(t, refill) + 1, refill, 500, draw) > 0.5


def test_the_simulation_has_the_spread_it_is_compared_with():
    draw = random.Random(3)
    times = []
    for _ in range(100_000):
        way = abs(draw.random() - draw.random())
        times.append((1 + 19 * (1.2244 * math.sqrt(way) - 0.2244 * way)) / 1e3 + draw.random() * TURN_S)
    mean = sum(times) / len(times)
    assert mean == pytest.approx(L, rel=0.03)
    assert math.sqrt(sum((t - mean) ** 2 for t in times) / len(times)) == pytest.approx(SD, rel=0.02)
