"""HardStartMeter: sounds that are cut into start with a step that nothing later has."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import sosfilt

from audit.measure.hard_start import LEAST_S, ORDER, HardStartMeter
from audit.results import HardStart
from tests.measure.feeding import BLOCK_SIZES

RATE_HZ = 48_000


def measured(wave: np.ndarray, size: int = 65_536, rate_hz: int = RATE_HZ) -> HardStart | None:
    samples = np.ascontiguousarray(np.atleast_2d(wave.T).T, dtype=np.float32)
    meter = HardStartMeter(rate_hz, samples.shape[1])
    for start in range(0, len(samples), size):
        meter.add(samples[start : start + size])
    return meter.result(tuple(range(samples.shape[1])))


def notes(seconds: float = 20.0, attack_s: float = 0.004, every_s: float = 0.5, seed: int = 1) -> np.ndarray:
    """Plucked notes in a low-pass, a second of silence before them."""
    rng = np.random.default_rng(seed)
    wave = np.zeros(round(seconds * RATE_HZ))
    t = np.arange(round(0.45 * RATE_HZ)) / RATE_HZ
    shape = np.minimum(1.0, t / attack_s) * np.exp(-4.0 * t) * np.minimum(1.0, (t[-1] - t) / 0.05)
    for number in range(int((seconds - 1.5) / every_s)):
        hz = 110.0 * 2.0 ** (rng.integers(0, 13) / 12.0)
        tone = sum(np.sin(2 * np.pi * hz * k * t + 0.7 * k) / k for k in range(1, 9))
        begin = round((1.0 + number * every_s) * RATE_HZ)
        wave[begin : begin + len(t)] += 0.3 * shape * tone
    return wave


def cut(wave: np.ndarray, at_s: float) -> np.ndarray:
    made = wave.copy()
    made[: round(at_s * RATE_HZ)] = 0.0
    return made


@pytest.mark.parametrize("cut_s", [1.02, 1.0391, 1.0533])
def test_a_note_that_is_cut_into(cut_s: float):
    found = measured(cut(notes(), cut_s))
    assert found is not None
    assert found.at_s == pytest.approx(cut_s, abs=1e-3)
    assert found.sharper > 5.0
    whole = notes()
    height = abs(whole[round(found.at_s * RATE_HZ)])
    assert found.step_dbfs == pytest.approx(20 * np.log10(height), abs=0.1)


def test_a_file_that_begins_inside_a_note():
    found = measured(notes()[round(1.04 * RATE_HZ) :])
    assert found is not None
    assert found.at_s == 0.0


def test_whole_notes_start_softly():
    assert measured(notes()) is None
    assert measured(notes(attack_s=0.001)) is None


def test_notes_that_all_start_with_a_step_are_the_instrument():
    """A gate, a free-running oscillator: the next notes are as sharp."""
    assert measured(notes(attack_s=1e-9)) is None


def test_snares_and_hats_are_sharp_all_along():
    rng = np.random.default_rng(2)
    wave = np.zeros(20 * RATE_HZ)
    for number in range(36):
        begin = round((1.0 + 0.5 * number) * RATE_HZ)
        wave[begin : begin + 4800] += 0.3 * rng.standard_normal(4800) * np.exp(-np.arange(4800) / 800)
    assert measured(wave) is None
    assert measured(cut(wave, 1.01)) is None


def test_a_lone_sample_is_no_beginning():
    """Some programs leave one at the start of what they write."""
    wave = notes()
    wave[0] = 0.9
    assert measured(wave) is None


def test_a_step_below_forty_db_under_full_scale_is_none():
    sine = np.sin(2 * np.pi * 110.0 * np.arange(10 * RATE_HZ) / RATE_HZ + np.pi / 2)
    assert measured(0.0101 * sine) is not None
    assert measured(0.0099 * sine) is None


def test_an_offset_that_stands_from_the_first_sample_is_no_sound():
    assert measured(notes() + 0.015) is None


@pytest.mark.parametrize(("accent", "told"), [(2.0, False), (4.0, False)])
def test_a_first_stroke_that_is_louder_is_sharper_by_as_much(accent: float, told: bool):
    rng = np.random.default_rng(4)
    wave = np.zeros(20 * RATE_HZ)
    t = np.arange(2400) / RATE_HZ
    for number in range(36):
        begin = round((1.0 + 0.5 * number) * RATE_HZ)
        stroke = np.cos(2 * np.pi * (180.0 + rng.uniform(-1, 1)) * t) * np.exp(-60 * t)
        wave[begin : begin + 2400] += 0.2 * (accent if number == 0 else 1.0) * stroke
    assert (measured(wave) is not None) is told


def test_a_step_over_hiss_is_as_high_as_the_step():
    """The first sample above −70 dBFS is the hiss's."""
    rng = np.random.default_rng(6)
    wave = cut(notes(), 1.0391)
    at = int(np.argmax(np.abs(wave) > 0.0))
    wave[at - 2 : at] = 0.0004
    found = measured(wave + 0.00001 * rng.standard_normal(len(wave)))
    assert found is not None
    height = abs(notes()[round(1.0391 * RATE_HZ)])
    assert found.step_dbfs == pytest.approx(20 * np.log10(height), abs=1.0)


