"""A stem in a few numbers a quarter second, and what two of them tell of each other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import xxhash

from audit.measure.sketch import SketchMeter, crest_frames, crests_of, hashes_of, levels_dbfs
from audit.measure.sketch_delta import LEAST_SHARE, laid_over
from audit.pipeline.sealed.change import audio_change
from audit.results import ChangeKind, Sketch

RATE_HZ = 48_000
CHUNK = RATE_HZ // 4


def sketch(wave: np.ndarray, *, block: int = 65536, first_frame: int = 0, rate_hz: int = RATE_HZ) -> Sketch:
    meter = SketchMeter(rate_hz, wave.shape[1], first_frame=first_frame)
    for start in range(0, len(wave), block):
        meter.add(wave[start : start + block])
    return meter.result()


def notes(seed: int = 1, seconds: float = 8.0, channels: int = 2) -> np.ndarray:
    rng = np.random.default_rng(seed)
    wave = 1e-3 * rng.standard_normal((int(RATE_HZ * seconds), channels))
    for start in range(0, len(wave) - CHUNK, CHUNK):
        length = rng.integers(CHUNK // 2, CHUNK)
        tone = np.sin(np.arange(length) * rng.uniform(0.02, 0.2)) * np.exp(-np.arange(length) / 3000.0)
        wave[start : start + length] += rng.uniform(0.1, 0.4) * tone[:, None]
    return wave.astype(np.float32)


@pytest.mark.parametrize("block", [1, 777, CHUNK - 1, CHUNK, CHUNK + 1, 10**6])
def test_any_block_size_gives_the_same(block: int):
    wave = notes(seconds=0.8 if block == 1 else 3.1)
    assert sketch(wave, block=block) == sketch(wave)


@pytest.mark.parametrize("frames", [1, CHUNK - 1, CHUNK, CHUNK + 1, 5 * CHUNK])
@pytest.mark.parametrize("channels", [1, 2, 8])
def test_one_of_each_for_every_chunk(frames: int, channels: int):
    made = sketch(notes(seconds=2.0, channels=channels)[:frames])
    chunks = -(-frames // CHUNK)
    assert made.frames == frames
    assert [len(hashes_of(made)), len(crest_frames(made)), len(crests_of(made)), len(levels_dbfs(made))] == [
        chunks
    ] * 4


def test_the_hash_is_that_of_the_samples():
    wave = notes()
    expected = xxhash.xxh3_64_intdigest(np.ascontiguousarray(wave[CHUNK : 2 * CHUNK], dtype="<f4").tobytes())
    assert hashes_of(sketch(wave))[1] == expected & 0xFFFF_FFFF
    assert (
        hashes_of(sketch(np.where(wave == 0.0, -0.0, wave).astype("f4"))) == hashes_of(sketch(wave))
    ).all()


def test_the_highest_sample_is_found_with_its_sign():
    wave = np.zeros((3 * CHUNK, 1), dtype=np.float32)
    wave[CHUNK + 123] = -0.5
    made = sketch(wave)
    assert crest_frames(made)[1] == CHUNK + 123
    assert crests_of(made)[1] == -0.5


def test_levels_are_rms_in_half_decibels():
    wave = np.full((4 * CHUNK, 2), 0.1, dtype=np.float32)
    assert levels_dbfs(sketch(wave)).tolist() == [-20.0] * 4
    assert levels_dbfs(sketch(np.zeros((CHUNK, 2), dtype=np.float32))).tolist() == [-127.5]
    assert levels_dbfs(sketch(2.0 * wave))[0] == -14.0


def test_sides_that_cancel_are_not_silent():
    wave = notes(channels=1)
    assert np.abs(crests_of(sketch(np.hstack([wave, -wave])))).max() > 0.05


@pytest.mark.parametrize("shift", [1, 441, CHUNK, CHUNK + 7])
def test_a_grid_laid_elsewhere_gives_the_chunks_back(shift: int):
    wave = notes()
    moved = np.concatenate([np.zeros((shift, 2), dtype=np.float32), wave])
    assert hashes_of(sketch(moved, first_frame=shift)).tolist() == hashes_of(sketch(wave)).tolist()
    again = sketch(wave[shift:], first_frame=-shift)
    assert hashes_of(again)[2:].tolist() == hashes_of(sketch(wave))[2:].tolist()


@pytest.mark.parametrize("gain_db", [-20.0, -0.05, 0.05, 1.2, 6.0])
@pytest.mark.parametrize("lag", [0, 1, 441, -1000])
def test_gain_and_lag_are_told_from_sketches_alone(gain_db: float, lag: int):
    wave = notes(seed=3)
    moved = np.concatenate([np.zeros((max(0, lag), 2), dtype=np.float32), wave[max(0, -lag) :]])
    found = laid_over(sketch(wave), sketch((moved * 10 ** (gain_db / 20)).astype("f4")))
    assert found is not None
    assert found.before.lag_frames == lag
    assert 20 * np.log10(found.before.gain) == pytest.approx(gain_db, abs=0.01)


def test_silence_in_a_stem_is_not_edited_by_a_gain():
    wave = notes()
    wave[2 * RATE_HZ : 4 * RATE_HZ] = 0.0
    wave[5 * RATE_HZ : 6 * RATE_HZ] = 3e-5 * np.random.default_rng(1).standard_normal((RATE_HZ, 2))
    louder = (np.round(wave * 1.15 * 2**15) / 2**15).astype("f4")
    (change,) = audio_change(sketch(wave), sketch(louder))
    assert change.kind is ChangeKind.GAIN
    assert change.value == pytest.approx(1.214, abs=0.02)


def test_sound_put_into_silence_is_an_edit():
    wave = notes()
    wave[2 * RATE_HZ : 4 * RATE_HZ] = 0.0
    other = wave.copy()
    other[3 * RATE_HZ : 3 * RATE_HZ + CHUNK] = 0.1
    (change,) = audio_change(sketch(wave), sketch(other))
    assert (change.kind, change.from_s, change.to_s) == (ChangeKind.EDITED, 3.0, 3.25)


def test_equal_bars_cannot_say_which_of_them_went():
    """To the bit alike: anything from the first bar to the last is as right."""
    bar = notes(seconds=2.0)
    wave = np.concatenate([np.tile(bar, (10, 1)), 0.5 * notes(seed=9, seconds=2.0)])
    shorter = np.concatenate([np.tile(bar, (7, 1)), wave[-2 * RATE_HZ :]])
    (change,) = audio_change(sketch(wave), sketch(shorter), bar_of_song=lambda: 2.0)
    assert (change.kind, change.bars) == (ChangeKind.LENGTH, -3)
    assert change.from_s is not None
    assert change.to_s is not None
    assert change.from_s <= 2.0
    assert change.to_s == 14.0


@pytest.mark.parametrize("fade_s", [1.0, 2.5, 8.0, 15.0])
def test_a_fade_over_equal_bars_takes_no_bar_out(fade_s: float):
    wave = np.tile(notes(seconds=2.0), (10, 1))
    frames = round(fade_s * RATE_HZ)
    faded = wave.copy()
    faded[-frames:] *= np.linspace(1.0, 0.0, frames, dtype=np.float32)[:, None]
    (change,) = audio_change(sketch(wave), sketch(faded))
    assert change.kind is ChangeKind.FADED_OUT
    assert change.from_s == pytest.approx(20.0 - fade_s, abs=0.5)
    assert change.to_s == 20.0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda w: w[:, ::-1], "left and right are exchanged"),
        (lambda w: w * [1.0, -1.0], "the right side is upside down (other polarity)"),
        (lambda w: w * [1.0, 0.97], "the right side is quieter by 0.3 dB"),
        (lambda w: w * [1.0, 0.985], None),  # 0.13 dB: within the rounding of highest samples
    ],
)
def test_sides_are_told_from_sketches_alone(change: Callable[[np.ndarray], np.ndarray], says: str | None):
    wave = notes(seed=4)
    wave[:, 1] = np.roll(notes(seed=6)[:, 1], 100)
    changes = audio_change(sketch(wave), sketch(change(wave).astype("f4")))
    told = [one.now for one in changes if one.kind is ChangeKind.SIDES]
    assert told == ([says] if says else [])


def test_an_older_seal_without_sides_tells_less_and_no_lie():
    wave = notes(seed=4)
    wave[:, 1] = np.roll(notes(seed=6)[:, 1], 100)
    older = replace(sketch(wave), sides=(), flips=b"")
    changes = audio_change(older, sketch(np.ascontiguousarray(wave[:, ::-1])), sounds_alike=lambda: True)
    assert [one.kind for one in changes] == [ChangeKind.PROCESSED]
    (change,) = audio_change(older, sketch((wave * 2.0).astype("f4")))
    assert change.kind is ChangeKind.GAIN


def test_other_audio_has_next_to_nothing_in_common():
    assert LEAST_SHARE <= 0.25
    assert laid_over(sketch(notes(seed=1)), sketch(notes(seed=2))) is None


def test_long_stems_take_no_more_memory_than_their_landmarks():
    long = sketch(np.tile(notes(seconds=4.0), (200, 1)))
    found = laid_over(long, long)
    assert found is not None
    assert found.share == 1.0
