"""Samples that hold one value: planted, what only looks like them, and second implementations."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import groupby

import numpy as np
import pytest
from scipy.linalg import solve_toeplitz
from scipy.signal import butter, lfilter, sosfilt

from audit.measure import dropouts_kernel, held
from audit.measure.damage import DamageMeter
from audit.measure.held import FEWEST, SPAN_S, HeldFinder
from audit.results import Damage, SpliceClick
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, fed

RATE_HZ, AT = 48_000, 150_001
Samples = signals.Samples


@pytest.fixture(scope="module")
def bed() -> Samples:
    return signals.music_bed(6.0, seed=29)[0][:, :1]


def damage(samples: Samples, bits: int | None = 24, size: int = 65_536) -> Damage:
    meter = DamageMeter(RATE_HZ, samples.shape[1], bits=bits, is_float=bits is None)
    return fed(meter, samples, size).result()


def holding(samples: Samples, frames: int, at: int = AT) -> Samples:
    changed = samples.copy()
    changed[at : at + frames] = changed[at - 1]
    return changed


def told(found: Damage) -> list[tuple[int, int]]:
    """(at, samples) of those that hold."""
    return [(click.at_frame, click.held_frames) for click in found.clicks if click.held_frames]


T = np.arange(6 * RATE_HZ) / RATE_HZ


# --- planted ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("frames", [8, 16, 32, 64, 94])
def test_held_samples_are_told_at_their_place_with_their_number(bed: Samples, frames: int):
    found = damage(holding(signals.quantise(bed, 24), frames - 1))
    assert told(found) == [(AT - 1, frames)]  # the last sample before them has their value
    assert found.click_count == 1
    assert found.clicks[0].above_db > 24.0


@pytest.mark.parametrize(("frames", "is_told"), [(7, False), (8, True)])
def test_eight_are_the_fewest(frames: int, is_told: bool):
    hiss = signals.quantise(signals.noise(6.0, seed=3)[0], 24)
    assert (told(damage(holding(hiss, frames - 1))) == [(AT - 1, frames)]) is is_told


@pytest.mark.parametrize(("codes", "is_told"), [(5.0, False), (30.0, True)])
def test_it_takes_sound_that_cannot_be_foretold_to_some_codes(codes: float, is_told: bool):
    """8 samples by chance once in 10^12: CHANCE^(−1/7)/√(2π) = 20.7 codes."""
    hiss = signals.noise(6.0, seed=3, rms=codes * 2.0**-15)[0]
    held = holding(signals.quantise(hiss, 16), 7)
    finder = HeldFinder(RATE_HZ, bits=16, is_float=False)
    finder.look(np.ascontiguousarray(held[:, 0]), 2000, len(held) - 2000, 0)
    assert bool(finder.clicks()) is is_told


@pytest.mark.parametrize("frames", [16, 32, 64])
@pytest.mark.parametrize(("bits", "hz"), [(24, 55.0), (16, 110.0)])
def test_in_a_soft_bass_the_step_at_its_end_tells(frames: int, bits: int, hz: float):
    bass = signals.quantise((0.4 * np.sin(2 * np.pi * hz * T + 0.2)[:, None]).astype(np.float32), bits)
    at = round(RATE_HZ * round(3.0 * hz) / hz)  # near zero, where it moves most
    assert [number for _, number in told(damage(holding(bass, frames - 1, at), bits))] == [frames]
    assert damage(bass, bits) == Damage()


@pytest.mark.parametrize(("frames", "as_click"), [(95, True), (96, False)])
def test_from_two_milliseconds_on_they_are_a_hole(bed: Samples, frames: int, as_click: bool):
    found = damage(holding(signals.quantise(bed, 24), frames - 1))
    assert told(found) == ([(AT - 1, frames)] if as_click else [])
    assert [hole.frames for hole in found.holes] == [frames]
    assert found.click_count == int(as_click)


@pytest.mark.parametrize(
    ("bits", "stored", "dither"),
    [(24, 24, True), (16, 16, False), (16, 16, True), (16, 24, True), (None, 24, False)],
)
def test_however_it_is_stored(bed: Samples, bits: int | None, stored: int, dither: bool):
    whole = signals.quantise(bed, bits or 24, dither=dither)
    assert damage(whole, stored) == Damage()
    assert told(damage(holding(whole, 15), stored)) == [(AT - 1, 16)]


def test_silence_of_half_a_millisecond_is_told_too(bed: Samples):
    gap = signals.quantise(bed, 24)
    gap[AT : AT + 24] = 0.0
    assert told(damage(gap)) == [(AT, 24)]


def test_on_one_channel_it_is_told_of_that_one(bed: Samples):
    both = np.concatenate((bed, bed[::-1]), axis=1)
    both = signals.quantise(both, 24)
    both[AT : AT + 19, 1] = both[AT - 1, 1]
    (click,) = damage(both).clicks
    assert (click.at_frame, click.held_frames, click.channels) == (AT - 1, 20, (1,))


# --- clean: the near misses -------------------------------------------------------------------------


def stairs(wave: np.ndarray, frames: int) -> np.ndarray:
    return np.repeat(wave[::frames], frames)[: len(wave)]


CLEAN: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "crushed to eight bits": lambda wave: np.round(wave * 128) / 128,
    "held for six samples all the time": lambda wave: stairs(wave, 6),
    "cut off at its tops": lambda wave: np.clip(wave, -0.5 * np.abs(wave).max(), 0.5 * np.abs(wave).max()),
    "cut off at its upper tops, far below its lower ones": lambda wave: np.minimum(wave, 0.35 * wave.max()),
    "a gate that opens and shuts": lambda wave: wave * (np.sin(2 * np.pi * 3 * T) > -0.5),
    "a square under it": lambda wave: 0.4 * np.sign(np.sin(2 * np.pi * 110 * T)),
    "pulses": lambda wave: (T * 55 % 1 < 0.02) * 0.5,
    "a sine, whose tops stand still": lambda wave: 0.01 * np.sin(2 * np.pi * 30 * T),
    "chopped at even distances": lambda wave: wave * (np.arange(len(wave)) % 24_000 > 40),
    "a glitch every tenth of a second": lambda wave: (
        wave * (np.random.default_rng(1).random(len(wave) // 40 + 1) > 0.008).repeat(40)[: len(wave)]
    ),
    "a rest of a second": lambda wave: wave * (np.abs(T - 3.0) > 0.5),
}


@pytest.mark.parametrize("bits", [16, 24])
@pytest.mark.parametrize("name", CLEAN)
def test_it_speaks_of_no_sound(bed: Samples, name: str, bits: int):
    samples = signals.quantise(CLEAN[name](bed[:, 0]).astype(np.float32)[:, None], bits)
    assert told(damage(samples, bits)) == []


@pytest.mark.parametrize("gain_db", [-0.7, -3.3, -11.0])
def test_16_bits_dithered_and_then_turned_down_keep_their_code(bed: Samples, gain_db: float):
    quiet = signals.turn(bed, -66.0)
    samples = signals.quantise(signals.turn(signals.quantise(quiet, 16, dither=True), gain_db), 24)
    equal = [len(list(group)) for _, group in groupby(samples[:, 0].tolist())]
    assert max(equal) >= FEWEST
    assert told(damage(samples)) == []


@pytest.mark.parametrize("stored", [16, 24])
def test_quiet_bass_in_16_bits_dither_stands_still_by_chance(stored: int):
    quiet = 2e-4 * np.sin(2 * np.pi * 55 * T)[:, None].astype(np.float32)
    samples = signals.quantise(quiet, 16, dither=True)
    equal = [len(list(group)) for _, group in groupby(samples[:, 0].tolist())]
    assert max(equal) >= FEWEST
    assert told(damage(samples, stored)) == []


@pytest.mark.parametrize("gap", [10, 30, 80])
@pytest.mark.parametrize("hold", [None, 0.011])
def test_silence_between_two_struck_samples_is_a_rest(gap: int, hold: float | None):
    """Hats and woods of a sequencer, each cut off just before the next; one value held there is told."""
    random = np.random.default_rng(gap)
    line = np.zeros((6 * RATE_HZ, 1))
    starts = np.cumsum(random.integers(30_000, 60_000, 5))
    for start, length in zip(starts, np.diff(starts, append=starts[-1] + 9000), strict=True):
        t = np.arange(length) / RATE_HZ
        wood = np.sin(2 * np.pi * random.uniform(300, 3000) * t) + 0.3 * random.standard_normal(length)
        line[start : start + length, 0] = 0.3 * wood * np.exp(-t / 0.3)
        line[start + length - gap : start + length] = 0.0
    if hold is not None:
        line[starts[1] + 9000 : starts[1] + 9000 + gap] = hold
    samples = signals.quantise(line.astype(np.float32), 24)
    assert len(told(damage(samples))) == (0 if hold is None else 1)


@pytest.mark.parametrize(("number", "is_told"), [(4, True), (5, False)])
def test_more_than_four_in_five_seconds_are_the_sound(bed: Samples, number: int, is_told: bool):
    samples = signals.quantise(bed, 24)
    for k in range(number):
        samples = holding(samples, 15, 40_000 + 37_000 * k + 1500 * k * k)
    assert len(told(damage(samples))) == (number if is_told else 0)


@pytest.mark.parametrize(("beside", "is_told"), [(0, False), (20, False), (60, True)])
def test_three_at_even_distances_are_the_sound(bed: Samples, beside: int, is_told: bool):
    """Within half a millisecond of even."""
    samples = signals.quantise(bed, 24)
    for at in (60_000, 100_000, 140_000 + beside):
        samples = holding(samples, 15, at)
    assert len(told(damage(samples))) == (3 if is_told else 0)


# --- second implementations -------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_all_runs_are_found_that_a_plain_search_finds(seed: int):
    random = np.random.default_rng(seed)
    wave = random.integers(-3, 4, 6000).astype(np.float32)
    for at in random.integers(1000, 5000, 30):
        wave[at : at + random.integers(2, 40)] = wave[at]
    plain, at = [], 0
    for value, group in groupby(wave.tolist()):
        count = len(list(group))
        if FEWEST <= count < 30 and 1000 <= at < 5000:
            plain.append((at, at + count, value))
        at += count
    table = np.zeros((3000, dropouts_kernel.COLUMNS))
    rows = dropouts_kernel.find_held(wave, 1000, 5000, FEWEST, (30, 960, 1.0, 0.0, 3.0), table)
    assert [tuple(row[:3]) for row in table[:rows].tolist()] == plain
    assert len(plain) >= 8


def test_what_is_left_unforetold_is_what_scipy_leaves(bed: Samples):
    """The autocorrelation method under a Hann window, solved by scipy's Toeplitz solver."""
    samples = holding(signals.quantise(bed, 24), 15)
    (click,) = [click for click in damage(samples).clicks if click.held_frames]
    span = round(SPAN_S * RATE_HZ)
    wave, begin = samples[:, 0].astype(np.float64), click.at_frame
    end = begin + click.held_frames
    left, steps = [], []
    for side in (wave[begin - span : begin], wave[end : end + span]):
        shaped = side * np.hanning(span + 2)[1:-1]
        r = np.array([shaped[: span - k] @ shaped[k:] for k in range(25)])
        r[0] *= 1 + 1e-9
        rest = lfilter(np.concatenate(([1.0], -solve_toeplitz(r[:24], r[1:]))), 1.0, side)[24:]
        left.append(np.median(np.abs(rest)) / 0.6745)
        steps += np.sort(np.abs(np.diff(side))).tolist()
    met = np.sort(steps)
    half_a_code = 0.5 * (met[met > 0][0] if met[3] <= 1.5 * met[met > 0][0] else 2.0**-23)
    assert click.above_db == pytest.approx(20 * math.log10(min(left) / half_a_code), abs=0.5)


