"""Loudness and Loudness Range against EBU Tech 3341, Tech 3342 and ITU-R BS.2217."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from audit.measure.loudness import LoudnessMeter, measure_loudness
from audit.results import Loudness
from tests.published import tech3341
from tests.published.tables import read_table
from tests.shared import shared_folder

RATES_HZ = (44_100, 48_000, 96_000)
EXACT_LU = 0.01
"""Against the exact column, at 48 kHz. The published 0.1 LU would hide most deviations of known meters."""


def reading(loudness: Loudness, measure: str) -> float:
    value = {
        "integrated": loudness.integrated_lufs,
        "momentary": loudness.max_momentary_lufs,
        "short_term": loudness.max_short_term_lufs,
    }[measure]
    assert value is not None
    return value


def measure(samples: tech3341.Signal, rate_hz: int) -> Loudness:
    weights = tech3341.SURROUND_WEIGHTS if samples.shape[1] == 5 else None
    meter = LoudnessMeter(rate_hz, samples.shape[1], weights=weights)
    meter.add(samples.astype(np.float32))
    return meter.result()


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize(
    "row", read_table("tech3341_loudness.csv"), ids=lambda row: f"{row['case']}-{row['measure']}"
)
def test_tech3341(row: dict[str, str], rate_hz: int):
    signals = tech3341.loudness_signals(int(row["case"]), rate_hz)
    assert len(signals) == (20 if row["case"] in ("10", "13") else 1)
    for samples in signals:
        lufs = reading(measure(samples, rate_hz), row["measure"])
        assert lufs == pytest.approx(float(row["published_lufs"]), abs=float(row["tolerance_lu"]))
        if rate_hz == 48_000:
            assert lufs == pytest.approx(float(row["exact_48k"]), abs=EXACT_LU)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize(("case", "measure_name"), [(11, "short_term"), (14, "momentary")])
def test_tech3341_maxima_rise_while_the_file_runs(case: int, measure_name: str, rate_hz: int):
    """Cases 11 and 14: after each burst the maximum so far is that burst's level, ±0.1 LU."""
    meter = LoudnessMeter(rate_hz, 2)
    shown = []
    for level_lufs, piece in tech3341.rising_bursts(case, rate_hz):
        meter.add(piece.astype(np.float32))
        shown.append(reading(meter.result(), measure_name) - level_lufs)
    assert len(shown) == 20
    assert max(map(abs, shown)) <= 0.1


@pytest.mark.parametrize(
    ("case", "window_s", "measure_name"), [(9, 3.0, "short_term"), (12, 0.4, "momentary")]
)
def test_tech3341_steady_windows(case: int, window_s: float, measure_name: str):
    """Cases 9 and 12: every window of the repeating signal reads −23.0 ±0.1 LUFS, not only the loudest."""
    samples = tech3341.loudness_signals(case, 48_000)[0]
    begins_s = np.arange(0.0, 3.0, 0.1)
    for begin_s in begins_s:
        begin = round(begin_s * 48_000)
        window = samples[begin : begin + round(window_s * 48_000)]
        assert reading(measure(window, 48_000), measure_name) == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("rate_hz", RATES_HZ)
@pytest.mark.parametrize("row", read_table("tech3342_range.csv"), ids=lambda row: row["case"])
def test_tech3342(row: dict[str, str], rate_hz: int):
    levels_dbfs = [float(level) for level in row["levels_dbfs"].split()]
    range_lu = measure_loudness(tech3341.range_signal(levels_dbfs, rate_hz), rate_hz).range_lu
    assert range_lu == pytest.approx(float(row["published_lu"]), abs=float(row["tolerance_lu"]))
    assert range_lu == pytest.approx(float(row["exact"]), abs=0.02)


def test_tech3342_repeating_the_signal_keeps_the_range():
    """Tech 3342 §3: a programme repeated whole has the same Loudness Range."""
    once = tech3341.range_signal([-50.0, -35.0, -20.0, -35.0, -50.0], 48_000)
    twice = measure_loudness(np.concatenate((once, once)), 48_000).range_lu
    assert twice == pytest.approx(measure_loudness(once, 48_000).range_lu, abs=0.02)


def test_bs1770_calibration_point():
    """BS.1770-5 Annex 1: a full-scale 997 Hz sine on one channel reads −3.01 LKFS."""
    samples = tech3341.tone(48_000, [(10.0, 0.0)], freq_hz=997.0)[:, :1]
    assert measure_loudness(samples, 48_000).integrated_lufs == pytest.approx(-3.01, abs=0.005)


def test_tech3341_calibration_check():
    """Tech 3341 §2.9: stereo 1 kHz at −18 dBFS reads −18.0 LUFS; a correct meter −17.993."""
    samples = tech3341.tone(48_000, [(10.0, -18.0)])
    assert measure_loudness(samples, 48_000).integrated_lufs == pytest.approx(-17.993, abs=0.002)


@pytest.mark.parametrize(
    ("file", "published_lkfs", "libebur128_lkfs"),
    [("1770-2_Comp_RelGateTest.wav", -10.0, -10.029), ("1770-2_Comp_AbsGateTest.wav", -69.5, -69.452)],
)
def test_bs2217_compliance_files(file: str, published_lkfs: float, libebur128_lkfs: float):
    """Report ITU-R BS.2217-2 (2016): ±0.1 LU; beside it what libebur128 reads."""
    samples, rate_hz = soundfile.read(shared_folder("bs2217") / file, always_2d=True)
    lufs = measure_loudness(samples, rate_hz).integrated_lufs
    assert lufs == pytest.approx(published_lkfs, abs=0.1)
    assert lufs == pytest.approx(libebur128_lkfs, abs=0.002)
