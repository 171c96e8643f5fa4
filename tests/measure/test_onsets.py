"""Onsets: planted ones are found to a fraction of a millisecond, at any level, in any blocks."""

from __future__ import annotations

import numpy as np
import pytest

from audit.demo.band import PLAYERS, perform
from audit.demo.score import Composition, Section
from audit.facts import Role
from audit.measure import onsets as onsets_module
from audit.measure.onsets import OnsetMeter, merged
from tests.measure.feeding import BLOCK_SIZES, fed, measure_onsets

RATE_HZ = 48_000
AT_S = 0.4 + 0.2501 * np.arange(24) + 0.0003 * np.arange(24) ** 2


def ticks(
    at_s: np.ndarray = AT_S, rate_hz: int = RATE_HZ, *, freq_hz: float = 1000.0, peak: float = 0.5
) -> np.ndarray:
    """Tone bursts that begin at once and decay; mono."""
    wave = np.zeros(round((at_s[-1] + 0.5) * rate_hz))
    for at in at_s:
        first = int(np.ceil(at * rate_hz))
        since_s = np.arange(first, min(len(wave), first + round(0.15 * rate_hz))) / rate_hz - at
        wave[first : first + len(since_s)] += (
            peak * np.sin(2 * np.pi * freq_hz * since_s) * np.exp(-70 * since_s)
        )
    return wave[:, None].astype(np.float32)


def errors_ms(found_s: np.ndarray, true_s: np.ndarray) -> np.ndarray:
    """Distance of every true onset from the nearest that was found; positive = found late."""
    index = np.clip(np.searchsorted(found_s, true_s), 1, len(found_s) - 1)
    before, after = found_s[index - 1] - true_s, found_s[index] - true_s
    return 1000.0 * np.where(np.abs(before) < np.abs(after), before, after)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("freq_hz", [200.0, 1000.0, 4000.0])
def test_planted_ticks_are_found_where_they_begin(rate_hz: int, freq_hz: float):
    found = np.array(measure_onsets(ticks(rate_hz=rate_hz, freq_hz=freq_hz), rate_hz).times_s)
    assert len(found) == len(AT_S)
    assert np.abs(errors_ms(found, AT_S)).max() < 1.1
    assert np.ptp(errors_ms(found, AT_S)) < 1.5  # what is the same for all cancels between stems


@pytest.mark.parametrize("level_db", [-60.0, -30.0, 0.0])
def test_the_level_does_not_matter(level_db: float):
    """A factor on the waveform moves no onset, and weakens it only as far as the floor of −140 dBFS bites."""
    plain = measure_onsets(ticks(), RATE_HZ)
    quiet = measure_onsets(ticks() * np.float32(10 ** (level_db / 20)), RATE_HZ)
    np.testing.assert_allclose(quiet.times_s, plain.times_s, atol=3e-4)
    np.testing.assert_allclose(quiet.strengths_db, plain.strengths_db, atol=13.0)


@pytest.mark.parametrize("size", [*BLOCK_SIZES, 1, 47])
def test_any_block_size_gives_the_same(size: int):
    wave = np.concatenate([ticks(), 0.4 * np.roll(ticks(freq_hz=300.0), 5000)], axis=1)[
        : 48_000 if size == 1 else None
    ]
    whole, pieces = measure_onsets(wave, RATE_HZ), fed(OnsetMeter(RATE_HZ, 2), wave, size).result()
    assert whole == pieces


@pytest.mark.parametrize("frames", [1, 13, 24, 47, 480])
def test_a_shift_in_samples_shifts_the_onsets(frames: int):
    moved = np.concatenate([np.zeros((frames, 1), dtype=np.float32), ticks()])
    found, plain = measure_onsets(moved, RATE_HZ), measure_onsets(ticks(), RATE_HZ)
    # Single onsets move by hops of a millisecond and parts of one; over many the shift comes out.
    shift_ms = 1000.0 * np.mean(np.array(found.times_s) - np.array(plain.times_s))
    assert shift_ms == pytest.approx(frames / 48.0, abs=0.35)


def test_a_long_rest_leaves_nothing_behind():
    """What begins after half a minute of silence begins as at the start of the file."""
    rest = np.zeros((30 * RATE_HZ, 1), dtype=np.float32)
    twice = measure_onsets(np.concatenate([rest, ticks(), rest, ticks()]), RATE_HZ)
    after = measure_onsets(np.concatenate([rest, ticks()]), RATE_HZ)
    second_s = np.array(twice.times_s)[len(after.times_s) :] - (len(ticks()) + len(rest)) / RATE_HZ
    np.testing.assert_allclose(second_s, after.times_s, atol=1e-9)
    np.testing.assert_allclose(twice.strengths_db[len(after.times_s) :], after.strengths_db, atol=1e-4)


def test_silence_has_none():
    assert len(measure_onsets(np.zeros((RATE_HZ, 2), dtype=np.float32), RATE_HZ).times_s) == 0