@pytest.mark.parametrize("codes", [1.0, 4.0, 16.0])
def test_neighbours_are_equal_as_seldom_as_it_says(codes: float):
    """Gaussian noise rounded to codes: by trial, 1/(s·√2π) is not passed."""
    noise = np.round(np.random.default_rng(5).normal(0.0, codes, 400_000))
    assert np.mean(np.diff(noise) == 0) <= 1.02 / (codes * math.sqrt(2.0 * math.pi))


# --- relations --------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_nothing(bed: Samples, size: int):
    samples = holding(signals.quantise(bed[:160_000], 24), 15)
    assert damage(samples, size=size) == damage(samples, size=4096)


def test_a_branch_leaves_the_finder_as_it_was(bed: Samples):
    wave = np.ascontiguousarray(holding(signals.quantise(bed, 24), 15)[:, 0])
    finder = HeldFinder(RATE_HZ, bits=24, is_float=False)
    branch = finder.branch()
    branch.look(wave, 2000, len(wave) - 2000, 0)
    assert [type(click) for click in branch.clicks()] == [SpliceClick]
    assert finder.clicks() == []


def test_half_as_loud_it_is_the_same_and_six_decibels_smaller(bed: Samples):
    samples = holding(signals.quantise(bed, 16), 15)
    (once,), (half,) = (damage(take, 24).clicks for take in (samples, samples * np.float32(0.5)))
    assert (half.at_frame, half.held_frames) == (once.at_frame, once.held_frames)
    assert half.size_dbfs == pytest.approx(once.size_dbfs - 6.02, abs=0.01)


