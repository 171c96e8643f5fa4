"""first_hits: a tick with a second hit in it is one tick."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.second_hits import FEWEST, first_hits
from audit.measure.tick_events import Ticks
from tests.click_trial import hear

RATE_HZ = 48_000


def ticks(at_s: np.ndarray, level_db: np.ndarray | float = -6.0) -> Ticks:
    order = np.argsort(at_s)
    levels = np.broadcast_to(level_db, at_s.shape)[order]
    return Ticks(
        at_s=at_s[order], level_db=levels, kind=np.zeros(len(at_s), dtype=np.int64),
        likeness=np.ones(len(at_s)), sounds={},
    )  # fmt: skip


BEATS = 1.0 + 0.5 * np.arange(60)


def twice(after_s: float, by_db: float = -3.0, share: float = 1.0) -> Ticks:
    again = BEATS[: round(share * len(BEATS))] + after_s
    levels = np.concatenate([np.full(len(BEATS), -6.0), np.full(len(again), -6.0 + by_db)])
    return ticks(np.concatenate([BEATS, again]), levels)


@pytest.mark.parametrize(
    ("after_s", "by_db"),
    [(0.0245, 0.5), (0.05, -20.0), (0.075, -3.0), (0.0995, 0.5), (0.1005, -3.1), (0.1495, -20.0)],
)
def test_a_second_hit_is_no_tick(after_s: float, by_db: float):
    assert np.array_equal(first_hits(twice(after_s, by_db)).at_s, BEATS)


@pytest.mark.parametrize(
    "sounds",
    [
        pytest.param(twice(0.151), id="a note between"),
        pytest.param(twice(0.023), id="one sound"),
        pytest.param(twice(0.06, by_db=0.6), id="a note before the beat"),
        pytest.param(twice(0.06, share=0.55), id="some beats"),
        pytest.param(ticks(1.0 + 0.12 * np.arange(200)), id="fast even ticks"),
        pytest.param(ticks(np.sort(np.concatenate([BEATS / 2, BEATS / 2 + 0.25 * 0.41]))), id="nearly even"),
        pytest.param(ticks(np.concatenate([BEATS * 0.8, BEATS * 0.8 + 0.4 * 2 / 3])), id="swing"),
        pytest.param(ticks(np.concatenate([BEATS * 0.8, BEATS * 0.8 + 0.3])), id="dotted"),
        pytest.param(twice(0.1005, by_db=-2.9), id="a fifth of the beat on, about as loud"),
        pytest.param(twice(0.126, by_db=-20.0), id="a quarter of the beat on"),
        pytest.param(ticks(BEATS), id="plain"),
        pytest.param(ticks(np.array([1.0, 1.06, 2.0, 2.06, 3.0])[: FEWEST - 1]), id="too few"),
        pytest.param(ticks(np.zeros(0)), id="nothing"),
    ],
)
def test_what_is_no_second_hit(sounds: Ticks):
    assert np.array_equal(first_hits(sounds).at_s, sounds.at_s)


@pytest.mark.parametrize(("wavers_s", "same"), [(0.0014, True), (0.004, False)])
def test_always_at_one_distance(wavers_s: float, same: bool):
    again = BEATS + 0.06 + wavers_s * np.where(np.arange(60) % 2, 1.0, -1.0) * np.linspace(1.0, 2.0, 60)
    found = first_hits(ticks(np.concatenate([BEATS, again])))
    assert (len(found) == len(BEATS)) is same


def test_a_beat_doubled_by_mistake_stays():
    """One flam in sixty is a fault."""
    doubled = ticks(np.concatenate([BEATS, BEATS[30:31] + 0.06]))
    assert len(first_hits(doubled)) == len(BEATS) + 1


def test_second_hits_that_are_heard_a_little_later_go_too():
    """Under a ringing tick it is found where it stands out: at 50 ms mostly, and at 75."""
    later = BEATS + np.where(np.arange(60) % 10 == 0, 0.075, 0.05)
    assert np.array_equal(first_hits(ticks(np.concatenate([BEATS, later]))).at_s, BEATS)
    astray = BEATS + np.where(np.arange(60) % 10 == 0, 0.081, 0.05)
    assert len(first_hits(ticks(np.concatenate([BEATS, astray])))) == len(BEATS) + 6


@pytest.mark.parametrize(
    ("after_ms", "gain"),
    [(30, 0.35), (30, 0.9), (60, 0.6), (60, 0.9), (90, 0.35), (90, 0.9), (120, 0.35), (120, 0.6)],
)
def test_a_click_with_a_slap_back_echo(after_ms: int, gain: float):
    """Accents 4 dB over the beats, and the accents' echoes about as loud as the beats."""
    t = np.arange(round(0.05 * RATE_HZ)) / RATE_HZ
    samples = np.zeros(33 * RATE_HZ)
    for number, at_s in enumerate(BEATS):
        accent = number % 4 == 0
        wave = np.sin(2 * np.pi * (1500 if accent else 1100) * t) * np.exp(-150 * t)
        for delay_ms, part in ((0, 1.0), (after_ms, gain)):
            begin = round((at_s + delay_ms / 1000) * RATE_HZ)
            samples[begin : begin + len(t)] += (0.5 if accent else 0.3) * part * wave
    click = hear(samples[:, None].astype(np.float32), RATE_HZ)
    assert click is not None
    assert click.metre == "4/4"
    assert np.abs(np.array(click.beats_s) - BEATS).max() < 1e-4
    assert not click.extras
    assert not click.gaps
