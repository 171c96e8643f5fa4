"""PartsFitMeter: a mix of the parts is explained by them, another song is not."""

from __future__ import annotations

import numpy as np
import pytest

from audit.errors import BadSamplesError
from audit.measure.partsfit import PartsFitMeter
from tests import signals
from tests.measure.feeding import BLOCK_SIZES

PARTS = {
    "drums": signals.drums(10.0)[0][:, 0],
    "bass": signals.staccato_bass(10.0)[0][:, 0],
    "voice": signals.speech(10.0)[0][:, 0],
    "arp": signals.arp(10.0)[0][:, 0],
}
NAMES = tuple(PARTS)
GAINS = {"drums": 0.9, "bass": 0.5, "voice": 0.7, "arp": 0.3}


def mixed(**gains: float) -> np.ndarray:
    return sum(
        (PARTS[name] * np.float32(gain) for name, gain in gains.items()), np.zeros(480_000, np.float32)
    )


def meter(mix: np.ndarray, size: int = 65_536, **more: np.ndarray) -> PartsFitMeter:
    stems = {**PARTS, **more, "mix": mix}
    fit = PartsFitMeter(tuple(stems))
    for begin in range(0, len(mix), size):
        for name, wave in stems.items():
            fit.hear(name, wave[begin : begin + size, None])
        fit.step()
    return fit


def test_a_sum_at_other_gains_is_explained():
    assert meter(mixed(**GAINS)).explained("mix", NAMES) > 0.9999


def test_sixteen_bits_and_a_little_noise_leave_it_explained():
    noisy = signals.quantise(mixed(**GAINS)[:, None], 16)[:, 0] + signals.noise(10.0, rms=0.003)[0][:, 0]
    assert meter(noisy).explained("mix", NAMES) > 0.98


def test_a_mastered_mix_is_mostly_explained():
    from scipy.signal import lfilter

    mix = mixed(**GAINS).astype(np.float64) * 2.5
    bright = lfilter([1.2, -0.35], [1.0, 0.1], mix)  # a tilt of about 6 dB to the treble
    driven = np.tanh(bright)  # and a bus limiter that bites
    assert 0.6 < meter(driven.astype(np.float32)).explained("mix", NAMES) < 0.99


@pytest.mark.parametrize(
    "stranger",
    [
        signals.music_bed(10.0, bpm=97.0, seed=77)[0].mean(axis=1),
        signals.noise(10.0)[0][:, 0],
        signals.sines((261.0, 311.0, 392.0), 10.0)[0][:, 0],
    ],
    ids=["another song", "noise", "a pad"],
)
def test_a_stranger_is_not_explained(stranger):
    assert meter(stranger).explained("mix", NAMES) < 0.1


def test_a_missing_part_is_missed():
    fit = meter(mixed(**GAINS))
    whole, without = fit.explained("mix", NAMES), fit.explained("mix", ("bass", "voice", "arp"))
    drums = PARTS["drums"] * 0.9
    share = float((drums.astype(np.float64) ** 2).sum() / (mixed(**GAINS).astype(np.float64) ** 2).sum())
    assert whole - without == pytest.approx(share, abs=0.1)


def test_gains_are_never_negative():
    fit = meter(mixed(drums=1.0), reversed_drums=-PARTS["drums"])
    assert fit.explained("mix", ("reversed_drums",)) < 0.001
    assert fit.explained("mix", ("drums",)) > 0.9999


def test_a_duplicate_and_a_silent_stem_do_no_harm():
    fit = meter(mixed(**GAINS), twin=PARTS["drums"].copy(), silent=np.zeros(480_000, np.float32))
    assert fit.explained("mix", (*NAMES, "twin", "silent")) > 0.999
    assert fit.explained("mix", ("silent",)) == 0.0
    assert fit.explained("silent", NAMES) == 0.0
    assert fit.explained("mix", ()) == 0.0
    assert fit.explained("mix", ("mix",)) == 0.0


def test_the_gain_of_the_mix_does_not_matter():
    loud, soft = meter(mixed(**GAINS)), meter(mixed(**GAINS) * np.float32(0.01))
    names = ("drums", "bass")
    assert soft.explained("mix", names) == pytest.approx(loud.explained("mix", names), abs=1e-6)


@pytest.mark.parametrize("size", [997, *BLOCK_SIZES])
def test_the_block_size_changes_nothing(size):
    mix, names = mixed(**GAINS), ("drums", "bass")
    assert meter(mix, size).explained("mix", names) == pytest.approx(
        meter(mix).explained("mix", names), abs=1e-9
    )


def test_least_squares_over_the_samples_agrees():
    from scipy.optimize import nnls

    mix = np.tanh(3.0 * mixed(**GAINS)) + 0.1 * signals.noise(10.0)[0][:, 0]
    columns = np.stack([PARTS[name][::4] for name in NAMES], axis=1).astype(np.float64)
    aim = mix[::4].astype(np.float64)
    _, left = nnls(columns, aim)
    assert meter(mix).explained("mix", NAMES) == pytest.approx(1 - left**2 / (aim @ aim), abs=1e-6)


def test_what_is_refused():
    fit = PartsFitMeter(("a", "b"))
    with pytest.raises(BadSamplesError, match="announced: 'c'"):
        fit.hear("c", np.zeros((4, 1), np.float32))
    with pytest.raises(BadSamplesError, match="was heard"):
        fit.explained("a", ("c",))
    with pytest.raises(BadSamplesError, match="one name"):
        PartsFitMeter(("a", "a"))