# --- bounds: just inside, just outside --------------------------------------------------------------

SPAN = round(0.02 * RATE_HZ)


def judged(before: np.ndarray, run: np.ndarray, after: np.ndarray, bits: int) -> bool:
    """Whether a run between two sides of 20 ms is one."""
    finder = HeldFinder(RATE_HZ, bits=bits, is_float=False)
    finder._judge(np.concatenate((before, run, after)).astype(np.float32), 100_000)
    return len(finder._found) == 1


@pytest.mark.parametrize(("under_db", "is_told"), [(31.5, True), (32.5, False)])
def test_a_smaller_jump_is_not_heard(under_db: float, is_told: bool):
    """Under the sound around it; the run lies on the sound's middle."""
    random = np.random.default_rng(4)
    t = np.arange(SPAN) / RATE_HZ
    before, after = (0.1 * np.sin(2 * np.pi * 1000 * t) + 1e-3 * random.standard_normal(SPAN) for _ in "ab")
    level = max(np.sqrt(np.mean(side**2)) for side in (before, after))
    after[0] = level * 10 ** (-under_db / 20)
    run = np.full(16, -(before.sum() + after.sum()) / (2 * SPAN))
    after[0] += run[0]
    assert judged(before, run, after, 16) is is_told


@pytest.mark.parametrize(("codes", "is_told"), [(63, False), (65, True)])
def test_a_step_of_few_codes_is_no_leap(codes: int, is_told: bool):
    """In 16 bits, a bass that moves by five codes from sample to sample."""
    phase = 2 * np.pi * 55 * np.arange(SPAN) / RATE_HZ
    before = np.round(655 * np.sin(phase - phase[-1])) / 2**15
    after = (np.round(655 * np.sin(phase)) + codes) / 2**15
    assert judged(before, np.zeros(16) + 1 / 2**15, after + 1 / 2**15, 16) is is_told


