"""CeilingMeter: cliffs and mirrors where they were put, none in dark, filtered and tonal sounds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import signal

from audit.measure.ceiling import CeilingMeter
from audit.results import Ceiling
from tests import signals
from tests.codecs import coded, converted, need_encoder
from tests.full_band import full_band
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.signals import Samples

RATE_HZ = 48_000


def ceiling(samples: Samples, rate_hz: int = RATE_HZ, *, size: int = 65_536) -> Ceiling:
    return fed(CeilingMeter(rate_hz, samples.shape[1]), samples, size).result()


def breaks_off(found: Ceiling) -> bool:
    return max(found.drop_db, found.held_drop_db) >= 30.0 and found.breaks >= 10 and found.lines_db <= 15.0


def is_mirrored(found: Ceiling) -> bool:
    return found.mirror >= 0.45 and found.mirror - found.mirror_beside >= 0.35


def hiss(high_hz: float, rate_hz: int = RATE_HZ, seconds: float = 4.0) -> Samples:
    return signals.quantise(signals.noise(seconds, rate_hz=rate_hz, high_hz=high_hz)[0], 24)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 88_200, 96_000, 192_000])
@pytest.mark.parametrize("edge_hz", [11_025.0, 16_000.0, 19_100.0])
def test_a_brick_wall_stands_where_it_was_built(edge_hz: float, rate_hz: int):
    found = ceiling(hiss(edge_hz, rate_hz), rate_hz)
    assert breaks_off(found)
    assert found.edge_hz == pytest.approx(edge_hz, abs=100.0)
    assert found.steady == 1.0


@pytest.mark.parametrize("edge_hz", [15_700.0, 17_150.0])
def test_the_edge_is_where_welch_sees_it(edge_hz: float):
    """A second implementation: the averaged periodogram of scipy.signal.welch, half way down in dB."""
    samples = hiss(edge_hz)
    freq, power = signal.welch(samples[:, 0].astype(float), RATE_HZ, nperseg=4096)
    level = 10 * np.log10(power + 1e-30)
    top, floor = level[(freq > 5_000) & (freq < 15_000)].mean(), level[freq > 18_000].mean()
    theirs = freq[level > (top + floor) / 2].max()
    assert ceiling(samples).edge_hz == pytest.approx(theirs, abs=100.0)


def test_a_low_wall_is_found_with_the_drop_it_has():
    """White noise below 12 kHz and 35 dB less above it falls by 35 dB."""
    loud, soft = signals.noise(6.0, high_hz=12_000)[0], signals.noise(6.0, low_hz=12_000)[0]
    found = ceiling(loud + signals.turn(soft, -35.0))
    assert found.drop_db == pytest.approx(35.0, abs=1.5)
    assert breaks_off(found)
    assert not breaks_off(ceiling(loud + signals.turn(soft, -27.0)))


@pytest.mark.parametrize("order", [2, 4, 8, 16], ids=lambda n: f"{6 * n} dB an octave")
@pytest.mark.parametrize("edge_hz", [10_000, 14_000, 16_000, 18_000, 20_000])
def test_filters_of_a_desk_or_a_synthesiser_are_no_cliffs(edge_hz: int, order: int):
    noise = signals.noise(3.0)[0]
    sections = signal.butter(order, edge_hz, fs=RATE_HZ, output="sos")
    filtered = np.asarray(signal.sosfilt(sections, noise, axis=0), np.float32)
    assert not breaks_off(ceiling(signals.quantise(filtered, 24)))


@pytest.mark.parametrize("name", ["supersaw 0", "hats 1", "lead_vocal 0", "piano 1", "band 2"])
@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_native_stems_have_neither(name: str, rate_hz: int):
    found = ceiling(full_band(name, rate_hz), rate_hz)
    assert not breaks_off(found) or (found.edge_hz or 0.0) > rate_hz / 2 - 1_850
    assert not is_mirrored(found)


def partials(freq_hz: float, count: int, seconds: float = 1.0) -> Samples:
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    wave = sum((np.sin(2 * np.pi * freq_hz * k * t) / k for k in range(1, count + 1)), np.zeros(len(t)))
    return np.asarray(0.2 * wave[:, None], np.float32)


def test_a_drone_ends_at_its_last_partial_and_is_no_cliff():
    found = ceiling(np.concatenate([partials(131.0, 128)] * 6))
    assert found.drop_db > 60.0
    assert found.lines_db > 20.0


def test_a_melody_of_a_wavetable_ends_somewhere_else_with_each_note():
    melody = [partials(freq_hz, 80) for freq_hz in (180.0, 200.0, 150.0, 240.0, 165.0, 220.0, 190.0, 135.0)]
    assert ceiling(np.concatenate(melody)).steady < 0.3


def test_dark_sounds_do_not_reach_an_edge():
    for take in (signals.sine(220.0, 3.0), signals.staccato_bass(3.0), signals.speech(4.0)):
        assert not breaks_off(ceiling(signals.quantise(take[0], 24)))


def linear(samples: Samples, from_hz: int, to_hz: int) -> Samples:
    """The cheapest resampler: straight lines between the samples."""
    at = np.arange(int(len(samples) * to_hz / from_hz) - 1) * from_hz / to_hz
    return np.stack([np.interp(at, np.arange(len(samples)), side) for side in samples.T], axis=1).astype("f4")


@pytest.mark.parametrize(
    ("from_hz", "to_hz"), [(44_100, 48_000), (22_050, 48_000), (32_000, 44_100), (44_100, 96_000)],
)  # fmt: skip
def test_straight_lines_leave_a_mirror(from_hz: int, to_hz: int):
    found = ceiling(linear(signals.noise(4.0, rate_hz=from_hz)[0], from_hz, to_hz), to_hz)
    assert is_mirrored(found)
    assert found.mirror_hz == from_hz / 2


@pytest.mark.parametrize("name", ["drum_kit 1", "strings 0", "acoustic_guitar 2"])
def test_scipys_polyphase_filter_leaves_a_mirror(name: str):
    slow = full_band(name, 44_100)
    fast = np.asarray(signal.resample_poly(slow, 160, 147, axis=0), np.float32)
    found = ceiling(fast)
    assert is_mirrored(found)
    assert found.mirror_hz == 22_050.0


def test_clicks_at_even_steps_are_their_own_images_everywhere():
    """120 beats a minute divide every rate; one phase about one centre is then one about all."""
    wave = np.zeros((6 * RATE_HZ, 1), np.float32)
    wave[::24_000] = 0.5
    found = ceiling(wave)
    assert not is_mirrored(found)


@pytest.mark.parametrize("hold", [2, 3, 4, 5])
def test_sample_and_hold_is_an_effect(hold: int):
    held = np.repeat(signals.noise(4.0)[0][::hold], hold, axis=0)
    assert not is_mirrored(ceiling(held))


def test_silence_and_hardly_anything():
    for take in (signals.silence(2.0)[0], signals.silence(0.0)[0], signals.noise(0.05)[0]):
        found = ceiling(take)
        assert (found.edge_hz, found.windows, found.mirror_hz) == (None, 0, None)


@pytest.mark.parametrize("rate_hz", [8_000, 11_025, 16_000])
def test_low_rates_have_no_room_for_an_edge(rate_hz: int):
    assert ceiling(signals.noise(2.0, rate_hz=rate_hz)[0], rate_hz).edge_hz is None


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_any_block_size_gives_the_same(size: int):
    take = full_band("drum_kit 0")[: 3 * RATE_HZ]
    some, whole = ceiling(take, size=size), ceiling(take, size=len(take))
    assert some == whole


@pytest.mark.parametrize("name", ["drum_kit 0", "strings 0", "supersaw 1"])
def test_the_compiled_search_and_numpy_see_the_same_breaks(name: str):
    """Every window's steepest break, by the compiled loop and by the plain one that judges the averages."""
    take = full_band(name)[: 2 * RATE_HZ]
    walled = fed(CeilingMeter(RATE_HZ, 1), _walled(take))
    breaks = walled._channels[0].breaks.sum(axis=0)
    plain, loudest = np.zeros_like(breaks), 20
    for window in _walled(take)[:, 0].reshape(-1, 4800):
        turned = np.fft.rfft(window.astype(float) * np.hanning(4801)[:-1])[:2400]
        bands = (np.abs(turned) ** 2).reshape(240, 10).sum(axis=1) / (0.375 * 4800 * 4800 / 4)
        found = walled._cliffs(bands[None], 1e3)
        of_level = max(0, int(np.floor(-10 * np.log10(max(bands.sum(), 1e-15)) / 6.0)))
        loudest = min(loudest, of_level)
        loud = of_level < min(20, loudest + 5)  # others cannot count any more
        plain[found.band[0]] += loud and found.ratio[0] >= 1e3
    assert plain.sum() >= 5
    np.testing.assert_array_equal(breaks, plain)


