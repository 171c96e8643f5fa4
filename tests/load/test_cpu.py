"""Work and deadlines: published bounds and worked values."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.load import cpu
from audit.load.demand import EngineSetup
from audit.load.profile import numbers_of
from audit.load.usage import usage_of
from tests.load.machines import measured, song, stems, strong


@pytest.mark.parametrize(("tasks", "bound"), [(1, 1.0), (2, 0.8284), (3, 0.7798), (10, 0.7177)])
def test_rate_monotonic_bound(tasks: int, bound: float):
    """Liu and Layland 1973, J. ACM 20(1), theorem 5: m(2^(1/m) − 1), to ln 2."""
    assert cpu.rate_monotonic_bound(tasks) == pytest.approx(bound, abs=5e-5)
    assert cpu.rate_monotonic_bound(10**6) == pytest.approx(0.6931, abs=1e-4)


def test_refill_beside_the_callback_is_a_fixed_point():
    """60 ms of decoding, interrupted for 1 ms every 5.3333 ms: 60, 72, 74, 74."""
    period_s = 256 / 48000
    assert cpu.refill_response_s(0.060, period_s, 0.001, 0.250) == pytest.approx(0.074)
    assert cpu.refill_response_s(0.060, period_s, 0.001, 0.073) is None
    assert 0.060 / 0.250 + 0.001 / period_s == pytest.approx(0.4275)


def test_overload_never_ends():
    assert cpu.refill_response_s(0.2, 0.005, 0.004, 0.25) is None


def test_late_callbacks_of_a_song():
    """240 s at 256 frames are 45000 callbacks; none late: p < 3/m at 95 % (rule of three, Hanley 1983)."""
    callbacks = 240 / (256 / 48000)
    assert callbacks == pytest.approx(45_000)
    assert cpu.late_probability_bound(45_000) == pytest.approx(6.7e-5, abs=0.05e-5)
    assert (1 - cpu.late_probability_bound(45_000)) ** 45_000 == pytest.approx(0.05, abs=0.001)


CHECKS = [
    ("pcm24", False, 1.0, 0.03176), ("pcm24", True, 1.0, 0.07907),
    ("pcm24", False, 0.25, 0.12706), ("pcm24", True, 0.25, 0.31629),
    ("flac24", False, 1.0, 0.07078), ("flac24", True, 1.0, 0.11809),
    ("flac24", False, 0.25, 0.28312), ("flac24", True, 0.25, 0.47235),
    ("mp3", False, 1.0, 0.06076), ("mp3", True, 1.0, 0.10807),
    ("mp3", False, 0.25, 0.24306), ("mp3", True, 0.25, 0.43229),
]  # fmt: skip


@pytest.mark.parametrize(("codec", "resampled", "speed", "share"), CHECKS)
def test_share_of_one_core(codec: str, resampled: bool, speed: float, share: float):
    """64 stereo stems of 48000 samples a second, worked by hand from c = 4.95, 11.3, 9.67, 0.22, 7.7 ns."""
    cost = {"pcm24": 4.95, "flac24": 11.3, "mp3": 9.67, "mix": 0.22, "resample": 7.7}
    machine = replace(
        strong(), cores=measured(4), throttle=measured(1.0), callback_base=measured(0.0),
        callback_per_voice=measured(0.0), cost={name: measured(ns / speed) for name, ns in cost.items()},
    )  # fmt: skip
    # The worked values mix at the files' own rate.
    setup = EngineSetup(frames=480, rate_hz=96000 if resampled else 48000)
    used = usage_of(song(stems(64, codec)), numbers_of(machine), setup, disk_limit=0.7)
    mixing = used.callback / (2 if resampled else 1)
    assert cpu.one_core_share(used.decode, mixing, 1.0) == pytest.approx(share, abs=6e-6)


def test_two_cores_carry_the_busier_thread():
    assert cpu.two_core_share(0.3, 0.2, 0.8) == pytest.approx(0.375)
    assert cpu.one_core_share(0.3, 0.2, 0.8) == pytest.approx(0.625)


def test_tasks_are_dealt_out_longest_first():
    assert cpu.busiest_core([0.1, 0.35, 0.3], 2) == pytest.approx(0.4)
    assert cpu.busiest_core([0.1, 0.35, 0.3], 1) == pytest.approx(0.75)
    assert cpu.busiest_core([0.1, 0.35, 0.3], 8) == pytest.approx(0.35)


def test_a_lone_core_carries_both_threads():
    lone = replace(strong(), cores=measured(1), throttle=measured(1.0))
    setup = EngineSetup()
    two = usage_of(song(stems(32)), numbers_of(strong()), setup, disk_limit=0.7)
    one = usage_of(song(stems(32)), numbers_of(lone), setup, disk_limit=0.7)
    assert one.decode == pytest.approx(one.callback + two.decode * 0.95, rel=0.005)
    assert two.decode < one.decode


@pytest.mark.parametrize("frames", [64, 128, 256, 512])
def test_periods(frames: int):
    assert EngineSetup(frames=frames).period_s == pytest.approx(
        {64: 1.3333e-3, 128: 2.6667e-3, 256: 5.3333e-3, 512: 10.6667e-3}[frames], abs=5e-8
    )