@pytest.mark.parametrize(("share", "is_told"), [(0.14, True), (0.1, False)])
def test_silence_between_two_unlike_sounds_is_a_rest(share: float, is_told: bool):
    """Noise, and noise below 3 kHz with a share of the whole band."""
    random = np.random.default_rng(6)
    band = butter(4, 3000, fs=RATE_HZ, output="sos")
    low = sosfilt(band, random.standard_normal(SPAN + 500))[500:]
    after = 0.1 * (low / low.std() + share * random.standard_normal(SPAN))
    before = 0.1 * random.standard_normal(SPAN)
    unlike = HeldFinder(RATE_HZ, bits=24, is_float=False)._unlike(before, after)
    assert unlike == pytest.approx(held.SILENT_UNLIKE, rel=0.25)
    assert judged(before, np.zeros(24), after, 24) is is_told is (unlike <= held.SILENT_UNLIKE)


def edges_over_a_slow_turn(steepest: float) -> Samples:
    """A filtered square over a triangle, 16 bits, which turns softly once: nine samples of one value, between
    others that differ by a code or two. steepest: of the step that ends them, codes."""
    square = sosfilt(
        butter(4, 6000.0, fs=RATE_HZ, output="sos"), 0.2 * np.sign(np.sin(2 * np.pi * 1463.0 * T))
    )
    frames = np.arange(len(T))
    slope = 1.5 * 2.0**-15
    triangle = slope * (3600.0 - np.abs((frames - AT) % 14_400 - 7200.0))
    near = np.abs(frames - AT) < 400
    triangle[near] = slope * (-3600.0 + np.sqrt((frames[near] - AT) ** 2 + 36.0**2) - 0.5)
    level = np.float64(square[AT - 60])
    wave = square + triangle
    wave[AT - 24 : AT + 24] += level - square[AT - 24 : AT + 24]
    at_turn = wave[AT] * 2.0**15
    rounded = np.round(wave * 2.0**15 - at_turn + np.floor(at_turn) - 0.45) / 2.0**15
    flat = np.flatnonzero(rounded[AT - 20 : AT + 20] == rounded[AT]) + AT - 20
    rounded[flat[-1] + 1 :] += np.round(steepest) * 2.0**-15
    return rounded[:, None].astype(np.float32)


