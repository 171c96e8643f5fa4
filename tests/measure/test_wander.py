"""Offsets of seconds: planted, what only looks like one, and second implementations."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.signal import butter, lfilter, sosfiltfilt

from audit.measure.levels import LevelMeter
from audit.measure.wander import FEWEST_STEPS, LIMIT, Wander, wandering_offset
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.shared import shared_folder

RATE_HZ, SECONDS = 48_000, 24.0
Wave = np.ndarray
T = np.arange(round(RATE_HZ * SECONDS)) / RATE_HZ


def wander_of(
    samples: signals.Samples, rate_hz: int = RATE_HZ, size: int = 65_536
) -> tuple[float, float, float]:
    """Offset, begin and length in seconds."""
    found = fed(LevelMeter(rate_hz, samples.shape[1]), samples, size).result()
    return found.dc_wander, found.dc_wander_at_s, found.dc_wander_s


def shifted(samples: signals.Samples, offset: float, at_s: float, for_s: float) -> signals.Samples:
    changed = samples.copy()
    changed[round(at_s * RATE_HZ) : round((at_s + for_s) * RATE_HZ)] += np.float32(offset)
    return changed


# --- planted ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("offset", [0.05, -0.015, 0.005])
@pytest.mark.parametrize("for_s", [1.5, 3.0, 8.0])
def test_an_offset_between_phrases_is_found_where_it_is(offset: float, for_s: float):
    voice = signals.join(signals.speech(10.0)[0], signals.silence(4.0)[0], signals.speech(10.0)[0])
    found, at_s, length_s = wander_of(shifted(voice, offset, 10.5, for_s))
    assert found == pytest.approx(offset, rel=0.02)
    assert at_s == pytest.approx(10.5, abs=0.15)
    assert length_s >= min(for_s, 3.5) - 0.2


@pytest.mark.parametrize(
    ("offset", "told"), [(0.05, True), (0.01, True), (1.05 * LIMIT, True), (0.95 * LIMIT, False)]
)
def test_under_drums_it_is_seen_between_the_strokes(offset: float, told: bool):
    strokes = signals.drums(20.0)[0] * (np.arange(20 * RATE_HZ) % RATE_HZ < 0.5 * RATE_HZ)[:, None]
    assert (wander_of(shifted(strokes.astype(np.float32), offset, 8.0, 4.0))[0] != 0.0) is told


@pytest.mark.parametrize(("for_s", "told"), [(0.85, False), (1.25, True)])
def test_a_second_is_the_shortest_that_is_told(for_s: float, told: bool):
    assert (wander_of(shifted(signals.silence(10.0)[0], 0.02, 4.0, for_s))[0] != 0.0) is told


@pytest.mark.parametrize(("period_s", "told"), [(1.8, False), (4.0, True)])
def test_a_swing_of_four_seconds_is_told_and_the_turn_of_a_record_is_not(period_s: float, told: bool):
    """33⅓ turns a minute are one in 1.8 s."""
    swing = (0.02 * np.sin(2 * np.pi * T / period_s))[:, None].astype(np.float32)
    assert (wander_of(swing)[0] != 0.0) is told


@pytest.mark.parametrize(("seen", "told"), [((0, 4, 7, 10, 13), True), ((0, 4, 9, 13), False)])
def test_a_stretch_is_seen_in_five_steps_at_least(seen: tuple[int, ...], told: bool):
    """The steps between them are too loud to say anything; either lasts for 1.4 s."""
    assert (len(seen) >= FEWEST_STEPS) is told
    means, levels = np.zeros(60), np.zeros(60)
    means[20:34], levels[20:34] = 0.02, 0.5
    levels[[20 + step for step in seen]] = 0.001
    found = wandering_offset(means, means**2 + levels**2)
    assert found == (Wander(offset=pytest.approx(0.02), first_step=20, steps=14) if told else Wander())


def test_the_worst_channel_and_the_worst_stretch_count():
    hiss = signals.turn(signals.noise(20.0)[0], -50.0)
    both = beside(shifted(shifted(hiss, 0.01, 3.0, 2.0), -0.02, 12.0, 2.0), hiss)
    found, at_s, _ = wander_of(both)
    assert (found, at_s) == (pytest.approx(-0.02, rel=0.01), pytest.approx(12.0, abs=0.01))


# --- clean: the near misses -------------------------------------------------------------------------


def struck(every_s: float, length_s: float, attack_s: float = 0.01, decay_s: float = 0.1) -> Wave:
    """An envelope: notes at even distances that rise, hold and die away."""
    t = T % every_s
    return np.clip(t / attack_s, 0, 1) * np.where(t < length_s, 1.0, np.exp(-(t - length_s) / decay_s))


def one_sided(*freqs_hz: float) -> Wave:
    """Saws from zero up, as a synth without a blocking capacitor makes them."""
    return sum(((freq * T + 0.37 * k) % 1.0 for k, freq in enumerate(freqs_hz)), 0.0 * T)


def coupled(wave: Wave, corner_hz: float) -> Wave:
    b, a = butter(1, 2 * corner_hz / RATE_HZ, "high")
    return np.asarray(lfilter(b, a, wave))


def drop(low_hz: float) -> Wave:
    """From 60 Hz down, every eight seconds."""
    t = T % 8.0
    turns = low_hz * t + (60.0 - low_hz) * 1.2 * (1 - np.exp(-t / 1.2))
    return np.sin(2 * np.pi * turns) * np.exp(-t / 3.0)


def rumble(low_hz: float, high_hz: float) -> Wave:
    noise = np.random.default_rng(3).standard_normal(len(T))
    sos = butter(2, [2 * low_hz / RATE_HZ, 2 * high_hz / RATE_HZ], "band", output="sos")
    wave = sosfiltfilt(sos, noise)
    return 0.1 * wave / wave.std()


SUPERSAW = (108.8, 109.2, 109.6, 110.0, 110.4, 110.8, 111.2)
CLEAN: dict[str, Callable[[], Wave]] = {
    "a one-sided pad": lambda: one_sided(*SUPERSAW) * struck(8.0, 5.0, 2.0, 0.8),
    "a one-sided organ": lambda: one_sided(220, 277, 330, 440) * struck(2.0, 1.4),
    "the same, ducked by the kick": lambda: one_sided(*SUPERSAW) * (1 - 0.97 * np.exp(-(T % 0.5) / 0.12)),
    "the same under a slow tremolo": lambda: one_sided(110) * (0.5 + 0.5 * np.sin(2 * np.pi * 0.25 * T)),
    "two one-sided saws that beat": lambda: one_sided(55, 55.3) * struck(8.0, 5.0, 2.0, 0.8),
    "pulses that are nearly always up": lambda: (55 * T % 1 < 0.95) * struck(2.0, 1.4),
    "rectified bass": lambda: np.abs(np.sin(2 * np.pi * 27.5 * T)) * struck(2.0, 1.4),
    "lopsided brass": lambda: (220 * T % 1 < 0.12) * struck(4.0, 2.5, 0.03, 0.08),
    "lopsided brass behind 0.5 Hz": lambda: coupled((220 * T % 1 < 0.12) * struck(4.0, 2.5, 0.03, 0.08), 0.5),
    "a one-sided pad behind 1 Hz": lambda: coupled(one_sided(*SUPERSAW) * struck(6.0, 4.0, 0.05), 1.0),
    "a one-sided pad behind 3 Hz": lambda: coupled(one_sided(*SUPERSAW) * struck(6.0, 4.0, 0.05), 3.0),
    "a sub drop to 18 Hz": lambda: drop(18.0),
    "a sub drop to 1 Hz": lambda: drop(1.0),
    "kicks whose tail pushes one way": lambda: (
        np.exp(-(T % 1.0) / 0.1) * (np.sin(2 * np.pi * 50 * (T % 1.0)) + 0.3)
    ),
    "a bass that swings at 30 Hz": lambda: np.sin(2 * np.pi * 30.3 * T) * struck(2.0, 1.0),
    "a warped record": lambda: 0.02 * np.sin(2 * np.pi * 0.556 * T) + 0.01 * np.sin(2 * np.pi * 1.11 * T),
    "rumble": lambda: rumble(0.5, 30.0) + np.sin(2 * np.pi * 330 * T) * struck(2.0, 0.5),
    "plosives": lambda: np.exp(-(((T % 2.0) - 0.5) / 0.04) ** 2) + 0.1 * np.sin(2 * np.pi * 200 * T),
    "distortion on one side": lambda: (
        np.tanh(np.maximum(x := 4 * np.sin(2 * np.pi * 110 * T) * np.exp(-(T % 2.0) / 0.6), 0.3 * x))
    ),
    "two tones multiplied": lambda: (
        np.sin(2 * np.pi * 110 * T) * np.sin(2 * np.pi * 110.2 * T) * struck(8.0, 5.0, 2.0, 0.8)
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CLEAN)
def test_it_speaks_of_no_sound(name: str):
    wave = CLEAN[name]()
    assert wander_of((0.6 * wave / np.abs(wave).max()).astype(np.float32)[:, None]) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("corner_hz", "told"), [(0.1, True), (0.3, True), (0.5, False), (1.0, False)])
def test_a_one_sided_pulse_behind_a_slow_coupling_is_told_in_its_rests(corner_hz: float, told: bool):
    """As the rule says: below 0.5 Hz its swing back lasts a second and more."""
    pulses = 0.3 * (55 * T % 1 < 0.1) * (T % 4 < 2)
    offset, *_ = wander_of(coupled(pulses, corner_hz)[:, None].astype(np.float32))
    assert (offset < -LIMIT) is told
    assert (offset == 0.0) is not told


def test_a_drop_that_comes_to_rest_off_zero_is_an_offset():
    """An exponential drop to 0 Hz stops anywhere in its wave: here it stands for seconds."""
    t = np.clip(T - 1.0, 0, None)
    wave = np.sin(2 * np.pi * 60 * 0.7 * (1 - np.exp(-t / 0.7)) + 0.5) * np.exp(-t / 9.0)
    assert abs(wander_of((0.6 * wave).astype(np.float32)[:, None])[0]) > LIMIT


def test_rendered_instruments_have_none_and_a_planted_one_is_found():
    soundfile = pytest.importorskip("soundfile")
    files = sorted(shared_folder("corpus").glob("*/*.flac"))
    music = [file for file in files if file.stem not in ("Click", "Guide", "Timecode")]
    assert len(music) >= 24
    found = 0
    for file in music:
        samples, rate_hz = soundfile.read(file, dtype="float32", always_2d=True)
        assert wander_of(samples, rate_hz)[0] == 0.0, file.name
        middle = len(samples) // 2
        samples[middle : middle + 4 * rate_hz] += np.float32(0.05)
        found += wander_of(samples, rate_hz)[0] != 0.0
    assert found >= 0.25 * len(music)  # a pad hides what it outweighs


# --- second implementations -------------------------------------------------------------------------


def test_the_offset_is_what_a_low_pass_filter_leaves():
    """scipy's zero-phase Butterworth at 1 Hz, in the middle of the stretch."""
    voice = signals.join(signals.speech(10.0)[0], signals.silence(6.0)[0], signals.speech(8.0)[0])
    samples = shifted(voice, -0.012, 11.0, 4.0)
    found, at_s, length_s = wander_of(samples)
    slow = sosfiltfilt(butter(4, 2 * 1.0 / RATE_HZ, output="sos"), samples[:, 0].astype(np.float64))
    assert slow[round((at_s + length_s / 2) * RATE_HZ)] == pytest.approx(found, rel=0.01)


