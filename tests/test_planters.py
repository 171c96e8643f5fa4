"""The planters of tests/shows.py and audit/demo/faults.py break what they are given, and a scan says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.demo import faults
from audit.findings import Severity
from audit.pipeline.scan import scan_show
from tests import shows
from tests.shows import OrdinaryShow, copied

pytestmark = pytest.mark.usefixtures("quick_workers")

LADDER, TURNPIKE, PEPPER = "Half a Ladder", "Crooked Turnpike", "Slow Pepper"


def test_each_planted_fault_is_told_under_its_own_rule(ordinary_48k: OrdinaryShow, tmp_path: Path):
    broken = copied(ordinary_48k, tmp_path, LADDER, TURNPIKE, PEPPER)
    shows.plant_clipping(broken.file(LADDER, "Bass.wav"), over_db=6)
    shows.plant_opposite_sides(broken.file(LADDER, "Pad.wav"))
    shows.plant_early_end(broken.file(LADDER, "Drums.wav"), 6.0)
    shows.plant_copy(broken.file(TURNPIKE, "Synth.wav"), broken.file(TURNPIKE, "Perc.wav"))
    shows.plant_bits(broken.file(TURNPIKE, "Drums.wav"), "PCM_16")
    shows.plant_silence(broken.file(TURNPIKE, "Click.wav"))
    shows.plant_dc(broken.file(PEPPER, "Bass.wav"), -0.01)
    shows.plant_rate(broken.file(PEPPER, "Keys.wav"), 44_100)
    faults.cut_short(broken.file(PEPPER, "Drums.wav"), 0.5)
    faults.left_unfinished(broken.file(PEPPER, "Horns.wav"))
    told = {
        (finding.songs[0][5:], finding.rule, finding.stem)
        for finding in scan_show(broken.path, jobs=2).all_findings()
        if finding.severity is not Severity.NOTE  # hot timecode, a late click: the show's own traits
    }
    assert told == {
        (LADDER, "sample-clipping", "Bass.wav"),
        (LADDER, "opposite-polarity", "Pad.wav"),
        (LADDER, "length-mismatch", "Drums.wav"),
        (TURNPIKE, "duplicate-audio", "Perc.wav"),
        (TURNPIKE, "bit-depth-mismatch", "Drums.wav"),
        (TURNPIKE, "silent-stem", "Click.wav"),
        (PEPPER, "dc-offset", "Bass.wav"),
        (PEPPER, "sample-rate-mismatch", "Keys.wav"),
        (PEPPER, "truncated-file", "Drums.wav"),
        (PEPPER, "unfinished-header", "Horns.wav"),
    }


@pytest.fixture
def ramp(tmp_path: Path) -> Path:
    """A stem whose samples all differ."""
    path = tmp_path / "Ramp.wav"
    soundfile.write(path, np.linspace(0.01, 0.5, 1000), 48_000, subtype="PCM_24")
    return path


def test_a_delay_moves_every_sample_and_keeps_the_length(ramp: Path):
    before, _ = soundfile.read(ramp)
    shows.plant_delay(ramp, 25)
    shows.plant_delay(ramp, -5)
    after, _ = soundfile.read(ramp)
    assert len(after) == 1000
    assert np.array_equal(after[20:-5], before[:-25])
    assert not after[:20].any()
    assert not after[-5:].any()


def test_a_gain_is_a_gain_and_spill_adds_up(ramp: Path, tmp_path: Path):
    before, _ = soundfile.read(ramp)
    other = tmp_path / "Other.wav"
    other.write_bytes(ramp.read_bytes())
    shows.plant_gain(ramp, 3.0)
    assert soundfile.read(ramp)[0] == pytest.approx(before * 10 ** (3 / 20), abs=1e-6)
    shows.plant_spill(ramp, other, -20.0)
    assert soundfile.read(ramp)[0] == pytest.approx(before * (10 ** (3 / 20) + 0.1), abs=1e-6)


def test_a_change_that_changes_nothing_is_refused(ramp: Path):
    with pytest.raises(AssertionError):
        shows.plant_gain(ramp, 0.0)
    with pytest.raises(AssertionError):
        shows.plant_bits(ramp, "PCM_24")
    with pytest.raises(ValueError, match="cannot take 0 frames"):
        faults.ended_early(np.zeros((10, 1), dtype=np.float32), 0)


def test_only_a_plain_wav_can_be_left_unfinished(tmp_path: Path):
    path = tmp_path / "Organ.flac"
    soundfile.write(path, np.zeros(100), 48_000, subtype="PCM_24")
    with pytest.raises(ValueError, match=r"Organ\.flac is no plain WAV"):
        faults.left_unfinished(path)


def test_decay_changes_one_byte(ramp: Path):
    before = ramp.read_bytes()
    faults.decayed(ramp, 0.5)
    differing = [place for place, (a, b) in enumerate(zip(before, ramp.read_bytes(), strict=True)) if a != b]
    assert differing == [len(before) // 2]


def test_an_unknown_title_is_no_copy(ordinary_48k: OrdinaryShow, tmp_path: Path):
    with pytest.raises(AssertionError, match="does not have"):
        copied(ordinary_48k, tmp_path, "No Such Song")
