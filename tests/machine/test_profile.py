"""A machine's profile: what is written is read back; every mistake is told; nothing hostile passes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from audit.errors import SettingsError
from audit.load.costs import CODECS
from audit.load.figure import Figure, Provenance
from audit.load.profile import Observed
from audit.machine.classes import CLASSES, DRIVES, class_names, class_profile
from audit.machine.profile import read_profile, staleness
from audit.machine.written import profile_text, write_profile
from audit.results.load import PastRehearsal

PROFILE = replace(
    CLASSES["laptop-quad-sata-ssd"],
    name='Front "of house"\n\x1b[31m laptop',
    outputs=8,
    cost={"pcm24": Figure(value=6.9, unit="ns", provenance=Provenance.MEASURED, sd=0.2)},
    rehearsal_cost={"mix": Figure(value=0.3, unit="ns", provenance=Provenance.MEASURED)},
    engine={"frames": 128.0, "rate_hz": 44100.0},
    host={"os": "Linux", "date": "2026-11-01"},
    warm_suspect=True,
    observed=(
        Observed(song="Low Tide", cpu_pct=35.0, model_pct=28.0),  # of a file that did not keep the buffer
        Observed(song="Low Tide", cpu_pct=40.0, model_pct=33.0, frames=128, rate_hz=44100),
    ),
)
PAST = (
    PastRehearsal(song="Low Tide", clean=False, day="2026-11-02", on_mains=True, frames=256, headroom=3.5),
)


def test_what_is_written_is_read_back(tmp_path: Path):
    write_profile(tmp_path / "foh.toml", PROFILE, PAST)
    assert read_profile(tmp_path / "foh.toml") == (PROFILE, PAST)


def test_missing_numbers_come_from_the_class(tmp_path: Path):
    path = tmp_path / "old.toml"
    path.write_text('schema = 1\nclass = "laptop-dual-disk"\n[cpu]\nspeed = { v = 0.5, prov = "measured" }\n')
    profile, _ = read_profile(path)
    assert profile.speed.value == 0.5
    assert profile.latency == CLASSES["laptop-dual-disk"].latency
    assert profile.name == "old.toml"


WRONG = [
    ("schema = 2", "schema: must be 1"),
    ('schema = 1\nclass = "abacus"', "class: there is no such class"),
    ("schema = 1\nname = 7", "name: must be a name"),
    ("schema = 1\ncpu = 3", "cpu: must be a table"),
    ("schema = 1\n[cpu]\nspeed = 0.7", "cpu.speed: must be written as"),
    ('schema = 1\n[cpu]\nspeed = { v = -1, prov = "measured" }', "cpu.speed.v: must be above 0"),
    ('schema = 1\n[cpu]\nspeed = { v = nan, prov = "measured" }', "cpu.speed.v: must be a number"),
    ('schema = 1\n[cpu]\nspeed = { v = true, prov = "measured" }', "cpu.speed.v: must be a number"),
    ('schema = 1\n[cpu]\nspeed = { v = 1, prov = "hearsay" }', "cpu.speed.prov: must be one of measured"),
    ('schema = 1\n[cpu]\nspeed = { v = 1, unit = "s", prov = "measured" }', 'cpu.speed.unit: must be "1"'),
    ('schema = 1\n[cpu]\ncores = { v = 0.5, prov = "measured" }', "cpu.cores: must be 1 or more"),
    ('schema = 1\n[cpu.cost]\nvinyl = { v = 1, prov = "measured" }', "cpu.cost.vinyl: there is no such cost"),
    ("schema = 1\nengine = { speed = 3 }", "engine.speed: there is no such key"),
    ("schema = 1\nlimits = { cpu = 0 }", "limits.cpu: must be above 0"),
    ("schema = 1\noutputs = 1.5", "outputs: must be a whole number"),
    ("schema = 1\nobserved = 3", "observed: must be written as"),
    ("schema = ", "is no valid TOML"),
]


@pytest.mark.parametrize(("text", "words"), WRONG, ids=[words for _, words in WRONG])
def test_mistakes_are_named(tmp_path: Path, text: str, words: str):
    (tmp_path / "m.toml").write_text(text)
    with pytest.raises(SettingsError) as caught:
        read_profile(tmp_path / "m.toml")
    assert f"m.toml: {words}" in str(caught.value)


def test_all_mistakes_are_told_at_once(tmp_path: Path):
    (tmp_path / "m.toml").write_text("schema = 1\noutputs = -1\nname = 3\nlimits = { disk = -1 }\n")
    with pytest.raises(SettingsError) as caught:
        read_profile(tmp_path / "m.toml")
    assert len(str(caught.value).splitlines()) == 3


def test_a_file_that_is_no_profile_is_refused(tmp_path: Path):
    (tmp_path / "m.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="is no text"):
        read_profile(tmp_path / "m.toml")
    with pytest.raises(SettingsError, match="cannot be read"):
        read_profile(tmp_path / "absent.toml")


@pytest.mark.parametrize(("age", "told"), [(90, None), (91, "the profile is 91 days old")])
def test_old_profiles(age: int, told: str | None):
    today = date.fromordinal(date(2026, 11, 1).toordinal() + age)
    assert staleness(PROFILE, today) == told


def test_every_class_says_where_its_disk_is_known_from():
    assert len(CLASSES) == 5
    for profile in CLASSES.values():
        assert profile.latency.provenance is not Provenance.MEASURED
        assert profile.latency.source or profile.latency.provenance is Provenance.ESTIMATE
        assert profile_text(profile)


def test_a_class_takes_a_drive():
    names = class_names()
    assert len(names) == len(CLASSES) * (1 + len(DRIVES))
    plugged = class_profile("laptop-8core-nvme+usb2-disk")
    assert plugged is not None
    assert plugged.transfer == DRIVES["usb2-disk"].transfer
    assert plugged.speed == CLASSES["laptop-8core-nvme"].speed
    assert class_profile("laptop-8core-nvme+tape") is None
    assert class_profile("abacus") is None


def test_the_cost_table_has_every_codec_above_nothing():
    assert all(codec.decode_ns > 0 and codec.parse_s > 0 for codec in CODECS.values())
