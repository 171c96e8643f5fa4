"""Real files under real deadlines: what must come late does, and what the deadlines leave alone does not."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audit.errors import UsageError
from audit.load.demand import EngineSetup
from audit.machine.hindrance import Hindrance
from audit.machine.mixer import Mixer
from audit.machine.rehearsal import rehearse
from audit.machine.streaming import SongStream, StemStream
from audit.results.rehearsal import Run
from tests.cli.folders import write_song

SETUP = EngineSetup(frames=1024, refill_s=0.25, prebuffer_s=0.5)


@pytest.fixture(scope="module")
def stems(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return sorted(write_song(tmp_path_factory.mktemp("song") / "Night Ferry", seconds=2.0).iterdir())


def run_of(**more: object) -> Run:
    usual = {
        "speed": 1.0, "rounds": 10, "late_rounds": 0, "callbacks": 2000, "late_callbacks": 0,
        "lowest_buffer_s": 0.5, "worst_round": 0.1, "cpu": 0.1,
    }  # fmt: skip
    return Run(**{**usual, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize(("late", "clean"), [(0, True), (3, True), (4, False)])
def test_one_late_callback_in_a_thousand_is_forgiven(late: int, clean: bool):
    assert run_of(late_callbacks=late).clean is clean


def test_no_late_refill_is_forgiven():
    assert not run_of(late_rounds=1).clean
    assert not run_of(failure="Bass.wav: gone").clean


def test_refills_give_the_files_own_samples_round_after_round(stems: list[Path]):
    """Bit for bit what libsndfile gives, and from the start again at the end."""
    whole, rate_hz = sf.read(stems[0], dtype="float32", always_2d=True)
    stream = StemStream(stems[0], rate_hz, 0.3)
    got = []
    for _ in range(8):
        block = np.empty((2, stream.frames_out), dtype=np.float32)
        stream.refill(block)
        got.append(block.T.copy())
    stream.close()
    looped = np.concatenate([whole, whole])[: 8 * stream.frames_out]
    np.testing.assert_array_equal(np.concatenate(got), looped)


def test_a_name_that_is_no_utf8_streams(tmp_path: Path, stems: list[Path]):
    path = tmp_path / os.fsdecode(b"B\xe4sse.wav")
    try:
        path.write_bytes(stems[0].read_bytes())
    except OSError:
        pytest.skip("this file system takes no name that is no UTF-8")
    assert StemStream(path, 48000, 0.3).channels == 2


def test_another_rate_is_converted_without_running_dry(tmp_path: Path):
    """A 1 kHz tone at 44.1 kHz is one at 48 kHz, over many refills and loops."""
    time_s = np.arange(44100 * 2) / 44100
    sf.write(tmp_path / "a.wav", 0.5 * np.sin(2 * np.pi * 1000 * time_s), 44100, subtype="FLOAT")
    stream = StemStream(tmp_path / "a.wav", 48000, 0.25)
    made = []
    for _ in range(6):
        block = np.empty((1, stream.frames_out), dtype=np.float32)
        stream.refill(block)
        made.append(block[0].copy())
    stream.close()
    samples = np.concatenate(made)[12000:60000]
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    assert np.argmax(spectrum) == pytest.approx(1000 * len(samples) / 48000, abs=1)
    assert np.sqrt(2 * np.mean(samples**2)) == pytest.approx(0.5, rel=0.01)


def test_the_mixer_sums_what_it_is_given():
    block = np.random.default_rng(1).standard_normal((5, 64)).astype(np.float32)
    out = Mixer(5, 64).mix(block)
    np.testing.assert_allclose(out[0], block[:3].sum(axis=0) / 5, rtol=1e-5, atol=1e-6)
    np.testing.assert_allclose(out[1], block[3:].sum(axis=0) / 5, rtol=1e-5, atol=1e-6)


def test_the_ring_is_read_across_its_end(stems: list[Path]):
    with SongStream(stems, rate_hz=48000, refill_s=0.25, slots=2) as song:
        for number in range(2):
            for stem in range(len(song.stems)):
                song.refill(stem, number)
        across = song.block(2 * song.slot_frames - 10, 20)
        np.testing.assert_array_equal(across[:, :10], song.ring[:, -10:])
        np.testing.assert_array_equal(across[:, 10:], song.ring[:, :10])


def test_a_small_song_streams_in_time(stems: list[Path]):
    start = time.perf_counter()
    done = rehearse(stems, SETUP, seconds=1.5)
    took = time.perf_counter() - start
    assert 1.4 < took < 6.0  # at its own speed, not faster
    assert done.run.late_rounds == 0
    assert done.run.callbacks == 6 * 12000 // 1024
    assert 0.0 < done.run.lowest_buffer_s <= 0.5
    assert done.opening_warm_s > 0.0


def test_a_reader_that_is_too_slow_is_dirty(stems: list[Path]):
    """Three stems of 0.12 s each cannot be read within 0.25 s."""
    done = rehearse(stems, SETUP, seconds=1.5, hindrance=Hindrance(read_delay_s=0.12))
    assert done.run.late_rounds >= 4
    assert not done.clean
    assert done.run.worst_round > 1.3
    assert done.run.lowest_buffer_s == 0.0


def test_a_mixer_that_is_too_slow_is_dirty(stems: list[Path]):
    slow = EngineSetup(frames=256, refill_s=0.25, prebuffer_s=0.5)
    done = rehearse(stems, slow, seconds=1.0, hindrance=Hindrance(mix_times=3000))
    assert done.run.late_callbacks > 0.5 * done.run.callbacks
    assert not done.clean


def test_a_climb_ends_where_reading_takes_all_the_time(stems: list[Path]):
    """Three reads that wait 10 ms each fill a round of 0.25 s at 8.3 times its speed."""
    done = rehearse(stems, SETUP, seconds=1.0, climb=True, hindrance=Hindrance(read_delay_s=0.010))
    assert done.headroom is not None
    assert 3.0 < done.headroom < 8.4
    assert any(not run.keeps_up for run in done.climb)


def test_it_stops_when_it_is_told(stems: list[Path]):
    stop = threading.Event()
    threading.Timer(0.5, stop.set).start()
    start = time.perf_counter()
    done = rehearse(stems, SETUP, seconds=60.0, stop=stop)
    assert time.perf_counter() - start < 5.0
    assert done.stopped
    assert not [t for t in threading.enumerate() if t.name == "refills"]


def test_a_stem_that_cannot_be_streamed_is_named(stems: list[Path], tmp_path: Path):
    broken = tmp_path / "Pad.wav"
    broken.write_bytes(b"RIFF but no more")
    done = rehearse([*stems, broken], SETUP, seconds=0.5)
    assert done.stems == 3
    assert done.failed[0].startswith("Pad.wav: cannot be streamed")
    with pytest.raises(UsageError, match="no stem can be streamed"):
        rehearse([broken], SETUP, seconds=0.5)


def test_files_are_left_as_they_were(stems: list[Path]):
    before = [(path.read_bytes(), path.stat().st_mtime_ns) for path in stems]
    rehearse(stems, SETUP, seconds=0.5)
    assert [(path.read_bytes(), path.stat().st_mtime_ns) for path in stems] == before
