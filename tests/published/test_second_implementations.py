"""Our meters against independent ones on the same seeded random signals, with every deviation written down.

libebur128 (through pyebur128) is fed channel by channel: its default channel map takes channels 4 and 5 for
surrounds and drops the rest, which is wrong for stems.
"""

from __future__ import annotations

import math
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pyebur128
import pyloudnorm
import pytest
import soundfile

from audit.measure.gating import range_lu
from audit.measure.loudness import LoudnessMeter
from audit.measure.peaks import measure_peaks
from audit.measure.weighted_energy import StepEnergies
from audit.measure.weighting import design_k_weighting
from audit.results import Loudness
from audit.units import to_db
from tests.published.tables import read_table

RATES_HZ = (44_100, 48_000, 88_200, 96_000, 192_000)
TABLE = read_table("second_implementations.csv")


def rows_of(implementation: str) -> list[dict[str, str]]:
    rows = [row for row in TABLE if row["implementation"] == implementation]
    assert rows, f"no row for {implementation}"
    return rows


def random_music(rate_hz: int, *, seconds: int = 12, seed: int = 5) -> np.ndarray:
    """Mono noise that falls by 3 dB an octave, so that all of the weighting matters; its level wanders."""
    rng = np.random.default_rng(seed)
    frames = rate_hz * seconds
    spectrum = rng.standard_normal(frames // 2 + 1) + 1j * rng.standard_normal(frames // 2 + 1)
    freqs_hz = np.fft.rfftfreq(frames, 1.0 / rate_hz)
    spectrum *= np.where(
        (freqs_hz > 20.0) & (freqs_hz < 18_000.0), 1.0 / np.sqrt(np.maximum(freqs_hz, 1.0)), 0.0
    )
    wave = np.fft.irfft(spectrum, frames)
    levels_db = np.repeat(rng.uniform(-25.0, 0.0, seconds), rate_hz)
    wave *= 10.0 ** (levels_db / 20.0)
    return (0.5 * wave / np.abs(wave).max()).astype(np.float32)[:, None]


def ours(wave: np.ndarray, rate_hz: int) -> Loudness:
    meter = LoudnessMeter(rate_hz, wave.shape[1])
    meter.add(wave)
    return meter.result()


def libebur128(wave: np.ndarray, rate_hz: int) -> pyebur128.R128State:
    mode = pyebur128.MeasurementMode
    modes = int(mode.MODE_I) | int(mode.MODE_LRA) | int(mode.MODE_TRUE_PEAK)
    state = pyebur128.R128State(1, rate_hz, modes)
    state.add_frames(wave.astype(np.float64).reshape(-1), wave.shape[0])
    return state


@pytest.mark.parametrize("row", rows_of("libebur128"), ids=lambda row: row["rate_hz"])
def test_integrated_like_libebur128(row: dict[str, str]):
    rate_hz = int(row["rate_hz"])
    wave = random_music(rate_hz)
    difference_lu = (
        pyebur128.get_loudness_global(libebur128(wave, rate_hz)) - ours(wave, rate_hz).integrated_lufs
    )
    print(f"libebur128 − ours at {rate_hz} Hz: {difference_lu:+.5f} LU")
    assert difference_lu == pytest.approx(float(row["difference_lu"]), abs=float(row["bound_lu"]))


@pytest.mark.parametrize("row", rows_of("pyloudnorm DeMan"), ids=lambda row: row["rate_hz"])
def test_integrated_like_pyloudnorm(row: dict[str, str]):
    rate_hz = int(row["rate_hz"])
    wave = random_music(rate_hz)
    theirs = pyloudnorm.Meter(rate_hz, filter_class="DeMan").integrated_loudness(wave.astype(np.float64))
    difference_lu = theirs - ours(wave, rate_hz).integrated_lufs
    print(f"pyloudnorm DeMan − ours at {rate_hz} Hz: {difference_lu:+.5f} LU")
    assert difference_lu == pytest.approx(float(row["difference_lu"]), abs=float(row["bound_lu"]))


@pytest.mark.parametrize("row", rows_of("pyloudnorm default"), ids=lambda row: row["rate_hz"])
def test_why_pyloudnorms_default_filter_is_not_used(row: dict[str, str]):
    rate_hz = int(row["rate_hz"])
    tone = np.sin(2.0 * np.pi * 997.0 * np.arange(rate_hz * 5) / rate_hz).astype(np.float32)[:, None]
    theirs = pyloudnorm.Meter(rate_hz).integrated_loudness(tone.astype(np.float64))
    difference_lu = theirs - ours(tone, rate_hz).integrated_lufs
    assert difference_lu == pytest.approx(float(row["difference_lu"]), abs=float(row["bound_lu"]))


@pytest.mark.parametrize("row", rows_of("ffmpeg"), ids=lambda row: row["rate_hz"])
def test_integrated_like_ffmpeg(row: dict[str, str], tmp_path: Path):
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed")
    rate_hz = int(row["rate_hz"])
    wave = random_music(rate_hz)
    file = tmp_path / "noise.wav"
    soundfile.write(file, wave, rate_hz, subtype="FLOAT")
    run = subprocess.run(
        ["ffmpeg", "-i", file, "-af", "ebur128=peak=true+sample", "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    summary = run.stderr.rpartition("Summary:")[2]
    integrated = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    true_peak = re.search(r"True peak:\s+Peak:\s+(-?[\d.]+) dBFS", summary)
    assert integrated is not None
    assert true_peak is not None
    difference_lu = float(integrated[1]) - ours(wave, rate_hz).integrated_lufs
    assert difference_lu == pytest.approx(float(row["difference_lu"]), abs=float(row["bound_lu"]))
    # ffmpeg rounds to 0.1 dB and reads the highest point of a 4x grid (2x at 96 kHz), with some ripple.
    assert -0.35 <= float(true_peak[1]) - measure_peaks(wave, rate_hz).true_dbtp <= 0.1


def test_the_table_names_the_scale_factor():
    """The differences of the table are what the missing factor on the high-pass makes."""
    rows = rows_of("libebur128") + rows_of("pyloudnorm DeMan")
    assert {int(row["rate_hz"]) for row in rows} == set(RATES_HZ)
    for row in rows:
        scale = design_k_weighting(int(row["rate_hz"])).high_pass.b0
        assert float(row["difference_lu"]) == pytest.approx(-20.0 * math.log10(scale), abs=1e-5)


def test_range_like_pyloudnorm():
    """pyloudnorm moves its 3 s window by 90 ms, interpolates between ranks, and appends 1.5 s like ours."""
    wave = random_music(48_000, seconds=90)
    meter = pyloudnorm.Meter(48_000, filter_class="DeMan")
    theirs = meter.loudness_range(wave.astype(np.float64))
    mine = ours(wave, 48_000).range_lu
    print(f"range: pyloudnorm {theirs:.3f} LU, ours {mine:.3f} LU")
    assert theirs == pytest.approx(mine, abs=0.2)
    assert mine > 5.0


def test_range_of_libebur128_has_a_coarser_grid():
    """libebur128 moves its window by 1 s and appends nothing; Tech 3342 V4 §3.1 wants 10 values a second.

    On levels that change each second that is worth 2 LU; with its grid our own numbers give its answer.
    """
    wave = random_music(48_000, seconds=90)
    theirs = pyebur128.get_loudness_range(libebur128(wave, 48_000))
    energies = StepEnergies(48_000, 1)
    steps = energies.add(wave)[:, 0]
    seconds = steps.reshape(90, 100).sum(axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(seconds, 3).sum(axis=1) / (3 * 48_000)
    assert theirs == pytest.approx(range_lu(windows), abs=0.01)
    assert abs(theirs - ours(wave, 48_000).range_lu) > 1.0


def sparse_stem(seed: int, rate_hz: int) -> np.ndarray:
    """3 to 60 s of entries of noise, each at its own level, with rests between: a stem that seldom plays."""
    rng = np.random.default_rng(seed)
    frames = int(rng.uniform(3.2, 60.0) * rate_hz)
    wave = np.zeros((frames, 1), dtype=np.float32)
    begin = int(rng.exponential(2.0) * rate_hz)
    while begin < frames:
        length = min(frames - begin, int(rng.uniform(0.1, 3.0) * rate_hz))
        wave[begin : begin + length, 0] = 10 ** (rng.uniform(-40, -10) / 20) * rng.standard_normal(length)
        begin += length + int(rng.exponential(2.0) * rate_hz)
    return wave


def windows_of(hops: np.ndarray, length: int, frames: int) -> np.ndarray:
    return np.lib.stride_tricks.sliding_window_view(hops, length).sum(axis=1) / frames


def test_range_of_sparse_stems_differs_from_libebur128_by_grid_and_silence_only():
    """On its grid of 1 s and without the 1.5 s of silence our own numbers are its numbers, on every one.

    What the silence is worth (EBU Tech 3342 V4 §5 appends it for files): little in most, much in a few.
    """
    rate_hz = 16_000  # a third of the time, and nothing of the question depends on it
    worth_lu: list[float] = []
    for seed in range(30):
        wave = sparse_stem(seed, rate_hz)
        theirs = pyebur128.get_loudness_range(libebur128(wave, rate_hz))
        steps = StepEnergies(rate_hz, 1).add(wave)[:, 0]
        seconds = steps[: steps.size // 100 * 100].reshape(-1, 100).sum(axis=1)
        assert theirs == pytest.approx(range_lu(windows_of(seconds, 3, 3 * rate_hz)) or 0.0, abs=0.01)
        hops = steps[: steps.size // 10 * 10].reshape(-1, 10).sum(axis=1)
        without = range_lu(windows_of(hops, 30, 3 * rate_hz))
        assert without is not None
        worth_lu.append(abs(ours(wave, rate_hz).range_lu - without))
    print(f"the silence: median {np.median(worth_lu):.2f} LU, at most {max(worth_lu):.2f} LU")
    assert 0.02 < np.median(worth_lu) < 0.4
    assert 1.0 < max(worth_lu) < 6.0


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 88_200])
def test_true_peak_like_libebur128(rate_hz: int):
    """libebur128 takes the highest point of a 4x grid, which under-reads up to 0.55 dB at 0.45 of the rate.

    Below 0.2 of the rate, where this noise has its energy, that is 0.1 dB; its filter's ripple is under 0.05.
    """
    for seed in range(5):
        wave = random_music(rate_hz, seconds=2, seed=seed)
        theirs = to_db(pyebur128.get_true_peak(libebur128(wave, rate_hz), 0))
        assert -0.15 <= theirs - measure_peaks(wave, rate_hz).true_dbtp <= 0.05
