"""CommonSourceMeter: one source in two stems is found with its lag, other takes and other notes are not."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, coherence, sosfilt

from audit.measure.common_source import LEAST_WINDOWS, CommonSourceMeter
from audit.results import CommonSource
from tests import signals
from tests.measure.feeding import BLOCK_SIZES

RATE_HZ = 48_000
SECONDS = 12.0
DRUMS = signals.drums(SECONDS)[0]
BASS = signals.staccato_bass(SECONDS)[0]
VOICE = signals.speech(SECONDS)[0]
ARP = signals.arp(SECONDS)[0]
SOURCES = {"drums": DRUMS, "bass": BASS, "voice": VOICE, "arp": ARP}


def late(samples: np.ndarray, frames: int, gain: float = 1.0) -> np.ndarray:
    moved = np.roll(samples, frames, axis=0) * np.float32(gain)
    moved[:frames] = 0.0
    return moved


def compare(*waves: np.ndarray, size: int = 65_536, rate_hz: int = RATE_HZ) -> tuple[CommonSource, ...]:
    stems = {f"stem {number}": wave for number, wave in enumerate(waves)}
    meter = CommonSourceMeter(tuple(stems), rate_hz)
    for begin in range(0, max(map(len, waves)), size):
        blocks = {name: wave[begin : begin + size] for name, wave in stems.items() if len(wave) > begin}
        for name, block in blocks.items():
            meter.hear(name, block)
        meter.step(max(map(len, blocks.values())))
    return meter.result()


@pytest.mark.parametrize("size", [777, 5000, 65_536, 262_144])
def test_neither_blocks_nor_stems_that_end_early_make_a_difference(size: int):
    """Stems end inside of a window, between two, and with the last."""
    rng = np.random.default_rng(3)
    wave = rng.uniform(-0.3, 0.3, (20 * RATE_HZ, 1)).astype(np.float32)
    waves = (wave, np.roll(wave, 24, axis=0)[: 12 * RATE_HZ + 1000], wave[: 15 * RATE_HZ + 30_000])
    assert compare(*waves, size=size) == compare(*waves, size=len(wave))
    assert len(compare(*waves)) == 3


@pytest.mark.parametrize("name", SOURCES)
@pytest.mark.parametrize(("frames", "gain"), [(5, 1.0), (24, 0.25), (96, -0.5), (240, 1.0), (480, 0.25)])
def test_a_copy_is_found_with_its_lag_level_and_sign(name: str, frames: int, gain: float):
    wave = SOURCES[name]
    (found,) = compare(wave, late(wave, frames, gain))
    assert found.lag_frames == pytest.approx(frames, abs=3.0)  # a bass tells it less sharply
    assert found.lag_ms == pytest.approx(1000 * found.lag_frames / RATE_HZ)
    assert found.likeness > 0.9
    assert found.coherence >= found.likeness - 0.01
    assert found.turned_deg == pytest.approx(180.0 if gain < 0 else 0.0, abs=20.0)
    assert found.level_db == pytest.approx(20 * np.log10(abs(gain)), abs=0.6)


def test_a_lag_between_frames():
    """A delay made by a linear phase, the definition of one."""
    spectrum = np.fft.rfft(DRUMS[:, 0])
    moved = np.fft.irfft(spectrum * np.exp(-2j * np.pi * np.fft.rfftfreq(len(DRUMS)) * 30.5), len(DRUMS))
    (found,) = compare(DRUMS, moved[:, None].astype(np.float32))
    assert found.lag_frames == pytest.approx(30.5, abs=0.15)


def test_upside_down_at_once():
    (found,) = compare(ARP, -ARP)
    assert found.turned_deg == pytest.approx(180.0, abs=1.0)
    assert found.lag_frames == pytest.approx(0.0, abs=0.1)


def test_the_order_of_the_stems_turns_the_sign():
    (found,) = compare(late(ARP, 96, 0.5), ARP)
    assert found.lag_frames == pytest.approx(-96, abs=1.0)
    assert found.level_db == pytest.approx(6.0, abs=0.5)


def test_other_sources_have_nothing_in_common():
    assert compare(*SOURCES.values()) == ()


def test_only_the_pair_is_named():
    (found,) = compare(DRUMS, BASS, late(BASS, 96), VOICE)
    assert (found.first, found.second) == ("stem 1", "stem 2")


def notes(seed: int, steps: list[int], seconds: float = 0.24) -> np.ndarray:
    """A part by an instrument whose partials start anywhere at every note: one take."""
    random = np.random.default_rng(seed)
    times = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    played = []
    for step in steps:
        hz = 110.0 * 2 ** (step / 12)
        phases = random.uniform(0, 2 * np.pi, 20)
        tones = [np.sin(2 * np.pi * hz * n * times + phases[n - 1]) / n for n in range(1, 21)]
        played.append(np.sum(tones, axis=0) * np.exp(-4 * times))
    return (0.1 * np.concatenate(played)[:, None]).astype(np.float32)


def test_two_takes_of_one_part_are_two_sources():
    steps = [0, 3, 7, 10, 12, 7, 3, 5] * 12
    assert compare(notes(1, steps), notes(2, steps)) == ()
    (found,) = compare(notes(1, steps), late(notes(1, steps), 96))
    assert found.likeness > 0.95


def test_a_filtered_copy_keeps_its_coherence():
    """The amplifier's case. The filter turns the phase, by another angle in every half octave."""
    amp = sosfilt(butter(2, [90, 3500], "band", fs=RATE_HZ, output="sos"), late(BASS, 72), axis=0)
    (found,) = compare(BASS, amp.astype(np.float32))
    assert found.lag_ms == pytest.approx(1.5, abs=1.0)
    assert found.likeness > 0.7
    assert found.coherence > max(0.9, found.likeness)


