"""ActivityMeter: first and last sound, active time, and how a file ends."""

from __future__ import annotations

import math

import numpy as np
import pytest

from audit.measure.activity import ActivityMeter
from audit.results import Activity
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, fed

RATE_HZ = 48_000


def activity(
    samples: signals.Samples, part: tuple[int, ...] | None = None, size: int = 65_536, rate_hz: int = RATE_HZ
) -> Activity:
    return fed(ActivityMeter(rate_hz, samples.shape[1]), samples, size).result(part)


def take() -> signals.Samples:
    """1.5 s of silence, 2 s of a tone that begins at full swing, 0.75 s of silence."""
    tone, _ = signals.sine(1000.0, 2.0, phase_deg=90.0)
    return signals.join(signals.silence(1.5)[0], tone, signals.silence(0.75)[0])


@pytest.mark.parametrize("size", [1, 77, *BLOCK_SIZES])
def test_sound_is_placed_to_the_frame(size):
    samples = take()[: 4 * RATE_HZ] if size > 1 else take()[71_000:74_000]
    result = activity(samples, size=size)
    assert result.first_sound_frame == (72_000 if size > 1 else 1_000)
    if size > 1:
        assert result.last_sound_frame == 167_999
        assert result.zero_tail_frames == 24_000
        assert result.active_s == pytest.approx(2.0, abs=1e-9)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000, 192_000])
def test_active_time_is_in_seconds_at_every_rate(rate_hz):
    tone, _ = signals.sine(1000.0, 1.0, rate_hz=rate_hz)
    samples = signals.join(signals.silence(0.5, rate_hz=rate_hz)[0], tone)
    assert activity(samples, rate_hz=rate_hz).active_s == pytest.approx(1.0, abs=1e-6)


def test_a_take_cut_while_it_sounds_and_filled_with_zeros():
    result = activity(take())
    assert result.end_rms_dbfs == -math.inf
    assert result.before_tail_rms_dbfs == pytest.approx(-9.03, abs=0.02)


def test_a_take_cut_while_it_sounds():
    result = activity(take()[: 3 * RATE_HZ])
    assert result.zero_tail_frames == 0
    assert result.end_rms_dbfs == pytest.approx(-9.03, abs=0.02)
    assert result.before_tail_rms_dbfs == pytest.approx(result.end_rms_dbfs, abs=1e-9)


def test_a_reverb_tail_has_died_away_before_its_zeros():
    t = np.arange(4 * RATE_HZ) / RATE_HZ
    tail = (signals.noise(4.0)[0][:, 0] * np.exp(-t * 3.0))[:, None]
    samples = signals.join(signals.quantise(tail.astype(np.float32), 16), signals.silence(1.0)[0])
    result = activity(samples)
    assert result.before_tail_rms_dbfs < -85.0
    assert result.zero_tail_frames >= RATE_HZ


@pytest.mark.parametrize("level_db", [-70.5, -69.5])
def test_sound_begins_at_minus_seventy(level_db):
    samples = np.zeros((1000, 1), np.float32)
    samples[400] = 10 ** (level_db / 20)
    result = activity(samples)
    assert result.first_sound_frame == (400 if level_db > -70 else None)
    assert result.last_sound_frame == (400 if level_db > -70 else None)
    assert result.zero_tail_frames == 599


@pytest.mark.parametrize(("level_db", "active"), [(-60.5, 0.0), (-59.5, 1.0)])
def test_a_step_is_active_above_minus_sixty(level_db, active):
    samples, _ = signals.sine(1000.0, 1.0, peak=10 ** (level_db / 20) * math.sqrt(2))
    assert activity(samples).active_s == pytest.approx(active)


