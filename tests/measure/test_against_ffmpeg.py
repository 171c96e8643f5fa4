"""ffmpeg's astats filter as a second implementation of RMS, mean, peak counts and bits in use."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
import soundfile

from audit.measure.bits import BitsMeter
from audit.measure.clipping import ClippingMeter
from audit.measure.finite import FiniteGate
from audit.measure.flat_tops import FlatTopMeter
from audit.measure.levels import LevelMeter
from audit.units import to_db
from tests import signals
from tests.measure.feeding import fed
from tests.shared import shared_folder

RATE_HZ = 48_000
SCALE_DB = to_db(32767 / 32768)


def astats(path: Path) -> dict[str, float]:
    """The first channel's statistics by name; skips the test where ffmpeg is not installed."""
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed: its statistics cannot be compared")
    done = subprocess.run(
        ["ffmpeg", "-hide_banner", "-nostdin", "-i", str(path), "-af", "astats", "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    first = done.stderr.split("Channel: 1")[1].split("Channel: 2")[0].split("Overall")[0]
    return {name: float(value) for name, value in re.findall(r"\] ([A-Z][\w ]+): (-?[\d.]+)\s", first)}


@pytest.fixture
def told(tmp_path):
    def tell(samples: signals.Samples, subtype: str) -> dict[str, float]:
        path = tmp_path / "take.wav"
        soundfile.write(path, samples, RATE_HZ, subtype=subtype)
        return astats(path)

    return tell


@pytest.mark.parametrize(
    "take",
    [
        signals.music_bed(7.3, channels=1)[0],
        signals.dc(signals.speech(12.0)[0], 0.01)[0],
        signals.sine(997.0, 3.0, peak=1.0)[0],
    ],
    ids=["music", "speech with an offset", "sine"],
)
def test_rms_mean_and_crest(told, take):
    samples = signals.quantise(take, 16)
    theirs, ours = told(samples, "PCM_16"), fed(LevelMeter(RATE_HZ, 1), samples).result()
    # astats takes 32767 for full scale, we 32768; it prints six decimals.
    assert ours.rms_dbfs == pytest.approx(theirs["RMS level dB"] + SCALE_DB, abs=2e-6)
    assert ours.dc_mean == pytest.approx(theirs["DC offset"] * 32767 / 32768, abs=1e-6)
    # Its crest factor is over the whole file, ours over the sounding steps: less by what the rests are worth.
    rests_db = ours.active_rms_dbfs - ours.rms_dbfs
    assert ours.crest_db == pytest.approx(to_db(theirs["Crest factor"]) - rests_db, abs=1e-4)


def test_mean_rms_and_peak_of_a_dozen_stems(told):
    files = [
        file for file in sorted(shared_folder("corpus").glob("*/*.flac"))
        if file.stem not in ("Click", "Guide", "Timecode")
    ][::2][:12]  # fmt: skip
    assert len(files) == 12
    for file in files:
        samples = soundfile.read(file, frames=20 * RATE_HZ, dtype="float32", always_2d=True)[0][:, :1]
        samples = signals.quantise(samples, 16)
        if not samples.any():
            continue
        theirs, ours = told(samples, "PCM_16"), fed(LevelMeter(RATE_HZ, 1), samples).result()
        assert ours.rms_dbfs == pytest.approx(theirs["RMS level dB"] + SCALE_DB, abs=2e-6), file
        assert ours.dc_mean == pytest.approx(theirs["DC offset"] * 32767 / 32768, abs=1e-6), file
        # Nothing was cut off: a few equal samples at a dark sound's peak have no corner, and clipping leaves
        # a flat factor of 20 dB and more (below).
        plateaus = fed(FlatTopMeter(RATE_HZ, 1, bits=16, is_float=False), samples).result().plateaus
        assert theirs["Flat factor"] < 10.0, file
        assert plateaus == 0, file


def test_clipped_samples_at_full_scale(told):
    # A period of exactly 480 samples, cut off at ±32767: every run has one length. "Peak count" is the number
    # of samples at the highest and at the lowest level.
    samples = signals.clip(signals.sine(100.0, 2.0, phase_deg=0.3)[0], 3.0, level=32767 / 32768)[0]
    samples = signals.quantise(samples, 16)
    theirs = told(samples, "PCM_16")
    ours = fed(ClippingMeter(RATE_HZ, 1, bits=16, is_float=False), samples).result()
    assert ours.runs == 400
    assert ours.runs * ours.longest_frames == theirs["Peak count"]


def test_plateaus_after_turning_down(told):
    samples = signals.clip(signals.sine(100.0, 2.0, phase_deg=0.3)[0], 3.0)[0]
    samples = signals.quantise(signals.turn(samples, -5.0), 16)
    theirs = told(samples, "PCM_16")
    ours = fed(FlatTopMeter(RATE_HZ, 1, bits=16, is_float=False), samples).result()
    assert theirs["Flat factor"] > 20.0  # dB: long runs at the peak level
    assert ours.plateaus == 400
    # A code or two beside the plateau may be within its tolerance.
    assert ours.plateaus * ours.longest_frames == pytest.approx(theirs["Peak count"], rel=0.05)


@pytest.mark.parametrize("really", [16, 20, 24])
def test_bits_in_use(tmp_path, really):
    path = tmp_path / "take.wav"
    samples = signals.quantise(signals.noise(1.0)[0], really)
    soundfile.write(path, samples, RATE_HZ, subtype="PCM_24")
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed: its statistics cannot be compared")
    done = subprocess.run(
        ["ffmpeg", "-hide_banner", "-nostdin", "-i", str(path), "-af", "astats", "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    # ffmpeg decodes 24 bits to 32 with zeros below: "Bit depth: 16/32".
    theirs = int(re.findall(r"Bit depth: (\d+)/", done.stderr)[0])
    assert fed(BitsMeter(1, 24, False), samples).result() == theirs == really


def test_not_a_number(tmp_path):
    samples = signals.noise(1.0)[0]
    samples[500:503] = float("nan")
    samples[900] = float("inf")
    path = tmp_path / "take.wav"
    soundfile.write(path, samples, RATE_HZ, subtype="FLOAT")
    theirs, gate = astats(path), FiniteGate(1)
    gate.pass_on(samples)
    assert gate.count == theirs["Number of NaNs"] + theirs["Number of Infs"] == 4