def test_half_of_it_in_noise_agrees_with_scipy():
    """Second implementation: magnitude-squared coherence of scipy.signal, one value for white noise."""
    random = np.random.default_rng(5)
    shared, other = random.standard_normal((2, round(20 * RATE_HZ))) * 0.1
    mixed = shared + 0.8 * other
    (found,) = compare(shared[:, None].astype(np.float32), mixed[:, None].astype(np.float32))
    hz, squared = coherence(shared, mixed, fs=RATE_HZ, nperseg=4096)
    wanted = float(np.sqrt(squared[(hz > 500) & (hz < 6000)]).mean())
    assert wanted == pytest.approx(1 / np.sqrt(1 + 0.64), abs=0.01)
    assert found.likeness == pytest.approx(wanted, abs=0.06)


def test_far_lags_and_tones_are_not_told():
    assert all(abs(found.lag_ms) > 10 for found in compare(ARP, late(ARP, 1000)))
    tone = signals.sine(220.0, SECONDS)[0]
    assert compare(tone, late(tone, 96)) == ()


def test_what_sounds_only_a_moment_is_not_compared():
    short = BASS.copy()
    short[round(0.37 * RATE_HZ * (LEAST_WINDOWS - 4)) :] = 0.0
    assert compare(short, late(short, 96)) == ()
    assert compare(np.zeros_like(BASS), np.zeros_like(BASS)) == ()
    assert compare(BASS[:0], BASS[:0]) == ()


def test_a_copy_in_a_part_of_the_song_is_found():
    """The second stem plays in the last two thirds only; what the first does alone is left out."""
    chorus = late(ARP, 96)
    chorus[: round(4 * RATE_HZ)] = 0.0
    (found,) = compare(ARP, chorus)
    assert found.likeness > 0.9
    assert found.together_s == pytest.approx(8.0, abs=0.8)


def test_stereo_counts_as_its_sum():
    (found,) = compare(np.repeat(BASS, 2, axis=1), late(BASS, 96))
    assert found.lag_frames == pytest.approx(96, abs=1.0)
    assert found.level_db == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_any_block_size_gives_the_same(size: int):
    assert compare(BASS, late(BASS, 96), size=size) == compare(BASS, late(BASS, 96))


@pytest.mark.parametrize("gain", [0.02, 3.0])
def test_the_gain_changes_nothing_but_the_level(gain: float):
    (plain,) = compare(ARP, late(ARP, 96))
    (scaled,) = compare(ARP, late(ARP, 96, gain))
    assert scaled.likeness == pytest.approx(plain.likeness, abs=0.02)
    assert scaled.level_db == pytest.approx(plain.level_db + 20 * np.log10(gain), abs=0.3)


def test_silence_in_front_changes_nothing():
    (plain,) = compare(ARP, late(ARP, 96))
    lead = np.zeros((round(3 * RATE_HZ), 1), np.float32)
    (moved,) = compare(np.concatenate([lead, ARP]), np.concatenate([lead, late(ARP, 96)]))
    assert moved.lag_frames == pytest.approx(plain.lag_frames, abs=0.2)
    assert moved.likeness == pytest.approx(plain.likeness, abs=0.05)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000, 192_000])
def test_other_rates(rate_hz: int):
    wave = np.random.default_rng(2).standard_normal((10 * rate_hz, 1)).astype(np.float32) * 0.1
    (found,) = compare(wave, late(wave, round(0.002 * rate_hz)), rate_hz=rate_hz)
    assert found.lag_ms == pytest.approx(2.0, abs=0.05)


def test_unequal_lengths():
    (found,) = compare(ARP, late(ARP, 96)[: round(9 * RATE_HZ)])
    assert found.together_s < 9.5
