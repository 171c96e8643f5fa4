"""Clips: the place at second 4, four counts before it, and nothing that jumps out in anybody's ears."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile

from audit.demo.timecode import encode_timecode
from audit.errors import UnreadableAudioError, UsageError
from audit.hear.caps import CREW, MUSIC, NOISE
from audit.hear.clip import Clip, cut_clip
from audit.hear.noise import LoudNoise
from audit.measure.peaks import measure_peaks
from audit.timecode import FPS_25, Label
from tests import signals

RATE = 48_000


def music(seconds: float = 12.0, level: float = 0.5, rate: int = RATE) -> np.ndarray:
    time_s = np.arange(round(seconds * rate)) / rate
    tones = sum(np.sin(2 * np.pi * hz * time_s + hz) for hz in (110.0, 277.0, 660.0))
    return level * np.stack([tones, np.roll(tones, 50)], axis=1) / 3.0


def written(path: Path, samples: np.ndarray, rate: int = RATE, **more: str) -> Path:
    soundfile.write(path, samples, rate, **({"subtype": "PCM_24"} | more))
    return path


def cut(path: Path, frame: int, **more: int) -> Clip:
    return cut_clip(path, lambda rate_hz: frame, **more)


def peak_db(samples: np.ndarray) -> float:
    return 20 * np.log10(np.abs(samples).max())


def heard_lufs(clip: Clip) -> float:
    """The loudest 400 ms by a second implementation (pyloudnorm, BS.1770), steps of 100 ms."""
    meter = pyloudnorm.Meter(clip.rate_hz, block_size=0.4)
    step, window = clip.rate_hz // 10, round(0.4 * clip.rate_hz)
    pieces = [clip.samples[at : at + window] for at in range(0, len(clip.samples) - window, step)]
    return max(meter.integrated_loudness(piece.astype(float)) for piece in pieces)


def test_the_place_is_at_second_4(tmp_path):
    samples = np.zeros((12 * RATE, 1))
    samples[7 * RATE + 123] = 0.1
    clip = cut(written(tmp_path / "Keys.wav", samples), 7 * RATE + 123)
    assert len(clip.samples) == 8 * RATE
    assert clip.place_s == 4.0
    assert int(np.argmax(np.abs(clip.samples[round(3.5 * RATE) :]))) + round(3.5 * RATE) == 4 * RATE


@pytest.mark.parametrize("frame", [0, RATE, 11 * RATE, 12 * RATE])
def test_near_the_ends_of_the_file_the_place_stays_there(tmp_path, frame):
    samples = music()
    clip = cut(written(tmp_path / "Keys.wav", samples), frame)
    first = frame - 4 * RATE
    inside = slice(max(0, -first) + RATE // 3, min(8 * RATE, 12 * RATE - first) - RATE // 3)
    whole = np.zeros((8 * RATE, 2))
    low, high = max(0, first), min(12 * RATE, first + 8 * RATE)
    whole[low - first : high - first] = samples[low:high]
    # between the beeps the clip is the stem, by one factor
    quiet = np.ones(8 * RATE, dtype=bool)
    for beat in range(4):
        quiet[beat * RATE : beat * RATE + RATE // 10] = False
    chosen = np.flatnonzero(quiet)[
        (np.flatnonzero(quiet) >= inside.start) & (np.flatnonzero(quiet) < inside.stop)
    ]
    gain = 10 ** (-clip.down_db / 20)
    assert np.abs(clip.samples[chosen] - gain * whole[chosen]).max() < 1e-6


def test_four_beeps_count_to_the_place(tmp_path):
    clip = cut(written(tmp_path / "Keys.wav", np.zeros((12 * RATE, 1))), 6 * RATE)
    sounding = np.flatnonzero(np.abs(clip.samples[:, 0]) > 1e-4)
    starts = sounding[np.flatnonzero(np.diff(sounding, prepend=-RATE) > RATE // 10)]
    assert [round(start / RATE, 2) for start in starts] == [0.0, 1.0, 2.0, 3.0]
    assert peak_db(clip.samples) <= -20.0


@pytest.mark.parametrize("level", [0.01, 0.2, 0.99, 30.0])
@pytest.mark.parametrize("name", ["Bass.wav", "Click.wav", "Guide.wav"])
def test_no_clip_is_louder_than_its_caps(tmp_path, level, name):
    caps = MUSIC if name == "Bass.wav" else CREW
    clip = cut(written(tmp_path / name, music(level=level), subtype="FLOAT"), 6 * RATE)
    assert clip.caps is caps
    assert measure_peaks(clip.samples, RATE).true_dbtp <= caps.peak_db + 0.01
    assert peak_db(clip.samples) <= caps.peak_db + 0.01
    assert heard_lufs(clip) <= caps.loudness_lufs + 0.1


def test_quiet_stems_are_not_turned_up(tmp_path):
    samples = music(level=0.003)
    clip = cut(written(tmp_path / "Keys.wav", samples), 6 * RATE)
    assert clip.down_db == 0.0
    assert peak_db(clip.samples[round(4.5 * RATE) : 7 * RATE]) == pytest.approx(
        peak_db(samples[round(6.5 * RATE) : 9 * RATE]), abs=0.01
    )


def test_both_ends_fade(tmp_path):
    clip = cut(written(tmp_path / "Keys.wav", music()), 6 * RATE)
    middle = np.abs(clip.samples[5 * RATE : 6 * RATE]).max()
    for end in (clip.samples[RATE // 12 : RATE // 11], clip.samples[-20:]):
        assert np.abs(end).max() < 0.3 * middle
    assert np.abs(clip.samples[-1]).max() < 1e-4


def shifted_by_a_byte(samples: np.ndarray) -> np.ndarray:
    """24-bit samples read one byte too late: what an ill-cut file sounds like."""
    whole = np.round(samples * (2**23 - 1)).astype("<i4")
    stream = whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()[1:-2]
    groups = np.frombuffer(stream, dtype=np.uint8).reshape(-1, 3)
    words = np.zeros((len(groups), 4), dtype=np.uint8)
    words[:, 1:] = groups
    return words.view("<i4")[:, 0].astype(np.float64)[:, None] / 2**31


def garbage(kind: str) -> np.ndarray:
    random = np.random.default_rng(3)
    if kind == "byte-shifted":
        noise = random.normal(0.0, 0.002, (12 * RATE, 1))
        return shifted_by_a_byte(music()[:, :1] + noise)
    if kind == "wrong-endian":
        whole = np.round((music()[:, :1] + random.normal(0, 0.01, (12 * RATE, 1))) * 32767).astype("<i2")
        return whole.view(">i2") / 32768.0
    if kind == "a burst":
        samples = music(level=0.05)
        samples[6 * RATE : 6 * RATE + RATE // 10] = random.uniform(-1, 1, (RATE // 10, 2))
        return samples
    return random.uniform(-1, 1, (12 * RATE, 2))


@pytest.mark.parametrize("kind", ["byte-shifted", "wrong-endian", "white", "a burst"])
def test_full_scale_noise_never_passes_minus_40(tmp_path, kind):
    clip = cut(written(tmp_path / "Keys.wav", garbage(kind)), 6 * RATE)
    assert clip.caps is NOISE
    assert peak_db(clip.samples) <= -40.0 + 0.01


def holds_noise(samples: np.ndarray, rate_hz: int) -> bool:
    meter = LoudNoise(rate_hz, samples.shape[1])
    meter.add(samples)
    return meter.found


def test_loud_music_is_no_noise():
    for samples in (music(level=1.0), music(level=1.0, rate=96_000)):
        assert not holds_noise(samples.astype(np.float32), RATE)
    saw, _ = signals.saw(2000.0, 1.0, peak=1.0)
    assert not holds_noise(saw, RATE)


def test_noise_is_told_at_its_limit():
    noise = np.random.default_rng(5).normal(0.0, 1.0, (RATE, 1)).astype(np.float32)
    assert holds_noise(noise * np.float32(10 ** (-14.0 / 20)), RATE)
    assert not holds_noise(noise * np.float32(10 ** (-16.0 / 20)), RATE)
    short = np.zeros((RATE, 1), dtype=np.float32)
    short[4800 : 4800 + 4 * 480] = 0.5 * noise[: 4 * 480]
    assert not holds_noise(short, RATE)
    short[4800 : 4800 + 6 * 480] = 0.5 * noise[: 6 * 480]
    assert holds_noise(short, RATE)


def test_timecode_under_another_name_is_softened_too(tmp_path):
    code = encode_timecode(Label(hours=1), 12 * 25, FPS_25, RATE)
    clip = cut(written(tmp_path / "Audio 7.wav", code[:, None]), 6 * RATE)
    assert clip.caps is CREW


@pytest.mark.parametrize(("name", "more"), [
    ("a.wav", {"subtype": "PCM_16"}), ("a.wav", {"subtype": "FLOAT"}), ("a.flac", {"subtype": "PCM_24"}),
    ("a.aiff", {"subtype": "PCM_24"}), ("a.ogg", {"subtype": "VORBIS"}), ("a.caf", {"subtype": "PCM_24"}),
])  # fmt: skip
@pytest.mark.parametrize("rate", [44_100, 96_000])
def test_every_format_is_heard(tmp_path, name, more, rate):
    clip = cut(written(tmp_path / name, music(9.0, 0.2, rate), rate, **more), 5 * rate)
    assert clip.rate_hz == rate
    middle = clip.samples[round(4.5 * rate) : 5 * rate, 0]
    wave = music(9.0, 0.2, rate)[round(5.5 * rate) : 6 * rate, 0]
    assert np.corrcoef(middle, wave)[0, 1] > 0.99


def test_many_channels_are_added_up_or_chosen(tmp_path):
    samples = np.zeros((12 * RATE, 6))
    samples[:, 4] = music()[:, 0]
    path = written(tmp_path / "Band.wav", samples)
    together, one = cut(path, 6 * RATE), cut(path, 6 * RATE, channel=5)
    assert together.samples.shape[1] == one.samples.shape[1] == 1
    assert "6 channels together" in together.taken
    assert one.taken == "channel 5 of 6"
    assert np.abs(one.samples).max() > np.abs(together.samples).max() > 0
    with pytest.raises(UsageError, match="--channel 7"):
        cut(path, 0, channel=7)


def test_a_place_behind_the_end_is_refused(tmp_path):
    path = written(tmp_path / "Keys.wav", music(2.0))
    for frame in (2 * RATE, 2 * RATE + 20):  # 0:02.000 may be the rounded time of the end
        assert cut(path, frame).place_frame == frame
    with pytest.raises(UsageError, match=r"nothing at 0:03\.000: it is 0:02\.000"):
        cut(path, 3 * RATE)


def test_a_file_that_ends_early_says_how_far_it_can_be_heard(tmp_path):
    path = written(tmp_path / "Keys.wav", music(6.0))
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size // 2)
    with pytest.raises(UnreadableAudioError, match=r"up to 0:0[23]\.\d+ only"):
        cut(path, 5 * RATE)
    path.write_bytes(b"no audio at all" * 100)
    with pytest.raises(UnreadableAudioError, match="cannot be heard"):
        cut(path, 0)


def test_nan_and_infinity_are_silence(tmp_path):
    samples = music().astype(np.float32)
    samples[6 * RATE : 6 * RATE + 50] = np.nan
    samples[6 * RATE + 60] = np.inf
    samples[6 * RATE + 70] = 3e38
    clip = cut(written(tmp_path / "Keys.wav", samples, subtype="FLOAT"), 6 * RATE)
    assert np.isfinite(clip.samples).all()
    assert peak_db(clip.samples) <= -12.0 + 0.01
