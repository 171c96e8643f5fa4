"""NatureMeter: timecode and clicks are recognised by their sound, and nothing else is taken for them."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import soundfile

from audit.errors import BadSamplesError
from audit.measure.nature import NatureMeter
from audit.results import Nature
from tests import signals
from tests.measure import libltc
from tests.measure.feeding import BLOCK_SIZES, beside, fed
from tests.shared import shared_folder

RATE_HZ = 48_000
NTSC = Fraction(30_000, 1001)
FILM = Fraction(24_000, 1001)


def nature(samples: signals.Samples, rate_hz: int = RATE_HZ, channel: int = 0, size: int = 65_536) -> Nature:
    return fed(NatureMeter(rate_hz, samples.shape[1]), samples, size).result(channel)


@pytest.mark.parametrize("offset", [0.02, -0.3, 0.001])
@pytest.mark.parametrize("bits", [16, 24])
def test_a_click_with_a_dc_offset_is_a_click(offset: float, bits: int):
    """The constant fills the silence between its ticks, which only looks like sound."""
    samples = signals.clicks(12.0, peak=0.5)[0]
    plain = nature(signals.quantise(samples, bits))
    assert plain.tick_share > 0.95
    assert nature(signals.quantise(samples + np.float32(offset), bits)).tick_share > 0.95


@pytest.mark.parametrize("offset", [0.0, 0.02])
def test_a_constant_or_a_bass_is_no_click(offset: float):
    """494.8 Hz stands still where every 97th sample is looked at, 786.9 Hz where every 61st is."""
    time_s = np.arange(12 * RATE_HZ)[:, None] / RATE_HZ
    for wave in (0.0 * time_s, *(0.3 * np.sin(2 * np.pi * f * time_s) for f in (41.2, RATE_HZ / 61))):
        assert nature((wave + offset).astype(np.float32)).tick_share == 0.0


# --- timecode: planted ------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("speed", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("fps", [FILM, 25, 30])
def test_timecode_at_every_rate_and_tape_speed(rate_hz, speed, fps):
    samples, _ = signals.timecode(3.0, rate_hz=rate_hz, fps=fps, speed=speed)
    result = nature(samples, rate_hz)
    assert result.timecode_share >= 0.95
    assert result.tick_share < 0.05


@pytest.mark.parametrize("peak_db", [0.0, -20.0, -40.0, -60.0])
@pytest.mark.parametrize("inverted", [False, True])
def test_timecode_at_every_level_and_polarity(peak_db, inverted):
    samples, _ = signals.timecode(3.0, peak=10 ** (peak_db / 20), inverted=inverted)
    assert nature(signals.quantise(samples, 16)).timecode_share >= 0.95


TIMECODE = signals.timecode(6.0)[0]


def holed() -> signals.Samples:
    take = TIMECODE.copy()
    for start in range(3000, len(take), 12_000):
        take[start : start + 480] = 0.0
    return take


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(TIMECODE[::-1].copy(), id="backwards"),
        pytest.param(signals.timecode(4.0, user=0xFFFFFFFF, start="23:59:56:00")[0], id="all user bits set"),
        pytest.param(signals.timecode(4.0, start="00:00:00:00")[0], id="from midnight"),
        pytest.param(signals.timecode(4.0, fps=NTSC, drop=True)[0], id="drop-frame"),
        pytest.param(signals.timecode(4.0, rise_s=0.0)[0], id="square edges"),
        pytest.param(TIMECODE + signals.noise(6.0, rms=0.03)[0], id="noise 24 dB below"),
        pytest.param(TIMECODE + np.float32(0.6), id="offset past the waveform's own height"),
        pytest.param(TIMECODE + signals.noise(6.0, rms=0.1)[0], id="noise 14 dB below"),
        pytest.param(holed(), id="a hole of 10 ms in every quarter of a second"),
        pytest.param(np.clip(TIMECODE * 8, -1, 1).astype(np.float32), id="clipped"),
        pytest.param(
            signals.join(signals.silence(3.1)[0], TIMECODE, signals.silence(9.0)[0]), id="late, then nothing"
        ),
        pytest.param(signals.join(TIMECODE, signals.noise(20.0, rms=0.0008)[0]), id="then tape hiss"),
        pytest.param(signals.dropout(TIMECODE, 100_000, 900)[0], id="a dropout"),
        pytest.param(np.delete(TIMECODE, slice(150_000, 150_700), axis=0), id="a jump"),
        pytest.param(signals.timecode(0.5)[0], id="half a second"),
    ],
)  # fmt: skip
def test_timecode_in_use(take):
    assert nature(take).timecode_share >= 0.9


def test_noise_on_slow_edges_does_not_add_crossings():
    samples, _ = signals.timecode(2.0, rate_hz=192_000)
    noise, _ = signals.noise(2.0, rate_hz=192_000, rms=0.08)
    assert nature(samples + noise, 192_000).timecode_share >= 0.9


def test_what_libltc_reads_after_a_filter_is_recognised_too():
    from scipy.signal import butter, sosfilt

    for shape in (
        butter(2, 200, "high", fs=RATE_HZ, output="sos"),
        butter(4, 4000, fs=RATE_HZ, output="sos"),
    ):
        take = sosfilt(shape, TIMECODE, axis=0).astype(np.float32)
        assert len(libltc.decode(take, frame_samples=1920)) > 100
        assert nature(take).timecode_share >= 0.9


# --- timecode: clean --------------------------------------------------------------------------------


def random_bits(cell: int, *, seconds: float = 5.0) -> signals.Samples:
    """Bi-phase mark of random bits: the pattern of timecode without its sync word."""
    rng = np.random.default_rng(4)
    bits = rng.integers(0, 2, int(seconds * RATE_HZ / cell))
    lengths = np.concatenate([[cell // 2] * 2 if bit else [cell] for bit in bits])
    signs = np.where(np.arange(len(lengths)) % 2, 0.4, -0.4)
    return np.repeat(signs, lengths)[:, None].astype(np.float32)


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(signals.square(55.0, 4.0)[0], id="square bass"),
        pytest.param(signals.square(1000.0, 4.0)[0], id="all zeros at 25 frames"),
        pytest.param(signals.square(2000.0, 4.0)[0], id="all ones"),
        pytest.param(signals.saw(880.0, 4.0)[0], id="sync lead"),
        pytest.param(signals.arp(6.0)[0], id="chip-tune arpeggio"),
        pytest.param(signals.arp(6.0, gate=1.0)[0], id="chip-tune arpeggio, legato"),
        pytest.param(signals.beeps(6.0)[0], id="modem"),
        pytest.param(signals.beeps(6.0, low_hz=1000.0, high_hz=2000.0)[0], id="data cassette, an octave"),
        pytest.param(signals.beeps(6.0, low_hz=1200.0, high_hz=2400.0)[0], id="data cassette, 1200 and 2400"),
        pytest.param(random_bits(24), id="random bits at the right speed"),
        pytest.param(signals.noise(4.0)[0], id="noise"),
        pytest.param(signals.noise(4.0, low_hz=800.0, high_hz=2400.0)[0], id="noise in the band of timecode"),
        pytest.param(signals.music_bed(6.0)[0], id="music"),
        pytest.param(signals.speech(6.0)[0], id="speech"),
        pytest.param(signals.clicks(6.0)[0], id="clicks"),
        pytest.param(signals.silence(2.0)[0], id="silence"),
        pytest.param(signals.silence(0.0)[0], id="nothing"),
        pytest.param(np.full((1, 1), 0.5, np.float32), id="one frame"),
        pytest.param(signals.turn(TIMECODE, -80.0), id="timecode below everything"),
    ],
)
def test_what_is_no_timecode(take):
    assert nature(take).timecode_share <= 0.05


def test_music_over_timecode_hides_it():
    loud = signals.music_bed(6.0, channels=1)[0]
    assert nature(loud + signals.turn(TIMECODE, -30.0)).timecode_share <= 0.05


# --- clicks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("sound", ["beep", "woodblock", "cowbell", "tick"])
@pytest.mark.parametrize("accents", [True, False])
@pytest.mark.parametrize(("bpm", "subdivision"), [(60, 1), (120, 2), (174, 1), (90, 4), (70, 3), (300, 1)])
def test_clicks(sound, accents, bpm, subdivision):
    samples, _ = signals.clicks(16.0, sound=sound, accents=accents, bpm=bpm, subdivision=subdivision)
    result = nature(samples)
    assert result.tick_share >= 0.8
    assert result.timecode_share == 0.0


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_clicks_at_other_rates(rate_hz):
    samples, _ = signals.clicks(12.0, rate_hz=rate_hz)
    assert nature(samples, rate_hz).tick_share >= 0.8


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(signals.clicks(20.0, bpm=80, end_bpm=160)[0], id="a ramp"),
        pytest.param(signals.clicks(20.0, beats_a_bar=7)[0], id="seven"),
        pytest.param(signals.quantise(signals.clicks(20.0, peak=0.003)[0], 24), id="very quiet"),
        pytest.param(signals.quantise(signals.clicks(20.0)[0], 16, dither=True), id="dither between"),
        pytest.param(signals.clicks(20.0)[0] + signals.noise(20.0, rms=0.0003)[0], id="a little noise"),
        pytest.param(signals.join(signals.silence(30.0)[0], signals.clicks(12.0)[0]), id="from mid-song"),
        pytest.param(
            signals.join(signals.clicks(9.0)[0], signals.silence(15.0)[0], signals.clicks(9.0, bpm=97)[0]),
            id="a free section between two tempos",
        ),
    ],
)
def test_clicks_in_use(take):
    assert nature(take).tick_share >= 0.8


@pytest.mark.parametrize(
    "take",
    [
        pytest.param(signals.drums(16.0)[0], id="drums"),
        pytest.param(signals.hats(16.0)[0], id="hi-hats, open ones between"),
        pytest.param(signals.hats(16.0, open_every=0)[0], id="closed hi-hats"),
        pytest.param(signals.hats(16.0, open_every=0, decay_s=0.012)[0], id="tight closed hi-hats"),
        pytest.param(signals.speech(16.0)[0], id="a voice that counts"),
        pytest.param(signals.staccato_bass(16.0)[0], id="staccato bass"),
        pytest.param(signals.arp(16.0)[0], id="arpeggio"),
        pytest.param(signals.arp(16.0, gate=0.3)[0], id="arpeggio, staccato"),
        pytest.param(signals.shaker(16.0)[0], id="shaker"),
        pytest.param(signals.music_bed(16.0)[0], id="music"),
        pytest.param(signals.noise(4.0)[0], id="noise"),
        pytest.param(signals.clicks(3.0)[0], id="six clicks only"),
        pytest.param(signals.silence(4.0)[0], id="silence"),
        pytest.param(signals.clicks(16.0)[0] + signals.speech(16.0)[0], id="a guide with a click in it"),
    ],
)
def test_what_is_no_click(take):
    assert nature(take).tick_share <= 0.3


def plucks(gains: list[float], pitches: list[float]) -> signals.Samples:
    """Woodblock notes in even eighths at 120 beats a minute."""
    t = np.arange(3000) / RATE_HZ
    samples = np.zeros((16 * RATE_HZ, 1), np.float32)
    for i in range(64):
        tone = np.exp(-t / 0.009) * np.sin(2 * np.pi * pitches[i % len(pitches)] * t)
        samples[i * 12_000 : i * 12_000 + 3000, 0] = gains[i % len(gains)] * tone
    return samples


def test_even_notes_of_one_pitch_and_level_are_a_click_but_a_tune_and_a_player_are_not():
    tune = [523.3, 587.3, 659.3, 784.0, 880.0, 1046.5, 1174.7]
    player = np.random.default_rng(2).uniform(0.2, 0.6, 64).tolist()
    assert nature(plucks([0.5], [880.0])).tick_share >= 0.8
    assert nature(plucks([0.5], tune)).tick_share <= 0.3
    assert nature(plucks(player, [880.0])).tick_share <= 0.3


def test_a_clave_pattern_is_no_click():
    clave, _ = signals.clicks(0.1, sound="woodblock", accents=False)
    samples = np.zeros((16 * RATE_HZ, 1), np.float32)
    for bar in range(8):
        for sixteenth in (0, 3, 6, 10, 12):
            start = bar * 2 * RATE_HZ + sixteenth * RATE_HZ // 8
            samples[start : start + len(clave)] += clave
    assert nature(samples).tick_share <= 0.3


def test_clicks_at_random_times_are_no_click():
    rng = np.random.default_rng(8)
    beep, _ = signals.clicks(0.05)
    samples = np.zeros((20 * RATE_HZ, 1), np.float32)
    for at_s in np.cumsum(rng.uniform(0.15, 0.7, 45)):
        start = int(at_s * RATE_HZ)
        samples[start : start + len(beep)] = beep[: len(samples) - start]
    assert nature(samples).tick_share <= 0.3


# --- both -------------------------------------------------------------------------------------------


def test_each_channel_has_its_own_nature():
    click, code = signals.clicks(10.0)[0], signals.timecode(10.0)[0]
    both = beside(click, code, signals.drums(10.0)[0])
    meter = fed(NatureMeter(RATE_HZ, 3), both)
    assert meter.result(0) == nature(click)
    assert meter.result(1) == nature(code)
    assert meter.result(2).tick_share < 0.3
    with pytest.raises(BadSamplesError, match="no channels"):
        meter.result(3)


@pytest.mark.parametrize("size", [263, *BLOCK_SIZES])
@pytest.mark.parametrize(
    "take", [signals.clicks(7.3)[0], TIMECODE, signals.arp(5.0)[0]], ids=["click", "code", "arp"]
)
def test_the_block_size_changes_no_bit(take, size):
    assert nature(take, size=size) == nature(take, size=4096)


def test_the_rendered_songs():
    files = sorted(shared_folder("corpus").glob("*/*.flac")) + sorted(shared_folder("corpus").glob("*/*.wav"))
    assert len(files) >= 40
    for file in files:
        samples, rate_hz = soundfile.read(file, dtype="float32", always_2d=True)
        result = nature(samples, rate_hz)
        where = f"{file.parent.name}/{file.name}: {result}"
        assert result.timecode_share >= 0.95 if file.stem == "Timecode" else result.timecode_share == 0.0, (
            where
        )
        assert result.tick_share >= 0.9 if file.stem == "Click" else result.tick_share <= 0.1, where