def plain(means: Wave, powers: Wave) -> Wander:
    """The same, step by step, as it reads in words."""
    level = np.sqrt(np.maximum(powers - means**2, 0.0))
    sounding = np.sort(level[level > 1e-3])
    loud = level >= np.median(sounding) if len(sounding) else level < 0
    factor = max(2.0, 3.0 * np.percentile(np.abs(means[loud]) / level[loud], 90)) if loud.any() else 2.0
    worst, run = Wander(), []

    def closed() -> Wander:
        if len(run) >= 5 and run[-1] - run[0] >= 9:
            offset = float(np.median(means[run]))
            if abs(offset) > abs(worst.offset):
                return Wander(offset=offset, first_step=run[0], steps=run[-1] - run[0] + 1)
        return worst

    for step, (mean, r) in enumerate(zip(means, level, strict=True)):
        if abs(mean) > LIMIT and abs(mean) > factor * r:
            if run and (step - run[-1] > 6 or mean * means[run[-1]] < 0):
                worst, run = closed(), []
            run.append(step)
        elif factor * r < LIMIT:
            worst, run = closed(), []
    return closed()


@pytest.mark.parametrize("seed", range(40))
def test_a_plain_loop_finds_the_same(seed: int):
    random = np.random.default_rng(seed)
    level = 10 ** random.uniform(-4.5, -0.5 - 2 * random.random(), 200)
    slow = np.repeat(random.choice((0.0, 0.02, -0.02, 0.005), 20), 10)
    means = slow + level * random.uniform(-0.3, 0.3) * random.random(200)
    means[random.random(200) < 0.05] = 0.0
    powers = level**2 + means**2
    assert wandering_offset(means, powers) == plain(means, powers)


