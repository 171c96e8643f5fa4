"""Holes just behind a stroke, and strokes that are let go of before the next one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.distance import cosine

from audit.measure.dropouts import DropoutFinder
from audit.measure.goes_on import ALIKE, begins_alike, goes_on
from audit.measure.samples import Samples

RATE_HZ = 48_000
AT = 2 * RATE_HZ


def stroke(seed: int, *, rise_ms: float = 0.3, decay_s: float = 0.12, hz: float = 190.0) -> np.ndarray:
    """A drum of noise and a tone that dies away, 0.4 s."""
    random = np.random.default_rng(seed)
    at_s = np.arange(round(0.4 * RATE_HZ)) / RATE_HZ
    noise = np.convolve(random.standard_normal(len(at_s)), np.ones(4) / 4, mode="same")
    tone = np.sin(2 * np.pi * hz * at_s + random.uniform(0, 6))
    rise = np.minimum(1.0, (np.arange(len(at_s)) + 1.0) / max(1.0, rise_ms / 1000 * RATE_HZ))
    return 0.25 * (noise + 0.7 * tone) * rise * np.exp(-at_s / decay_s)


def hit(*parts: tuple[int, np.ndarray]) -> Samples:
    """Silence of four seconds with these sounds at these frames, the later over the earlier."""
    wave = np.zeros(4 * RATE_HZ)
    for frame, sound in parts:
        wave[frame : frame + len(sound)] = sound
    return np.rint(wave * 2**23).astype(np.float32) / np.float32(2**23)


def holes(wave: Samples) -> list[int]:
    finder = DropoutFinder(RATE_HZ, bits=24, is_float=False)
    finder.look(wave, RATE_HZ // 2, len(wave) - RATE_HZ // 2, 0)
    return [hole.at_frame for hole in finder.holes()]


@pytest.mark.parametrize("hole_ms", [2.1, 5.0, 11.0])
def test_most_holes_soon_after_a_stroke_are_found(hole_ms: float):
    """Some look like a stroke's beginning by chance; the rise from silence says nothing of any."""
    found = 0
    for seed in range(30):
        wave = hit((AT, stroke(seed)))
        begin = AT + 740 + 31 * seed
        wave[begin : begin + round(hole_ms / 1000 * RATE_HZ)] = 0.0
        found += holes(wave) == [begin]
    assert found >= 24


def let_go(seed: int, gap_ms: float, other: int | None) -> Samples:
    """A stroke that ends at once 16 ms after it began, and the next one after a gap."""
    first, again = stroke(seed), stroke(seed if other is None else other, rise_ms=1.0)
    cut = round(0.016 * RATE_HZ)
    second = AT + cut + round(gap_ms / 1000 * RATE_HZ)
    return hit((AT, first[:cut]), (second, first if other is None else again))


@pytest.mark.parametrize("gap_ms", [2.1, 5.0])
def test_a_stroke_let_go_of_and_struck_again_is_no_hole(gap_ms: float):
    assert not [seed for seed in range(30) if holes(let_go(seed, gap_ms, None))]
    assert not [seed for seed in range(30) if holes(let_go(seed, gap_ms, seed + 100))]


def test_nor_is_one_struck_twice_as_hard_however_it_begins():
    for seed in range(30):
        first, louder = stroke(seed), 3.0 * stroke(seed + 100, rise_ms=0.0)
        assert not holes(hit((AT, 0.3 * first[:770]), (AT + 870, louder)))


def test_how_alike_two_beginnings_are():
    """Against scipy's cosine distance."""
    one, other = stroke(1), stroke(2)
    before = np.concatenate([np.zeros(960), one[:960]])
    assert begins_alike(before, 0.5 * one[:960], RATE_HZ) == pytest.approx(1.0)
    assert begins_alike(before, -one[:960], RATE_HZ) == pytest.approx(1.0)  # a stroke upside down is one, too
    assert begins_alike(before, one[960:1920], RATE_HZ) < ALIKE
    assert begins_alike(before, other[:960], RATE_HZ) < ALIKE
    size = np.abs(before)
    onset = int(np.argmax(size > 0.05 * size.max()))
    lags = range(onset - 48, onset + 49)
    scipys = [abs(1.0 - cosine(before[lag : lag + 192], other[:192])) for lag in lags]
    assert begins_alike(before, other[:960], RATE_HZ) == pytest.approx(max(scipys))
    assert begins_alike(before, other[:100], RATE_HZ) == 1.0  # too short to tell
    assert begins_alike(np.concatenate([np.zeros(1800), one[:120]]), other[:960], RATE_HZ) == 1.0


def test_what_comes_softly_begins():
    one = stroke(3)
    before, swing = one[:960], one[1200:2160]
    assert goes_on(before, swing, RATE_HZ)
    soft = swing * np.minimum(1.0, np.arange(960) / 96)
    assert not goes_on(before, soft, RATE_HZ)


@pytest.mark.parametrize(("at_once", "on"), [(0.49, False), (0.51, True)])
def test_how_softly(at_once: float, on: bool):
    """Noise of one level whose first 0.2 ms are so much softer than its first 2 ms."""
    random = np.random.default_rng(5)
    before, after = random.standard_normal(1920), random.standard_normal(1920)
    head, rest = slice(0, 10), slice(10, 96)
    after[head] /= np.sqrt(np.mean(after[head] ** 2))
    after[rest] /= np.sqrt(np.mean(after[rest] ** 2))
    share = at_once**2
    after[rest] *= np.sqrt((96 / share - 10) / 86)
    assert goes_on(before, after, RATE_HZ) is on


@pytest.mark.parametrize(("burst_ms", "gap_ms"), [(8, 3), (10, 5), (12, 8), (3, 3)])
def test_bursts_of_a_clap_are_no_holes(burst_ms: float, gap_ms: float):
    """Noise at full level from its first sample to its last, and once more: chips and gated snares."""
    told = 0
    for seed in range(20):
        random = np.random.default_rng(seed)
        burst, gap = round(burst_ms * 48), round(gap_ms * 48)
        first, second = 0.2 * random.standard_normal((2, burst))
        told += len(holes(hit((AT, first), (AT + burst + gap, second))))
    assert told == 0
