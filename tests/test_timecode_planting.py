"""Timecode in real files: the truth of clean shows, and every fault that is planted into one is found.

Prints its table with `pytest -s`: fault, size, planted, found, told besides.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.signal import butter, sosfilt

from audit.demo.timecode import encode_timecode
from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Show
from audit.findings import Finding, Severity, ShowAudit
from audit.folder.walk import walk
from audit.pipeline.song.listen import listen
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.timecode import FPS_25, FPS_29_97, FPS_30, FrameRate, Label, index_of, label_at
from tests import ltc
from tests.shared import shared_folder
from tests.shows import OrdinaryShow, changed, copied

Wave = np.ndarray
TITLE = "Kettle at Midnight"
RULES_HERE = tuple(rule for rule in RULES if rule.family == "timecode")


def test_the_corpus_reads_as_its_truth_says(corpus_scan: ShowAudit):
    """Second implementation: the corpus's timecode was written by libltc's encoder."""
    corpus = shared_folder("corpus")
    truth = {song["name"]: song for song in json.loads((corpus / "truth.json").read_text())["songs"]}
    assert len(corpus_scan.songs) == len(truth) >= 5
    for song in corpus_scan.songs:
        planted = truth[song.evidence.name]["timecode"]
        track = song.evidence.timecode
        assert track is not None
        assert track.first.text(track.rate) == planted["start"]
        assert track.rate == FPS_25
        assert abs(track.start_s * 48_000 - planted["start_sample"]) < 12
        assert (track.channel, track.frames) == (0, planted["frames"])
        assert track.level_dbfs == pytest.approx(planted["level_dbfs"], abs=0.1)
        assert (track.jump_count, abs(track.off_ppm) < 1) == (0, True)
    told = [f for f in corpus_scan.all_findings() if f.rule.startswith("timecode")]
    assert [f for f in told if f.severity is not Severity.NOTE] == []


def test_the_ordinary_show_reads_as_its_truth_says(ordinary_scan: ShowAudit, ordinary: OrdinaryShow):
    checked = 0
    for song, truth in zip(ordinary_scan.songs, ordinary.songs, strict=True):
        track = song.evidence.timecode
        assert (track is None) is (truth.timecode is None), truth.title
        if track is None or truth.timecode is None:
            continue
        planted = truth.timecode
        assert (track.first, track.rate, track.frames) == (planted.start, planted.rate, planted.frames)
        assert track.last == label_at(
            index_of(planted.start, planted.rate) + planted.frames - 1, planted.rate
        )
        assert track.channel == planted.channel
        assert track.start_s * ordinary.rate_hz == pytest.approx(planted.first_sample, abs=2)
        assert track.level_dbfs == pytest.approx(planted.level_dbfs, abs=0.05)
        assert (track.jump_count, track.user_bits) == (0, (0,) * 8)
        assert abs(track.off_ppm) < 1
        checked += 1
    assert checked >= 5
    notes = [f for f in ordinary_scan.all_findings() if f.rule.startswith("timecode")]
    assert [(f.rule, f.severity.value, len(f.songs)) for f in notes] == [("timecode-level", "note", checked)]


# The planting lab.


def code(start: str, frames: int, rate: FrameRate, rate_hz: int, **more: object) -> Wave:
    numbers = Label(*(int(part) for part in start.split(":")))
    wave = encode_timecode(numbers, frames, rate, rate_hz, level_dbfs=-3.0, **more)  # type: ignore[arg-type]
    return np.asarray(wave, dtype=np.float64)


def fitted(wave: Wave, length: int) -> Wave:
    return np.pad(wave, (0, max(0, length - len(wave))))[:length]


def gap(frames: int) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        frame = rate_hz // 25
        wave[101 * frame : (101 + frames) * frame] = 0.0
        return wave

    return plant


def jump(frames: int) -> Callable[[Wave, int], Wave]:
    """From frame 101 on the numbers are `frames` further (or less far)."""

    def plant(wave: Wave, rate_hz: int) -> Wave:
        frame = rate_hz // 25
        after = label_at(index_of(Label(2), FPS_25) + 101 + frames, FPS_25)
        rest = code(after.text(FPS_25), len(wave) // frame - 101, FPS_25, rate_hz)
        return np.concatenate([wave[: 101 * frame], fitted(rest, len(wave) - 101 * frame)])

    return plant


def repeated(times: int) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        frame = rate_hz // 25
        one = wave[100 * frame : 101 * frame]
        return np.concatenate([wave[: 101 * frame], np.tile(one, times), wave[101 * frame :]])[: len(wave)]

    return plant


def other_rate(rate: FrameRate) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        frames = int(len(wave) / rate_hz * rate.frames_per_s)
        return fitted(code("02:00:00:00", frames, rate, rate_hz), len(wave))

    return plant


def other_hour(hour: int, second: int) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        frames = len(wave) * 25 // rate_hz
        return fitted(code(f"{hour}:0:{second}:0", frames, FPS_25, rate_hz), len(wave))

    return plant


def flagged(*, drop: bool, fps: int) -> Callable[[Wave, int], Wave]:
    """The drop-frame flag on numbers that are counted without (25, or 29.97 across a minute)."""

    def plant(wave: Wave, rate_hz: int) -> Wave:
        speed = 25.0 if fps == 25 else 30_000 / 1001
        half = rate_hz / speed / 160
        count = int(len(wave) / (160 * half))
        addresses = ltc.count_frames("02:00:55:00", count, fps=fps, drop=False)
        bits = np.array([ltc.word(*address, drop=drop, fps=fps) for address in addresses]).ravel()
        edges = np.sort(np.concatenate([2 * np.arange(len(bits)), 2 * np.flatnonzero(bits) + 1])) * half
        wave[:] = np.where(np.searchsorted(edges, np.arange(len(wave)), side="right") % 2, 0.7, -0.7)
        wave[round(160 * half * count) :] = 0.0
        return wave

    return plant


def quieter(gain_db: float) -> Callable[[Wave, int], Wave]:
    return lambda wave, rate_hz: wave * 10 ** (gain_db / 20)


def clipped(wave: Wave, rate_hz: int) -> Wave:
    """A dull line, overdriven off its centre."""
    dull = np.asarray(sosfilt(butter(4, 3000, fs=rate_hz, output="sos"), wave))
    return np.clip(14 * dull + 8.5 * (dull != 0), -1, 1 - 2**-15)


def clock(off_ppm: float) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        places = np.arange(len(wave)) * (1 + off_ppm * 1e-6)
        return np.interp(places, np.arange(len(wave)), wave, right=0.0)

    return plant


def backwards(wave: Wave, rate_hz: int) -> Wave:
    return wave[::-1]


def noise(wave: Wave, rate_hz: int) -> Wave:
    return np.random.default_rng(6).uniform(-0.7, 0.7, len(wave))


def trimmed(start_s: float, end_s: float) -> Callable[[Wave, int], Wave]:
    def plant(wave: Wave, rate_hz: int) -> Wave:
        wave[: round(start_s * 25) * rate_hz // 25] = 0.0
        wave[len(wave) - round(end_s * 25) * rate_hz // 25 :] = 0.0
        return wave

    return plant


@dataclass(frozen=True, kw_only=True)
class Lab:
    """One fault and what has to be told of it."""

    plant: Callable[[Wave, int], Wave]
    rule: str
    value: float | None = None
    within: float = 0.01
    at_frame: int | None = None  # of timecode, 25 a second


FAULTS = {
    "gap of 1 frame": Lab(plant=gap(1), rule="timecode-jump", value=1, at_frame=101),
    "gap of 25": Lab(plant=gap(25), rule="timecode-jump", value=25, at_frame=101),
    "jump +1": Lab(plant=jump(1), rule="timecode-jump", value=1, at_frame=101),
    "jump +1000": Lab(plant=jump(1000), rule="timecode-jump", value=1000, at_frame=101),
    "jump −50": Lab(plant=jump(-50), rule="timecode-jump", value=49, at_frame=101),
    "frame repeated once": Lab(plant=repeated(1), rule="timecode-jump", value=1, at_frame=101),
    "frame repeated 10 times": Lab(plant=repeated(10), rule="timecode-jump", value=10, at_frame=101),
    "backwards": Lab(plant=backwards, rule="timecode-jump"),
    "rate 30": Lab(plant=other_rate(FPS_30), rule="timecode-rate"),
    "rate 29.97": Lab(plant=other_rate(FPS_29_97), rule="timecode-rate"),
    "flag at 25": Lab(plant=flagged(drop=True, fps=25), rule="timecode-flag"),
    "another song's hour": Lab(plant=other_hour(3, 5), rule="timecode-overlap"),
    "another song's hour, 1 s": Lab(plant=other_hour(1, 16), rule="timecode-overlap", value=25),
    "level −41 dBFS": Lab(plant=quieter(-38), rule="timecode-level", value=-41, within=0.1),
    "level −60 dBFS": Lab(plant=quieter(-57), rule="timecode-level", value=-60, within=0.1),
    "clipped": Lab(plant=clipped, rule="timecode-level"),
    "clock +300 ppm": Lab(plant=clock(300), rule="timecode-rate", value=300, within=2),
    "clock −120 ppm": Lab(plant=clock(-120), rule="timecode-rate", value=-120, within=2),
    "noise": Lab(plant=noise, rule="timecode-unreadable", value=0),
    "late start": Lab(plant=trimmed(8, 0), rule="timecode-late"),
    "early end": Lab(plant=trimmed(0, 6), rule="timecode-late"),
}


def heard(show: OrdinaryShow) -> dict[str, SongEvidence]:
    """Every song of the show as the scan hears it, by title; in this process, for speed."""
    walked = {song.name: song for song in walk(show.path).songs}
    return {song.title: listen(walked[song.folder], lambda *_: None) for song in show.songs}


def judged(songs: dict[str, SongEvidence], path: Path) -> list[Finding]:
    """What the rules of timecode say, but for notes."""
    evidence = tuple(songs.values())
    show = Show(name=path.name, path=path, songs=tuple(song.song for song in evidence))
    audit = judge(ShowEvidence(show=show, songs=evidence), RULES_HERE, version="test")
    return [f for f in audit.all_findings() if f.severity is not Severity.NOTE]


@pytest.mark.parametrize("name", FAULTS)
def test_every_planted_fault_is_found_and_nothing_besides(name: str, base: Base, tmp_path: Path):
    lab = FAULTS[name]
    broken = copied(base.show, tmp_path, TITLE)
    changed(broken.file(TITLE, "LTC.wav"), lambda w, rate: lab.plant(w[:, 0].copy(), rate)[:, None])
    found = judged({**base.songs, **heard(broken)}, tmp_path)
    wanted = [f for f in found if f.rule == lab.rule]
    print(f"{name}: found {len(wanted)}, besides {sorted({f.rule for f in found} - {lab.rule})}")
    assert len(wanted) == len(found) == 1, found
    assert "02 - Kettle at Midnight" in wanted[0].songs
    if lab.value is not None:
        assert wanted[0].value == pytest.approx(lab.value, abs=lab.within)
    if lab.at_frame is not None:
        assert wanted[0].at_s == pytest.approx(lab.at_frame / 25, abs=0.041)


@pytest.mark.parametrize("flag", [True, False])
def test_flag_and_count_at_29_97(base: Base, tmp_path: Path, flag: bool):
    """All songs at 29.97 non-drop; one of them carries the drop-frame flag, or none does."""
    show = copied(base.show, tmp_path / "show")
    for song in show.songs:
        plant = flagged(drop=flag and song.title == TITLE, fps=30)
        changed(show.file(song.title, "LTC.wav"), lambda w, rate, plant=plant: plant(w[:, 0], rate)[:, None])
    told = [(f.rule, f.songs) for f in judged(heard(show), tmp_path) if f.rule != "timecode-overlap"]
    assert told == ([("timecode-flag", ("02 - Kettle at Midnight",))] if flag else [])


@dataclass(frozen=True, kw_only=True)
class Base:
    """Click, bass and timecode of three songs, as they are and as they were heard."""

    show: OrdinaryShow
    songs: dict[str, SongEvidence]


@pytest.fixture(scope="module")
def base(ordinary_48k: OrdinaryShow, tmp_path_factory: pytest.TempPathFactory) -> Base:
    path = tmp_path_factory.mktemp("timecode") / "show"
    show = copied(ordinary_48k, path, "Pavement Almanac", TITLE, "Downhill Postman")
    for song in show.songs:
        for stem in song.stems:
            if stem.file not in ("Click.wav", "Bass.wav", "LTC.wav"):
                show.file(song.title, stem.file).unlink()
    songs = heard(show)
    assert judged(songs, path) == []
    return Base(show=show, songs=songs)
