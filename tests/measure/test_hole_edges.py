"""Holes whose edges say too little by their level: a jolt tells a cut; and holes soon after a stroke."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.linalg
import scipy.signal

from audit.measure import dropouts, dropouts_kernel
from tests import signals
from tests.measure.test_damage import RATE_HZ, damage
from tests.waves import Samples


@pytest.mark.parametrize(("fade_ms", "cut"), [(0, True), (0.3, True), (0.75, True), (1, False), (3, False)])
@pytest.mark.parametrize("partials", [1, 5, 20])
def test_what_ends_within_a_millisecond_ends_with_a_jolt(fade_ms: float, cut: bool, partials: int):
    """The edge of a low wave says more than its level, wherever in the wave it lies."""
    fade = round(48 * fade_ms)
    left = []
    for number in range(60):
        phase = 2.0 * np.pi * (41.2 * 2 ** (number / 20) * np.arange(1920) / RATE_HZ + number / 7)
        wave = sum(0.3 / k**2 * np.sin(k * phase) for k in range(1, partials + 1))
        wave[1920 - fade :] *= np.linspace(1.0, 0.0, fade)
        coded = signals.quantise(wave[:, None].astype(np.float32), 24)[:, 0]
        left.append(dropouts_kernel.jolt(coded.astype(np.float64), 0.0, 36, 960))
    jolts = np.mean(np.array(left) >= dropouts.JOLT)
    assert jolts >= 0.98 if cut else jolts <= 0.05


def low_saws() -> Samples:
    """Four seconds of saws that beat, below 900 Hz."""
    since_s = np.arange(4 * RATE_HZ) / RATE_HZ
    saws = sum(
        scipy.signal.sawtooth(2 * np.pi * hz * since_s + i) for i, hz in enumerate((55.0, 55.4, 110.3))
    )
    low = scipy.signal.sosfilt(scipy.signal.butter(2, 900, fs=RATE_HZ, output="sos"), saws)
    return signals.quantise(0.1 * low[:, None].astype(np.float32), 24)


def test_a_jolt_tells_holes_whose_level_says_too_little(monkeypatch):
    wave = low_saws()
    places = range(60_000, 61_200, 60)
    holes = [signals.dropout(wave, at, 960)[0] for at in places]
    assert sum(damage(one).hole_count for one in holes) == len(places)
    monkeypatch.setattr(dropouts, "JOLT", math.inf)
    assert sum(damage(one).hole_count for one in holes) < len(places)


def test_jolts_tell_no_more_of_sounds_that_are_not_alike(monkeypatch):
    """Saws and another tone 20 ms later, as two words are."""
    pieces = []
    for at in range(60_000, 61_200, 60):
        wave = low_saws()[:, 0]
        wave[at : at + 960] = 0.0
        wave[at + 960 :] = 0.05 * np.sin(2 * np.pi * 700 * np.arange(len(wave) - at - 960) / RATE_HZ)
        pieces.append(wave)
    told = [holes_of(wave) for wave in pieces]
    monkeypatch.setattr(dropouts, "JOLTED", dropouts.KEPT)
    assert sum(holes_of(wave) for wave in pieces) > sum(told)
    monkeypatch.setattr(dropouts, "JOLT", math.inf)
    assert [holes_of(wave) for wave in pieces] == told


@pytest.mark.parametrize(("past_zero", "is_told"), [(48, False), (54, True), (66, True)])
def test_a_low_wave_that_is_near_zero_where_it_is_cut(past_zero: int, is_told: bool, monkeypatch):
    """Its last millisecond reaches 0.017, 0.024, 0.042 of its top: a rest could end so, but for the jolt."""
    since_s = np.arange(2 * RATE_HZ) / RATE_HZ
    wave = signals.quantise((0.2 * np.sin(2 * np.pi * 41.2 * since_s) ** 3)[:, None].astype(np.float32), 24)
    crossing = 60_000 + int(np.flatnonzero(np.diff(np.sign(wave[60_000:62_000, 0])))[0])
    holed = signals.dropout(wave, crossing + past_zero, 960)[0]
    assert damage(holed).hole_count == is_told
    monkeypatch.setattr(dropouts, "JOLT", math.inf)
    assert damage(holed).hole_count == 0


def stroke(at: int, falls_by: float = 14.0, seed: int = 3) -> np.ndarray:
    """Noise that begins at once and dies away, by 2.4 dB in 20 ms."""
    since_s = (np.arange(2 * RATE_HZ) - at) / RATE_HZ
    noise = np.random.default_rng(seed).standard_normal(2 * RATE_HZ)
    return np.where(since_s >= 0.0, 0.2 * np.exp(-falls_by * np.maximum(since_s, 0.0)), 0.0) * noise


def holes_of(wave: np.ndarray) -> int:
    return damage(wave[:, None].astype(np.float32)).hole_count


@pytest.mark.parametrize("gap", [192, 288, 432])
@pytest.mark.parametrize("again", [1.0, 0.7, 0.5])
@pytest.mark.parametrize("same", [True, False])
def test_a_flam_whose_first_stroke_is_choked_is_none(gap: int, again: float, same: bool):
    """14 ms of a stroke, silence to the last bit, and it is struck once more: a choke group does so."""
    wave, first = stroke(60_000), 60_000
    cut = first + round(0.014 * RATE_HZ)
    second = (
        stroke(60_000) if same else np.roll(stroke(60_000), 0)[::1] * np.sign(np.cos(np.arange(len(wave))))
    )
    wave[cut:] = 0.0
    wave[cut + gap :] = again * second[first : first + len(wave) - cut - gap]
    assert holes_of(wave) == 0


def released(partials: int, number: int) -> np.ndarray:
    """Two notes with 10 ms between them; the first dies away by 30 dB in its last 20 ms and is cut there."""
    since_s = np.arange(RATE_HZ) / RATE_HZ
    notes = [
        sum(0.2 / k**1.5 * np.sin(k * (2 * np.pi * hz * since_s + number)) for k in range(1, partials + 1))
        for hz in (164.8, 164.8 * 2 ** (number / 12))
    ]
    notes[0][-960:] *= 10 ** (-1.5 * np.arange(1, 961) / 960)
    return np.concatenate((np.zeros(20_000), notes[0], np.zeros(480), notes[1], np.zeros(20_000)))


@pytest.mark.parametrize("partials", [1, 6])
def test_a_release_that_is_cut_off_is_no_cut(partials: int, monkeypatch):
    """It falls by 14 dB in its last 15 ms; jolts it leaves as well."""
    notes = [released(partials, number) for number in range(12)]
    assert sum(holes_of(one) for one in notes) == 0
    monkeypatch.setattr(dropouts, "FALL_DB", math.inf)
    assert sum(holes_of(one) for one in notes) >= 2


def test_a_jolt_is_what_scipy_leaves_of_the_edge():
    before = low_saws()[60_000:61_920, 0].astype(np.float64)
    shaped = before[:-36] * np.sin(np.pi * (np.arange(1884) + 0.5) / 1884) ** 2
    lags = np.correlate(shaped, shaped, "full")[1883 : 1883 + 25]
    lags[0] *= 1.0 + 1e-9
    model = np.concatenate(([1.0], -scipy.linalg.solve_toeplitz(lags[:-1], lags[1:])))
    left = np.abs(scipy.signal.lfilter(model, 1.0, np.concatenate((before, np.zeros(24)))))
    expected = left[-60:].max() / left[-60 - 960 : -60].max()
    assert dropouts_kernel.jolt(before, 0.0, 36, 960) == pytest.approx(expected, rel=0.01)
    highest = np.abs(before).max()
    assert dropouts_kernel.last_of(before, 0.0, 48, 1e-3) == np.abs(before[-48:]).max() / highest
    assert dropouts_kernel.last_of(before, 0.0, 48, 1.01 * highest) == 0.0


def struck_twice(release_ms: float, seed: int) -> np.ndarray:
    """A tom that is choked in a straight line after 60 ms, 43 ms of silence, and another stroke."""
    rng = np.random.default_rng(seed)
    since_s = np.arange(RATE_HZ // 2) / RATE_HZ
    tones = [
        0.2 / k * np.sin(2 * np.pi * hz * since_s + rng.uniform(0, 2 * np.pi))
        for k, hz in enumerate(rng.uniform(90.0, 900.0, 6), start=1)
    ]
    tom = sum(tones) * np.exp(-12.0 * since_s)
    release, cut, gap = round(release_ms * RATE_HZ / 1000), 2880, 2064
    choked = tom[:cut].copy()
    choked[cut - release :] *= np.linspace(1.0, 0.0, release, endpoint=False)
    return np.concatenate((np.zeros(20_000), choked, np.zeros(gap), tom, np.zeros(20_000)))


@pytest.mark.parametrize(("release_ms", "told"), [(0.2, 1.0), (7.0, 0.0)])
def test_a_drum_that_a_sampler_chokes_in_a_rest_of_quick_music(release_ms: float, told: float, monkeypatch):
    """What was known 6 ms before says that the end is lower than it should be; the last 2 ms alone do not."""
    pieces = [struck_twice(release_ms, seed) for seed in range(24)]
    assert sum(holes_of(one) for one in pieces) / len(pieces) == pytest.approx(told, abs=0.1)
    monkeypatch.setattr(dropouts, "RELEASED", 0.0)
    assert sum(holes_of(one) for one in pieces) >= 8


def damped(seed: int, *, to: float, since_ms: float, over_ms: float) -> np.ndarray:
    """A chord that is damped to a part of its level, stays there, is silent for 43 ms, and sounds on."""
    rng = np.random.default_rng(seed)
    since_s, at = np.arange(4 * RATE_HZ) / RATE_HZ, 2 * RATE_HZ
    chord = sum(
        0.1 / k * np.sin(2 * np.pi * hz * since_s + rng.uniform(0, 2 * np.pi))
        for k, hz in enumerate(rng.uniform(300.0, 3000.0, 5), start=1)
    )
    gain, since, over = np.ones(len(since_s)), round(48 * since_ms), round(48 * over_ms)
    gain[at - since : at] = to
    gain[at - since : at - since + over] = np.linspace(1.0, to, over)
    gain[at : at + 2064] = 0.0
    return signals.quantise((gain * chord)[:, None].astype(np.float32), 24)[:, 0]


@pytest.mark.parametrize(
    ("to", "since_ms", "over_ms", "is_cut"),
    [
        (0.26, 6.0, 3.0, False),
        (0.37, 6.0, 3.0, True),  # more than a third of a chord is left: it was no release
        (0.25, 8.0, 0.3, False),
        (0.25, 10.0, 0.3, True),  # so long before the silence it is the sound's own doing
    ],
)
def test_what_is_damped_before_a_rest_and_what_is_cut(
    to: float, since_ms: float, over_ms: float, is_cut: bool
):
    """Most of eight chords; where partials happen to meet at the edge, little is known of it."""
    told = sum(holes_of(damped(seed, to=to, since_ms=since_ms, over_ms=over_ms)) for seed in range(8))
    assert told >= 5 if is_cut else told == 0


def two_notes(release_s: float, louder_db: float) -> Samples:
    """A bass note that a synth lets go, 6.7 ms of nothing, and the next one, struck."""
    since_s = np.arange(4 * RATE_HZ) / RATE_HZ
    wave = sum(0.3 / k * np.sin(2 * np.pi * 49.0 * k * since_s + k) for k in range(1, 13))
    at, gap, frames = 2 * RATE_HZ, 322, round(release_s * RATE_HZ)
    wave[:at] *= 10 ** (-louder_db / 20)
    wave[at - frames : at] *= np.linspace(1.0, 0.3, frames)
    wave[at : at + gap] = 0.0
    return signals.quantise(0.3 * wave[:, None].astype(np.float32), 24)


@pytest.mark.parametrize(
    ("release_s", "louder_db", "holes"),
    [
        (0.03, 10.0, 0),
        (0.03, 0.0, 1),
        (0.0, 16.0, 1),
        (0.0, 0.0, 1),
        (0.009, 10.0, 1),  # so quick an end falls by 4.3 dB in the last 15 ms over those before,
        (0.012, 10.0, 0),  # this one by 5.5
        (0.02, 6.5, 1),  # the next note is 11.7 dB louder than what is left of the first,
        (0.02, 7.0, 0),  # here 12.2
    ],
)
def test_a_note_let_go_and_another_struck_leave_no_hole(release_s: float, louder_db: float, holes: int):
    assert damage(two_notes(release_s, louder_db)).hole_count == holes


def faded_chords(gap_ms: float, number: int) -> np.ndarray:
    """A pad's chord that fades out over 100 ms, silence to the last bit, one that fades in over 200 ms."""
    random, chords = np.random.default_rng(number), []
    for chord in ((164.8, 196.0, 246.9), (220.0, 261.6, 329.6)):
        since_s = np.arange(int((2.0 + random.uniform(-0.05, 0.05)) * RATE_HZ)) / RATE_HZ
        tones = sum(
            0.08 * np.sin(2 * np.pi * hz * since_s) + 0.03 * np.sin(4 * np.pi * hz * since_s) for hz in chord
        )
        chords.append(np.minimum(1.0, np.minimum(since_s / 0.2, since_s[::-1] / 0.1)) * tones)
    wave = np.concatenate((chords[0], np.zeros(round(gap_ms * RATE_HZ / 1000)), chords[1]))
    return signals.quantise(wave[:, None].astype(np.float32), 24)[:, 0]