@pytest.mark.parametrize(("steepest", "is_told"), [(0.0, False), (6.0, False), (9.0, True)])
def test_a_plateau_of_a_wave_with_sharp_edges_is_not_held(steepest: float, is_told: bool):
    """The edges cannot be foretold, the plateau between them moves by a code at a time."""
    found = told(damage(edges_over_a_slow_turn(steepest), bits=16))
    assert bool(found) is is_told


def turned_up(seed: int, dither: float) -> Samples:
    """A decaying bass of 16 bits, made 55 dB louder and dithered to 24."""
    rng = np.random.default_rng(seed)
    since_s = np.arange(3 * RATE_HZ) / RATE_HZ
    hz = rng.uniform(40, 110)
    wave = sum(
        rng.uniform(300, 1500) / k**1.5 * np.sin(2 * np.pi * k * hz * since_s + rng.uniform(0, 6.3))
        for k in range(1, 12)
    )
    stairs = np.round(wave * np.exp(-0.5 * since_s)) * 544.37
    loud = stairs + dither * (rng.random(len(stairs)) - rng.random(len(stairs)))
    return (np.round(loud[:, None]) / 2**23).astype(np.float32)


@pytest.mark.parametrize("seed", [18, 44, 47])
def test_the_stairs_of_16_bits_turned_up_stand_still_at_a_turn(seed: int, monkeypatch):
    assert [told(damage(turned_up(seed, dither))) for dither in (0.0, 0.5, 1.0)] == [[], [], []]
    monkeypatch.setattr(held, "_stair_of", lambda code, *sides: 0.0)
    assert told(damage(turned_up(seed, 1.0)))