@pytest.mark.parametrize("freq_hz", [27.5, 41.2, 110.0, 1000.0])
def test_a_held_tone_begins_once(freq_hz: float):
    """Down to the lowest note of a piano, also as a sawtooth, whose pulses come every 36 ms."""
    phase = freq_hz * np.arange(4 * RATE_HZ) / RATE_HZ
    for wave in (np.sin(2 * np.pi * phase), 2.0 * (phase % 1.0) - 1.0):
        found = measure_onsets((0.3 * wave[:, None]).astype(np.float32), RATE_HZ)
        later = [db for at, db in zip(found.times_s, found.strengths_db, strict=True) if at > 0.1]
        assert max(later, default=0.0) < 30.0  # a real onset has 60 dB and more


def test_steady_noise_has_no_strong_onsets():
    noise = 0.1 * np.random.default_rng(3).standard_normal((10 * RATE_HZ, 1)).astype(np.float32)
    found = measure_onsets(noise, RATE_HZ)
    later = [strength for at, strength in zip(found.times_s, found.strengths_db, strict=True) if at > 0.1]
    assert max(later, default=0.0) < 20.0
    assert min(measure_onsets(ticks(), RATE_HZ).strengths_db) > 60.0


@pytest.mark.parametrize("spoilt", ["noise", "reverb"])
def test_noise_and_reverb_move_onsets_little(spoilt: str):
    from scipy.signal import fftconvolve

    random = np.random.default_rng(5)
    wave = ticks()[:, 0].astype(np.float64)
    if spoilt == "noise":
        wave = wave + 0.005 * random.standard_normal(len(wave))
    else:
        room = random.standard_normal(RATE_HZ // 2) * np.exp(-np.arange(RATE_HZ // 2) / (0.12 * RATE_HZ))
        room[0] = 20.0
        wave = fftconvolve(wave, room / 20.0)[: len(wave)]
    found = measure_onsets(wave[:, None].astype(np.float32), RATE_HZ)
    strong = np.array([at for at, db in zip(found.times_s, found.strengths_db, strict=True) if db > 25.0])
    assert np.abs(errors_ms(strong, AT_S)).max() < 3.0


def test_each_channel_and_all_together():
    left, right = ticks(AT_S[::2]), ticks(AT_S[1::2])
    length = max(len(left), len(right))
    wave = np.concatenate([np.pad(side, ((0, length - len(side)), (0, 0))) for side in (left, right)], axis=1)
    meter = fed(OnsetMeter(RATE_HZ, 2), wave)
    for channels, true_s in (((0,), AT_S[::2]), ((1,), AT_S[1::2]), ((0, 1), AT_S)):
        found = np.array(meter.result(channels).times_s)
        assert len(found) == len(true_s)
        assert np.abs(errors_ms(found, true_s)).max() < 1.0


def test_opposed_sides_do_not_cancel():
    wave = np.concatenate([ticks(), -ticks()], axis=1)
    assert len(measure_onsets(wave, RATE_HZ).times_s) == len(AT_S)


def test_bands_within_20_ms_are_one():
    times, strengths = merged(np.array([1.015, 1.0, 1.03]), np.array([30.0, 25.0, 40.0], dtype=np.float32))
    assert times.tolist() == [1.0, 1.03]
    assert strengths.tolist() == [55.0, 40.0]


def test_a_weak_forerunner_does_not_time_an_onset():
    times, _ = merged(np.array([1.0, 1.012]), np.array([12.0, 40.0], dtype=np.float32))
    assert times.tolist() == [1.012]


def test_memory_is_bounded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(onsets_module, "MOST_ONSETS", 5)
    assert len(measure_onsets(ticks(), RATE_HZ).times_s) == len(AT_S)  # one block, kept whole
    assert len(fed(OnsetMeter(RATE_HZ, 1), ticks(), 4800).result().times_s) < 10


SONG = Composition(
    title="Cellar Door Ferry", key="A minor", bpm=104,
    sections=(Section(name="verse", bars=6, chords=("Am", "F", "C", "G"), energy=0.8),), seed=77,
)  # fmt: skip


@pytest.mark.parametrize("role", [Role.DRUMS, Role.BASS, Role.GUITAR, Role.PIANO])
def test_beside_librosa(role: Role):
    """librosa 0.10+ (onset_detect, hop 128 = 2.7 ms) on the demo's instruments, against the written notes.

    Ours finds at least as many within 30 ms, and lies nearer: librosa's spectral flux reads 5 to 15 ms off
    the start of a sound, by its 2048-sample frames.
    """
    librosa = pytest.importorskip("librosa")
    take = perform(SONG, PLAYERS[role], RATE_HZ)
    true_s = np.array(take.onsets) / RATE_HZ
    true_s = true_s[np.append(True, np.diff(true_s) > 0.04)]
    ours = np.array(measure_onsets(take.samples, RATE_HZ).times_s)
    mono = take.samples.mean(axis=1)
    frames = librosa.onset.onset_detect(y=mono, sr=RATE_HZ, hop_length=128, units="time")
    our_errors, their_errors = errors_ms(ours, true_s), errors_ms(np.array(frames), true_s)
    ours_met, theirs_met = np.abs(our_errors) < 30.0, np.abs(their_errors) < 30.0
    assert ours_met.mean() >= theirs_met.mean() - 0.02
    assert ours_met.mean() > 0.95
    assert abs(np.median(our_errors[ours_met])) < 3.0
    both = ours_met & theirs_met
    assert np.median(np.abs(our_errors[both] - their_errors[both])) < 20.0
