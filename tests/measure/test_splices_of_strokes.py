"""A wrong sample that a sampler's own sample begins with: part of the sound, where a fault like it is not."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure import splices
from audit.measure.damage import DamageMeter
from audit.measure.splices import SpliceFinder, _Jolt
from tests import signals
from tests.measure.feeding import fed

RATE_HZ = 48_000
SECONDS = 40


def clicks_of(wave: np.ndarray) -> list[int]:
    take = signals.quantise(wave.astype(np.float32)[:, None], 24)
    damage = fed(DamageMeter(RATE_HZ, 1, bits=24, is_float=False), take, 65_536).result()
    return [click.at_frame for click in damage.clicks]


def strokes(seed: int) -> list[int]:
    """Places of notes at uneven distances, now and then alone in five seconds."""
    steps = np.random.default_rng(seed).uniform(0.35, 3.0, 40)
    return [round(at * RATE_HZ) for at in (1.0 + np.cumsum(steps)) if at < SECONDS - 3]


def sampler(seed: int, wrong: float) -> np.ndarray:
    """A soft note at `strokes`, in several strengths, over a pad; its first sample is off by `wrong`."""
    since_s = np.arange(round(1.2 * RATE_HZ)) / RATE_HZ
    note = sum(np.sin(2 * np.pi * 220 * k * since_s) / k**1.5 for k in range(1, 9))
    note = note * (1 - np.exp(-since_s / 0.03)) * np.exp(-since_s * 2)
    note /= np.abs(note).max()
    note[0] += wrong
    random = np.random.default_rng(seed)
    at_s = np.arange(SECONDS * RATE_HZ) / RATE_HZ
    wave = 0.02 * sum(np.sin(2 * np.pi * hz * at_s) / 3 for hz in (131.0, 196.02, 262.05))
    for at in strokes(seed):
        wave[at : at + len(note)] += 0.4 * random.uniform(0.5, 1.0) * note
    return wave


@pytest.mark.parametrize("wrong", [0.1, 0.3])
def test_what_every_stroke_begins_with_is_the_sound(wrong: float, monkeypatch):
    waves = [sampler(seed, wrong) for seed in (1, 2, 3, 4)]
    assert [clicks_of(wave) for wave in waves] == [[]] * 4
    monkeypatch.setattr(splices, "STROKES", 10**6)
    assert sum(len(clicks_of(wave)) for wave in waves) >= 3  # those that are rare where they stand


def test_as_many_at_any_place_are_faults():
    """Wrong samples as large in the same music, 4 s apart and at no strokes."""
    wave = sampler(5, 0.0)
    places = [round(at * RATE_HZ) for at in (2.1, 5.9, 10.2, 13.9, 18.3, 22.1, 26.4, 30.2, 34.1, 38.3)]
    wave[places] += 0.12
    told = clicks_of(wave)
    assert len(told) >= 9
    assert all(min(abs(at - place) for place in places) <= 1 for at in told)


def jolts(alike: int, *, rising: int, **last: float) -> SpliceFinder:
    """A finder that has met one fault and `alike` others 10 s apart; after `rising` of all it gets louder."""
    finder = SpliceFinder(RATE_HZ, bits=24, is_float=False)
    for k in range(alike + 1):
        finder._found.append(
            _Jolt(
                at_frame=round((10.0 * k + 0.03 * k * k) * RATE_HZ),
                size=last.get("size", 0.1) if k > 0 else 0.1,
                score_db=last.get("score_db", 40.0) if k > 0 else 40.0,
                rise_db=last.get("rise_db", 3.0) if k < rising else 0.0,
                is_fault=k == 0,
            )
        )
    return finder


@pytest.mark.parametrize(
    ("alike", "rising", "more", "is_told"),
    [
        (7, 8, {}, True),
        (8, 9, {}, False),
        (9, 8, {}, False),
        (9, 7, {}, True),
        (9, 10, {"rise_db": 0.9}, True),
        (9, 10, {"rise_db": 1.1}, False),
        (9, 10, {"size": 0.198}, False),
        (9, 10, {"size": 0.201}, True),
        (9, 10, {"size": 0.0502}, False),
        (9, 10, {"size": 0.0498}, True),
        (9, 10, {"score_db": 47.9}, False),
        (9, 10, {"score_db": 48.1}, True),
        (9, 10, {"score_db": 32.1}, False),
        (9, 10, {"score_db": 31.9}, True),
    ],
)
def test_the_bounds_of_strokes(alike: int, rising: int, more: dict[str, float], is_told: bool):
    assert len(jolts(alike, rising=rising, **more)._in_the_whole()) == is_told
