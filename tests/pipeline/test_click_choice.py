"""Which stem the song's click is read from."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from audit.folder.walk import walk
from audit.pipeline.song.listen import listen
from tests import signals
from tests.pipeline.files import write_wav

RATE_HZ = 48_000


def click_stem(folder: Path) -> tuple[str | None, bool]:
    song = listen(walk(folder).songs[0], lambda stem, done: None)
    return song.click_stem, song.click is not None


@pytest.mark.parametrize("ticking", ["Click 1.wav", "Click 2.wav"])
def test_of_several_the_one_that_ticks(tmp_path: Path, ticking: str):
    """One was filled with a voice by mistake: its name does not make beats of words."""
    ticks, voice = signals.clicks(12.0, rate_hz=RATE_HZ)[0], signals.speech(12.0, rate_hz=RATE_HZ)[0]
    for name in ("Click 1.wav", "Click 2.wav"):
        write_wav(tmp_path / name, ticks if name == ticking else voice)
    assert click_stem(tmp_path) == (ticking, True)


def test_a_silent_click_is_none(tmp_path: Path):
    write_wav(tmp_path / "Click.wav", np.zeros((2 * RATE_HZ, 1)))
    assert click_stem(tmp_path) == (None, False)


def test_a_silent_click_beside_one_that_sounds(tmp_path: Path):
    write_wav(tmp_path / "Click 1.wav", np.zeros((12 * RATE_HZ, 1)))
    write_wav(tmp_path / "Click 2.wav", signals.clicks(12.0, rate_hz=RATE_HZ)[0])
    assert click_stem(tmp_path) == ("Click 2.wav", True)


@pytest.mark.parametrize(
    ("hiss_dbfs", "from_ms", "is_counted"),
    [
        (None, 0.0, True),
        (-64.0, 0.0, True),
        (-50.0, 0.0, True),
        (-46.0, 0.0, True),
        (-50.0, 9.0, True),
        (-50.0, 11.0, False),  # it began within the file: somebody plays that softly
    ],
)
def test_a_count_in_is_counted_under_the_hiss_of_microphones(
    tmp_path: Path, hiss_dbfs: float | None, from_ms: float, is_counted: bool
):
    """Every microphone and amplifier of a song played live hisses from its begin on."""
    count, rng = 4, np.random.default_rng(7)
    ticks, made = signals.clicks(20.0, rate_hz=RATE_HZ)
    first_s, beat_s = made.at_frames[0] / RATE_HZ, (made.at_frames[1] - made.at_frames[0]) / RATE_HZ
    write_wav(tmp_path / "Click.wav", ticks)
    for number, name in enumerate(("Bass.wav", "Guitar.wav", "Vox.wav")):
        wave = np.zeros((20 * RATE_HZ, 1))
        begin = round((first_s + (count + 4 * number) * beat_s) * RATE_HZ)
        wave[begin:, 0] = 0.2 * np.sin(
            2 * np.pi * 110.0 * (number + 1) * np.arange(len(wave) - begin) / RATE_HZ
        )
        if hiss_dbfs is not None:
            hiss = 10 ** (hiss_dbfs / 20) * rng.standard_normal(wave.shape)
            hiss[: round(from_ms * RATE_HZ / 1000)] = 0.0
            wave += hiss
        write_wav(tmp_path / name, wave)
    click = listen(walk(tmp_path).songs[0], lambda stem, done: None).click
    assert click is not None
    assert (click.count_in_beats == count) is is_counted


@pytest.mark.parametrize(
    ("floor_dbfs", "count"),
    [
        (None, 8),
        (-79.0, 8),
        (-61.0, 8),
        (-40.0, 4),  # so loud it is the room, to be heard
    ],
)
def test_a_count_in_is_counted_where_noise_floors_open_before_the_music(
    tmp_path: Path, floor_dbfs: float | None, count: int
):
    """Regions of recorded stems are often drawn open for a bar before the first note."""
    ticks, made = signals.clicks(20.0, rate_hz=RATE_HZ)
    first_s, beat_s = made.at_frames[0] / RATE_HZ, (made.at_frames[1] - made.at_frames[0]) / RATE_HZ
    write_wav(tmp_path / "Click.wav", ticks)
    rng = np.random.default_rng(7)
    for number, name in enumerate(("Bass.wav", "Guitar.wav", "Vox.wav")):
        wave = np.zeros((20 * RATE_HZ, 1))
        begin = round((first_s + (8 + 4 * number) * beat_s) * RATE_HZ)
        tone = np.sin(2 * np.pi * 110.0 * (number + 1) * np.arange(len(wave) - begin) / RATE_HZ)
        wave[begin:, 0] = 0.2 * tone
        if floor_dbfs is not None:
            opens = begin - round(3.5 * beat_s * RATE_HZ)
            wave[opens:] += 10 ** (floor_dbfs / 20) * rng.standard_normal((len(wave) - opens, 1))
        write_wav(tmp_path / name, wave)
    click = listen(walk(tmp_path).songs[0], lambda stem, done: None).click
    assert click is not None
    assert click.count_in_beats == count
