"""The head of a part: cut ones are told with what is missing, whole ones are not, in any blocks."""

from __future__ import annotations

import numpy as np
import pytest

from audit.demo.band import PLAYERS, perform
from audit.demo.setlist import SET_LIST
from audit.facts import Role
from audit.measure.head import INSIDE, HeadMeter, _distances, _fitted
from audit.measure.onsets import OnsetMeter
from audit.results import Head
from tests.measure.feeding import BLOCK_SIZES, blocks

RATE_HZ = 48_000


def head_of(samples: np.ndarray, rate_hz: int = RATE_HZ, *, size: int = 65_536,
            channels: tuple[int, ...] | None = None) -> Head | None:  # fmt: skip
    kept: list[HeadMeter] = []
    onsets = OnsetMeter(rate_hz, samples.shape[1], also=lambda levels: kept[0].add(levels))
    kept.append(HeadMeter(onsets.hop_s, samples.shape[1]))
    for block in blocks(samples.astype(np.float32), size):
        onsets.add(block)
    part = tuple(range(samples.shape[1])) if channels is None else channels
    return kept[0].result(onsets.result(part), part)


@pytest.fixture(scope="module")
def drums() -> np.ndarray:
    """Half a minute of the demo's drums, from their first sound on."""
    entry = SET_LIST[0]
    samples = perform(entry.song, PLAYERS[Role.DRUMS], RATE_HZ).samples
    first = int(np.flatnonzero(np.abs(samples).max(axis=1) > 10 ** (-70 / 20))[0])
    return samples[first : first + 30 * RATE_HZ]


def silence(seconds: float, like: np.ndarray) -> np.ndarray:
    return np.zeros((round(seconds * RATE_HZ), like.shape[1]), dtype=np.float32)


def test_a_whole_first_sound_is_like_the_beginning_of_others(drums: np.ndarray):
    found = head_of(drums)
    assert found is not None
    assert found.like_beginning_db < 1.5
    assert found.like_inside_db > found.like_beginning_db


@pytest.mark.parametrize("cut_ms", [12, 30, 60, 100])
@pytest.mark.parametrize("lead_s", [0.0, 1.7])
def test_what_is_missing_is_told(drums: np.ndarray, cut_ms: int, lead_s: float):
    cut = np.concatenate([silence(lead_s, drums), drums[cut_ms * 48 :]])
    found = head_of(cut)
    assert found is not None
    assert found.agreed
    assert found.missing_ms == pytest.approx(cut_ms, abs=3.0)
    assert found.like_inside_db < 2.0
    assert found.like_beginning_db > 4.0
    assert found.at_s == pytest.approx(lead_s, abs=0.002)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_at_every_rate(rate_hz: int):
    """Bursts of a tone that dies away, the first one cut by 20 ms."""
    t = np.arange(round(0.25 * rate_hz)) / rate_hz
    random = np.random.default_rng(7)
    thump = np.sin(2 * np.pi * 180 * t) * np.exp(-t / 0.05)
    snap = 0.6 * random.standard_normal(len(t)) * np.exp(-t / 0.012)
    beat = np.concatenate([thump + snap, np.zeros(round(0.25 * rate_hz))])
    wave = 0.4 * np.tile(beat, 12)[round(0.020 * rate_hz) :, None]
    found = head_of(wave, rate_hz)
    assert found is not None
    assert found.agreed
    assert found.missing_ms == pytest.approx(20.0, abs=2.0)
    assert found.like_beginning_db > 2.0 * found.like_inside_db


def test_the_level_does_not_matter(drums: np.ndarray):
    loud, soft = head_of(drums[960:]), head_of(drums[960:] * np.float32(0.03))
    assert loud is not None
    assert soft is not None
    assert soft.missing_ms == loud.missing_ms
    assert soft.like_inside_db == pytest.approx(loud.like_inside_db, abs=0.3)


def test_a_swell_does_not_begin_at_once(drums: np.ndarray):
    ramp = np.minimum(1.0, np.arange(len(drums)) / (0.08 * RATE_HZ))[:, None] ** 3
    found = head_of((drums * ramp).astype(np.float32))
    assert found is not None
    assert found.start_db < -20.0


@pytest.mark.parametrize("size", [*BLOCK_SIZES, 47])
def test_any_block_size_gives_the_same(drums: np.ndarray, size: int):
    wave = drums[960 : 960 + 8 * RATE_HZ]
    assert head_of(wave, size=size) == head_of(wave, size=len(wave))


def test_a_part_is_judged_by_its_own_channels(drums: np.ndarray):
    """Left is whole; right begins later, and cut."""
    left = drums[:, :1]
    right = np.concatenate([silence(0.6, left), left[1440:]])[: len(left)]
    both = np.concatenate([left, right], axis=1)
    first, second = head_of(both, channels=(0,)), head_of(both, channels=(1,))
    assert first is not None
    assert second is not None
    assert first.at_s < 0.01
    assert second.at_s == pytest.approx(0.6, abs=0.002)
    assert first.like_beginning_db < 1.5 < 4.0 < second.like_beginning_db
    assert second.missing_ms == pytest.approx(30.0, abs=3.0)


def test_silence_and_a_single_hit_have_none(drums: np.ndarray):
    assert head_of(silence(2.0, drums)) is None
    assert head_of(np.concatenate([drums[: 48 * (INSIDE + 50)], silence(3.0, drums)])) is None


def test_what_is_kept_does_not_grow(drums: np.ndarray):
    meter = HeadMeter(0.001, 2)
    for _ in range(30):
        meter.add(np.full((2, 5000, 4), 0.1, dtype=np.float32))
    assert sum(one.nbytes for one in meter._kept) == 2 * 40_000 * 4


@pytest.mark.parametrize(("late", "cut", "missing_ms"), [(16, 0, None), (0, 40, 40.0)])
def test_the_beginning_of_the_next_sound_is_not_inside_of_this_one(
    late: int, cut: int, missing_ms: float | None
):
    """Quick notes whose onsets are timed 16 ms late: the first is like what begins before the next onset."""
    hops = np.arange(161)
    shape = np.minimum(1.0, (hops + 1) / 30.0) * np.exp(-hops / 90.0)
    bands = np.stack([shape, shape**2, 0.3 * np.abs(np.sin(hops / 9.0)) * shape, 0.1 * shape**3], axis=1)
    levels = np.concatenate([bands[cut:], np.tile(bands, (12, 1))]).astype(np.float32)
    starts = 161 - cut + 161 * np.arange(12)
    found = _fitted(levels, 0, starts + late, 0.001, 0.0)
    assert found is not None
    if missing_ms is None:
        assert not found.agreed or found.like_inside_db > 3.0
    else:
        assert found.agreed
        assert found.missing_ms == pytest.approx(missing_ms, abs=2.0)


def test_distances_are_those_of_every_place_by_itself():
    random = np.random.default_rng(5)
    sounds, head = random.uniform(-90, 0, (7, 260, 4)), random.uniform(-90, 0, (98, 4))
    sounds[3, 40:138] = head
    found = _distances(sounds.astype(np.float32), head.astype(np.float32))
    places = np.lib.stride_tricks.sliding_window_view(sounds, len(head), axis=1).swapaxes(2, 3)
    assert found.shape == places.shape[:2]
    assert found == pytest.approx(np.sqrt(np.mean((places - head) ** 2, axis=(2, 3))), abs=2e-4)
    assert found[3].argmin() == 40