@pytest.mark.parametrize("gap_ms", [7.2, 17.6])
def test_a_pad_that_fades_out_and_in_has_rests(gap_ms: float, monkeypatch):
    """Each of these ends so low in the wave that what it keeps there passes for a cut."""
    pads = [faded_chords(gap_ms, number) for number in (38, 68, 90, 169)]
    assert [holes_of(one) for one in pads] == [0, 0, 0, 0]
    monkeypatch.setattr(dropouts, "FADES_DB", math.inf)
    assert [holes_of(one) for one in pads] == [1, 1, 1, 1]


def test_a_hole_in_a_fade_is_one():
    """Towards it the sound falls on one side alone."""
    pads = [faded_chords(0.0, number) for number in range(12)]
    for one in pads:
        one[len(one) // 2 - 2000 :][:480] = 0.0
    assert sum(holes_of(one) for one in pads) >= 10


def few_bits(seed: int) -> Samples:
    """An old sample of few levels, played at a sixth of its rate: one level lasts for 3 ms."""
    rng = np.random.default_rng(seed)
    steps = np.cumsum(rng.integers(-2, 3, 6000)).astype(np.float64)
    levels = np.round(steps - scipy.signal.lfilter([0.02], [1.0, -0.98], steps))
    levels[3000:3024] = levels[3000]
    slow = scipy.signal.resample_poly(levels, 6, 1, window=("kaiser", 9.0))
    return signals.quantise((0.006 / np.abs(slow).max() * slow)[:, None].astype(np.float32), 24)


@pytest.mark.parametrize("seed", [2, 4])
def test_a_wave_that_comes_to_rest_on_a_value_is_a_slow_sample(seed: int, monkeypatch):
    """Corners that interpolation has rounded; the same value held at a slope is a dropout."""
    wave = few_bits(seed)
    assert damage(wave, bits=24).hole_count == 0
    stuck = wave.copy()
    stuck[20_000:20_110] = stuck[20_000]
    assert damage(stuck, bits=24).hole_count == 1
    monkeypatch.setattr(dropouts, "SETTLED", 0.0)
    assert damage(wave, bits=24).hole_count == 1