def _walled(take: Samples) -> Samples:
    sections = signal.ellip(12, 0.1, 90, 17_000, fs=RATE_HZ, output="sos")
    return np.asarray(signal.sosfilt(sections, take[:, :1], axis=0), np.float32)


def test_the_level_and_silence_before_it_change_nothing():
    take = hiss(16_800.0, seconds=3.0)
    plain = ceiling(take)
    for other in (signals.turn(take, -12.0), np.concatenate((signals.silence(1.0)[0], take))):
        found = ceiling(other)
        assert (found.edge_hz, found.breaks, found.windows) == (plain.edge_hz, plain.breaks, plain.windows)
        assert found.drop_db == pytest.approx(plain.drop_db, abs=0.01)


def test_channels_answer_alone_and_together():
    walled, free = hiss(17_000.0), signals.noise(4.0, seed=4)[0]
    meter = fed(CeilingMeter(RATE_HZ, 2), beside(walled, free))
    assert meter.result((0,)) == ceiling(walled)
    assert meter.result((1,)) == ceiling(free)
    assert not breaks_off(meter.result())
    assert replace(meter.result((1, 0)), mirror=0.0) == replace(meter.result(), mirror=0.0)


@pytest.mark.parametrize(
    ("encoder", "kbit", "low_hz", "high_hz"),
    [("libmp3lame", 128, 16_500, 17_000), ("libmp3lame", 192, 18_700, 19_300), ("aac", 128, 16_000, 18_400),
     ("libopus", 128, 19_800, 20_600)],
)  # fmt: skip
@pytest.mark.parametrize("name", ["supersaw 1", "band 0"])
def test_codecs_leave_their_edge(
    name: str, encoder: str, kbit: int, low_hz: float, high_hz: float, tmp_path: Path
):
    need_encoder(encoder)
    found = ceiling(coded(full_band(name), RATE_HZ, encoder, kbit, tmp_path))
    assert breaks_off(found)
    assert low_hz <= (found.edge_hz or 0.0) <= high_hz


@pytest.mark.parametrize("filters", ["", "aresample=resampler=soxr"], ids=["swr", "soxr"])
def test_ffmpegs_resamplers_leave_an_edge_or_a_mirror(filters: str, tmp_path: Path):
    need_encoder("pcm_s24le")
    found = ceiling(converted(full_band("band 0", 44_100), 44_100, RATE_HZ, tmp_path, filters=filters))
    assert is_mirrored(found) != breaks_off(found)
    assert breaks_off(found) == bool(filters)
    assert not filters or 21_400 < (found.edge_hz or 0.0) < 22_100