def test_channels_answer_alone_and_together():
    early = signals.join(signals.sine(500.0, 1.0)[0], signals.silence(2.0)[0])
    late = signals.join(signals.silence(1.0)[0], signals.sine(500.0, 1.5)[0], signals.silence(0.5)[0])
    both = beside(early, late)
    together = activity(both)
    assert together.zero_tail_frames == activity(both, (1,)).zero_tail_frames
    assert together.zero_tail_frames == pytest.approx(RATE_HZ // 2, abs=2)
    assert activity(both, (0,)) == activity(early)
    assert activity(both, (1,)) == activity(late)
    assert together.active_s == pytest.approx(2.5)
    # The early channel is silent by then, so the pair has half the power.
    assert together.before_tail_rms_dbfs == pytest.approx(
        activity(late).before_tail_rms_dbfs - 10 * math.log10(2), abs=1e-6
    )


@pytest.mark.parametrize("size", [331, *BLOCK_SIZES])
def test_the_block_size_changes_nothing(size):
    samples = signals.join(signals.silence(0.31)[0], signals.drums(3.0)[0], signals.silence(0.02)[0])
    assert activity(samples, size=size) == activity(samples, size=2048)


def test_a_second_of_silence_before_moves_every_place_by_a_second():
    samples = take()
    before, after = activity(samples), activity(signals.join(signals.silence(1.0)[0], samples))
    assert after.first_sound_frame == before.first_sound_frame + RATE_HZ
    assert after.last_sound_frame == before.last_sound_frame + RATE_HZ
    assert after.zero_tail_frames == before.zero_tail_frames


def test_silence_and_nothing():
    for seconds in (1.0, 0.0):
        result = activity(signals.silence(seconds)[0])
        assert result.first_sound_frame is None
        assert result.last_sound_frame is None
        assert result.active_s == 0.0
        assert result.zero_tail_frames == round(seconds * RATE_HZ)
        assert result.end_rms_dbfs == -math.inf
        assert result.before_tail_rms_dbfs == -math.inf


def test_the_end_is_the_last_fifty_milliseconds():
    """5 ms of 0.1, then 45 ms of zeros: a tenth of 0.01, −30 dBFS; what was louder before does not count."""
    pieces = ((0.5, 100), (0.1, 5), (0.0, 45))
    wave = np.concatenate([np.full(level_ms * RATE_HZ // 1000, level) for level, level_ms in pieces])
    result = activity(wave.astype(np.float32)[:, None])
    assert result.end_rms_dbfs == pytest.approx(-30.0, abs=0.001)
    before_power = (0.25 * 45 + 0.01 * 5) / 50
    assert result.before_tail_rms_dbfs == pytest.approx(10 * math.log10(before_power), abs=0.001)


def test_a_file_shorter_than_the_measured_end():
    samples = np.array([[0.5], [0.5], [0.0]], np.float32)
    result = activity(samples)
    assert result.zero_tail_frames == 1
    assert result.before_tail_rms_dbfs == pytest.approx(-6.02, abs=0.01)


def opening(floor: signals.Samples, music: signals.Samples, begins_s: float = 1.5) -> signals.Samples:
    """4 s of a take: silence, from half a second on the floor, and the music from `begins_s` on."""
    whole = np.zeros((4 * RATE_HZ, 1), dtype=np.float32)
    opened, begun = RATE_HZ // 2, round(begins_s * RATE_HZ)
    whole[opened:] += floor[: len(whole) - opened]
    whole[begun:] += music[: len(whole) - begun]
    return whole


def at_dbfs(wave: np.ndarray, rms_dbfs: float) -> signals.Samples:
    return (wave / np.sqrt(np.mean(np.square(wave))) * 10 ** (rms_dbfs / 20)).astype(np.float32)[:, None]


def tone() -> signals.Samples:
    return signals.sine(220.0, 4.0, peak=0.2)[0]


def rumbling(rng: np.random.Generator) -> np.ndarray:
    """Pink noise, as rooms make it: it sways more than white one."""
    spectrum = np.fft.rfft(rng.standard_normal(4 * RATE_HZ))
    hertz = np.fft.rfftfreq(4 * RATE_HZ, 1.0 / RATE_HZ)
    return np.fft.irfft(np.where(hertz > 20.0, spectrum / np.sqrt(np.maximum(hertz, 20.0)), 0.0))


@pytest.mark.parametrize(
    ("kind", "dbfs"),
    [(kind, dbfs) for kind in ("white", "pink", "hum") for dbfs in (-68.0, -60.0)] + [("white", -79.0)],
)
def test_a_noise_floor_that_opens_before_the_music_is_not_played(kind: str, dbfs: float):
    rng = np.random.default_rng(5)
    moments = np.arange(4 * RATE_HZ) / RATE_HZ
    wave = {
        "white": rng.standard_normal(4 * RATE_HZ),
        "pink": rumbling(rng),
        "hum": sum(np.sin(2 * np.pi * 50.0 * k * moments) / k for k in (1, 2, 3, 5)),
    }[kind]
    result = activity(opening(at_dbfs(wave, dbfs), tone()))
    assert result.first_sound_frame is not None
    assert result.first_sound_frame < 0.7 * RATE_HZ
    assert result.first_played_frame == pytest.approx(1.55 * RATE_HZ, abs=0.1 * RATE_HZ)


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_where_it_rises_does_not_depend_on_the_blocks(size: int):
    noise = at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -68.0)
    assert activity(opening(noise, tone()), size=size).rises_frame == round(1.55 * RATE_HZ)


def quiet_strokes() -> np.ndarray:
    """A shaker in sixteenths at 100 beats a minute."""
    rng = np.random.default_rng(7)
    since_s = np.arange(4 * RATE_HZ) / RATE_HZ % 0.15
    return np.asarray(rng.standard_normal(4 * RATE_HZ) * np.exp(-since_s / 0.02))


@pytest.mark.parametrize(
    "before",
    [
        pytest.param(at_dbfs(quiet_strokes(), -62.0), id="a quiet shaker"),
        pytest.param(tone() * np.linspace(0.0, 0.5, 4 * RATE_HZ, dtype=np.float32)[:, None] ** 3, id="a pad"),
        pytest.param(
            at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -60.0)
            * (10 ** np.linspace(0.0, 2.5, 4 * RATE_HZ, dtype=np.float32)[:, None]),
            id="a riser",
        ),
        pytest.param(
            at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -50.0), id="surf, to be heard"
        ),
        pytest.param(
            at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -68.0)
            + np.where(np.arange(4 * RATE_HZ) < 3000, 0.02, 0.0).astype(np.float32)[:, None] * tone(),
            id="a soft note at once",
        ),
    ],
)
def test_what_fades_in_or_is_struck_before_the_music_is_played(before: signals.Samples):
    result = activity(opening(before, tone()))
    assert result.rises_frame is None
    assert result.first_played_frame == result.first_sound_frame


def test_a_floor_out_of_which_it_swells_slowly_is_played():
    """A swell by 40 dB over two seconds cannot be told from one that began in the floor."""
    noise = at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -68.0)
    swell = tone() * (10 ** np.linspace(-2.5, 0.0, 4 * RATE_HZ, dtype=np.float32)[:, None])
    assert activity(opening(noise, swell)).rises_frame is None


def test_a_floor_alone_is_as_it_was():
    noise = at_dbfs(np.random.default_rng(5).standard_normal(4 * RATE_HZ), -68.0)
    assert activity(opening(noise, 0.0 * tone())).rises_frame is None
    assert activity(noise).rises_frame is None  # from the file's first frame on: Envelope tells