def test_no_finding_is_a_million_times_sharper():
    sine = 0.5 * np.sin(2 * np.pi * 110.0 * np.arange(10 * RATE_HZ) / RATE_HZ + 1.0)
    found = measured(sine)
    assert found is not None
    assert found.sharper == 1000.0


def test_too_little_to_compare_with():
    frames = round(LEAST_S * RATE_HZ)
    sine = np.sin(2 * np.pi * 110.0 * np.arange(2 * frames) / RATE_HZ + 1.0)
    twenty = round(0.02 * RATE_HZ)
    assert measured(sine[: frames + twenty]) is not None
    assert measured(sine[: frames + twenty - 1]) is None


def test_only_forty_seconds_are_looked_at():
    sine = 0.5 * np.sin(2 * np.pi * 110.0 * np.arange(43 * RATE_HZ) / RATE_HZ + 1.0)
    late, early = sine.copy(), sine.copy()
    late[42 * RATE_HZ] += 0.9
    early[39 * RATE_HZ] += 0.9
    assert measured(late) is not None
    assert measured(early) is None


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_blocks_of_any_size(size: int):
    wave = cut(notes(8.0), 1.0391)[: 8 * RATE_HZ]
    assert measured(wave, size) == measured(wave)


def test_each_channel_by_itself():
    both = np.stack([notes(), cut(notes(), 1.0391)], axis=1)
    found = measured(both)
    assert found == measured(both[:, 1])
    meter = HardStartMeter(RATE_HZ, 2)
    meter.add(np.ascontiguousarray(both, dtype=np.float32))
    assert meter.result((0,)) is None


def test_the_sharpest_channel_counts():
    small = cut(notes(), 1.0391) + 0.02 * np.sin(2 * np.pi * 9000 * np.arange(20 * RATE_HZ) / RATE_HZ)
    small[: round(1.0391 * RATE_HZ)] = 0.0
    sharp, blunt = measured(cut(notes(), 1.0391)), measured(small)
    assert sharp is not None
    assert blunt is not None
    assert blunt.sharper < sharp.sharper
    assert measured(np.stack([small, cut(notes(), 1.0391)], axis=1)) == sharp


def test_silence_and_nothing():
    assert measured(np.zeros(10 * RATE_HZ)) is None
    assert HardStartMeter(RATE_HZ, 1).result((0,)) is None


def test_against_a_filter_of_its_coefficients():
    """Second implementation: the fifth difference as SciPy's cascade of five filters 1 − z⁻¹."""
    wave = cut(notes(), 1.0391).astype(np.float32).astype(np.float64)
    sharp = np.abs(sosfilt(np.tile([1.0, -1.0, 0.0, 1.0, 0.0, 0.0], (ORDER, 1)), wave))
    first = int(np.argmax(np.abs(wave) > 10 ** (-70 / 20)))
    expected = sharp[first : first + ORDER + 1].max() / sharp[first + round(0.002 * RATE_HZ) + ORDER :].max()
    found = measured(wave)
    assert found is not None
    assert found.sharper == pytest.approx(expected, rel=1e-6)
