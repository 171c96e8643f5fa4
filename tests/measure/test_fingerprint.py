"""The fingerprint: blind to level, format and polarity, moved with the sound, unlike for other music."""

from __future__ import annotations

import numpy as np
import pytest

from audit.measure.chroma import ChromaMeter
from audit.measure.fingerprint import (
    BANDS,
    HIGH_HZ,
    LOW_HZ,
    FingerprintMeter,
    band_starts,
    matches,
    spectra_differ_db,
)
from audit.results import Fingerprint

RATE = 48_000


def taken(samples: np.ndarray, *, block: int = 65_536, rate: int = RATE) -> Fingerprint:
    prints: list[FingerprintMeter] = []
    chroma = ChromaMeter(rate, samples.shape[1], also=lambda channel, power: prints[0].add(channel, power))
    prints.append(FingerprintMeter(samples.shape[1], chroma.bin_hz))
    for at in range(0, len(samples), block):
        chroma.add(np.asarray(samples[at : at + block], dtype=np.float32))
    return prints[0].result(None, chroma.hop_s)


def tune(seed: int, seconds: float = 20.0, channels: int = 1, rate: int = RATE) -> np.ndarray:
    """Plucked notes at random times and pitches."""
    random = np.random.default_rng(seed)
    wave = np.zeros(round(seconds * rate))
    for at in np.sort(random.uniform(0.0, seconds - 1.0, round(3 * seconds))):
        time_s = np.arange(round(0.6 * rate)) / rate
        hz = 110.0 * 2 ** (random.integers(0, 30) / 12)
        note = np.exp(-6.0 * time_s) * sum(np.sin(2 * np.pi * hz * k * time_s) / k for k in (1, 2, 3, 4))
        first = round(at * rate)
        wave[first : first + len(note)] += 0.1 * note
    return np.repeat(wave[:, None], channels, axis=1)


@pytest.fixture(scope="module")
def music() -> np.ndarray:
    return tune(1)


@pytest.fixture(scope="module")
def own(music) -> Fingerprint:
    return taken(music)


@pytest.mark.parametrize(
    "change",
    [
        lambda wave: 0.1 * wave,
        lambda wave: -wave,
        lambda wave: np.round(wave * 32767) / 32768,
        lambda wave: np.repeat(wave, 2, axis=1),
    ],
    ids=["-20 dB", "upside down", "16 bit", "on two channels"],
)
def test_level_polarity_format_and_sides_do_not_enter(music, own, change):
    other = taken(change(music))
    words = [np.frombuffer(one.words, dtype=np.uint32) for one in (own, other)]
    assert np.mean([bin(int(a ^ b)).count("1") for a, b in zip(*words, strict=True)]) < 0.3
    assert spectra_differ_db(own, other) < 0.01


@pytest.mark.parametrize("shift_s", [0.0, 0.01, 0.05, 1.0, 1.05, 3.33])
def test_a_shift_is_found_to_a_hop(music, own, shift_s):
    late = np.concatenate([np.zeros((round(shift_s * RATE), 1)), music])[: len(music)]
    best = matches(own, taken(late))[0]
    assert best.lag_s == pytest.approx(shift_s, abs=0.1)
    assert best.likeness > 0.6
    assert matches(taken(late), own)[0].lag_s == pytest.approx(-shift_s, abs=0.1)


def test_other_music_is_unlike(own):
    likeness = [matches(own, taken(tune(seed)))[0].likeness for seed in (2, 3, 4)]
    assert max(likeness) < 0.3


def test_a_loop_is_like_itself_later():
    bars = tune(5, seconds=4.0)
    loop = np.concatenate([bars] * 5)
    later = matches(taken(loop), taken(loop), from_s=1.0)[0]
    assert later.lag_s == pytest.approx(4.0, abs=0.11)
    assert later.likeness > 0.6
    assert matches(taken(tune(6)), taken(tune(6)), from_s=1.0)[0].likeness < 0.3


def test_any_block_size_gives_the_same(music):
    """But for what numpy rounds otherwise in spectra of several rows at once: the last bit of a level."""
    whole = taken(music[: 5 * RATE])
    for block in (1_000, 48_000):
        other = taken(music[: 5 * RATE], block=block)
        assert np.allclose(whole.spectrum_db, other.spectrum_db, atol=1e-4)
        unlike = [bin(a ^ b).count("1") for a, b in zip(whole.words, other.words, strict=True)]
        assert sum(unlike) <= 3


def test_the_spectrum_says_where_the_sound_is():
    """A sine's band by its frequency; Parseval leaves the shares at 1 together."""
    starts = band_starts(8000.0 / 2048)
    edges = LOW_HZ * (HIGH_HZ / LOW_HZ) ** (np.arange(BANDS + 1) / BANDS)
    for hz in (65.0, 440.0, 2000.0):
        time_s = np.arange(5 * RATE) / RATE
        print_of = taken(0.3 * np.sin(2 * np.pi * hz * time_s)[:, None])
        loudest = int(np.argmax(print_of.spectrum_db))
        assert edges[loudest] * 0.93 <= hz <= edges[loudest + 1] * 1.07
        assert sum(10 ** (db / 10) for db in print_of.spectrum_db) == pytest.approx(1.0, abs=0.01)
    assert (np.diff(starts) >= 0).all()


def test_a_note_sets_the_bits_of_its_bands_when_it_begins():
    """Layout: bit b of word k is set where band b rises into hop k."""
    time_s = np.arange(RATE) / RATE
    wave = np.concatenate([np.zeros(2 * RATE), 0.3 * np.sin(2 * np.pi * 440.0 * time_s), np.zeros(RATE)])
    found = taken(wave[:, None])
    words = np.frombuffer(found.words, dtype=np.uint32)
    rising = np.flatnonzero(words)
    assert 19 <= rising.min() <= 21
    assert rising.max() <= 23 or rising.max() >= 29  # and perhaps the edge at its end
    loudest = int(np.argmax(found.spectrum_db))
    assert any(int(words[hop]) >> loudest & 1 for hop in rising[:3])


def test_silence_has_none():
    nothing = taken(np.zeros((RATE * 3, 2)))
    assert nothing.spectrum_db == ()
    assert not any(nothing.words)
    assert matches(nothing, nothing) == ()
    assert spectra_differ_db(nothing, nothing) == float("inf")
    assert taken(np.zeros((10, 1))).words.tolist() == []


@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_every_rate_gives_nearly_the_same(rate):
    one, other = taken(tune(7, rate=rate), rate=rate), taken(tune(7))
    assert spectra_differ_db(one, other) < 0.5
    assert matches(one, other)[0].likeness > 0.6


def test_two_sides_are_one_sound(music):
    """The energies of both sides count, whatever their phase."""
    both = np.concatenate([music, -music], axis=1)
    assert spectra_differ_db(taken(both), taken(music)) < 0.01