def test_the_plain_loop_is_asked_something():
    def one(seed: int) -> Wander:
        random = np.random.default_rng(seed)
        level = 10 ** random.uniform(-4.5, -2.0, 200)
        means = np.repeat(random.choice((0.0, 0.02, -0.02), 20), 10)
        return wandering_offset(means, level**2 + means**2)

    found = [one(seed) for seed in range(10)]
    assert {np.sign(wander.offset) for wander in found} == {-1.0, 1.0}


# --- relations and the awkward ----------------------------------------------------------------------


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_changes_nothing(size: int):
    samples = shifted(signals.drums(8.3)[0], 0.03, 3.0, 2.0)
    assert wander_of(samples, size=size) == wander_of(samples, size=4096)


def test_upside_down_is_the_other_sign_and_backwards_the_same_stretch():
    samples = shifted(signals.drums(12.0)[0], 0.03, 3.0, 4.0)
    found, at_s, length_s = wander_of(samples)
    assert found > 0.02
    assert wander_of(-samples) == (pytest.approx(-found), at_s, length_s)
    back, back_at_s, back_length_s = wander_of(samples[::-1].copy())
    assert (back, back_length_s) == (pytest.approx(found), pytest.approx(length_s))
    assert back_at_s == pytest.approx(12.0 - at_s - length_s, abs=0.01)


@pytest.mark.parametrize("frames", [0, 1, 4800, 47_999])
def test_silence_and_short_files_have_none(frames: int):
    assert wander_of(np.zeros((frames, 2), np.float32)) == (0.0, 0.0, 0.0)
    assert wander_of(np.full((frames, 1), 0.5, np.float32)) == (0.0, 0.0, 0.0)
