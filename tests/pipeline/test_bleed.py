"""From files to findings: click and timecode added to stems of the ordinary show, and stems that stay
silent."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Song
from audit.findings import Severity
from audit.folder.walk import walk
from audit.measure.leak_search import steady_places
from audit.measure.leak_spectra import spectra
from audit.pipeline.song import bleed
from audit.pipeline.song.bleed import _held, _SourceSpectra
from audit.pipeline.song.listen import listen
from tests.evidence import findings, show
from tests.shows import OrdinaryShow, copied

TITLE = "Pavement Almanac"
KEPT = ("Bass.wav", "Click.wav", "Guide.wav", "LTC.wav", "Lead Vox.wav")
RULES = ("click-bleed", "timecode-bleed")


@pytest.fixture
def one_song(ordinary_48k: OrdinaryShow, tmp_path: Path) -> OrdinaryShow:
    folder = copied(ordinary_48k, tmp_path, TITLE)
    for stem in folder.song(TITLE).stems:
        if stem.file not in KEPT:
            folder.file(TITLE, stem.file).unlink()
    return folder


def song_of(folder: OrdinaryShow) -> Song:
    (song,) = walk(folder.path).songs
    return song


def added(folder: OrdinaryShow, source: str, target: str, gain_db: float, *, only_left: bool = False) -> None:
    """Writes the source into the target as well."""
    path = folder.file(TITLE, target)
    music, rate_hz = soundfile.read(path, dtype="float64", always_2d=True)
    leak = soundfile.read(folder.file(TITLE, source), dtype="float64", always_2d=True)[0][:, :1]
    frames = min(len(music), len(leak))
    if only_left:
        music = np.repeat(music[:, :1], 2, axis=1)
    music[:frames, : 1 if only_left else None] += 10 ** (gain_db / 20) * leak[:frames]
    soundfile.write(path, music, rate_hz, subtype=soundfile.info(path).subtype)


def heard(folder: OrdinaryShow) -> SongEvidence:
    return listen(song_of(folder), lambda stem, done: None)


def told(evidence: SongEvidence) -> list[tuple[str, str | None]]:
    every = [one for rule in RULES for one in findings(rule, show(evidence))]
    return [(one.rule, one.stem) for one in every if one.severity is not Severity.NOTE]


def of(evidence: SongEvidence, name: str) -> StemEvidence:
    return next(stem for stem in evidence.stems if stem.name == name)


def test_nothing_is_said_of_the_song_as_it_is(one_song):
    evidence = heard(one_song)
    assert evidence.click is not None
    assert told(evidence) == []


@pytest.mark.parametrize("only_left", [False, True])
def test_a_click_in_one_stem(one_song, only_left):
    added(one_song, "Click.wav", "Bass.wav", -30.0, only_left=only_left)
    evidence = heard(one_song)
    assert told(evidence) == [("click-bleed", "Bass.wav")]
    (part,) = of(evidence, "Bass.wav").parts
    source = of(evidence, "Click.wav").parts[0].measures.peaks.sample_dbfs
    assert part.click_leak is not None
    assert part.click_leak.level_dbfs == pytest.approx(source - 30.0 - (6.0 if only_left else 0.0), abs=1.0)
    assert part.timecode_leak is None


def test_a_click_in_the_guide_is_none(one_song):
    added(one_song, "Click.wav", "Guide.wav", -6.0)
    evidence = heard(one_song)
    assert told(evidence) == []
    assert all(part.click_leak is None for part in of(evidence, "Guide.wav").parts)


def test_timecode_at_sixty_under_full_scale(one_song):
    added(one_song, "LTC.wav", "Lead Vox.wav", -59.5 - one_song.song(TITLE).timecode.level_dbfs)
    evidence = heard(one_song)
    assert told(evidence) == [("timecode-bleed", "Lead Vox.wav")]
    assert of(evidence, "Lead Vox.wav").parts[0].timecode_leak.level_dbfs == pytest.approx(-59.5, abs=0.5)


def test_timecode_that_leaks_in_shortens_no_count_in(one_song):
    """It runs from before the first beat, and music begins with none of it."""
    as_it_was = heard(one_song).click
    assert as_it_was is not None
    added(one_song, "LTC.wav", "Lead Vox.wav", -40.0 - one_song.song(TITLE).timecode.level_dbfs)
    evidence = heard(one_song)
    assert told(evidence) == [("timecode-bleed", "Lead Vox.wav")]
    assert evidence.click is not None
    assert evidence.click.count_in_beats == as_it_was.count_in_beats == one_song.song(TITLE).count_in_beats
    assert evidence.click.music_s == pytest.approx(as_it_was.music_s, abs=0.1)


def test_timecode_without_a_timecode_stem_is_read_in_the_rests(one_song):
    added(one_song, "LTC.wav", "Lead Vox.wav", -40.0 - one_song.song(TITLE).timecode.level_dbfs)
    one_song.file(TITLE, "LTC.wav").unlink()
    evidence = heard(one_song)
    assert told(evidence) == [("timecode-bleed", "Lead Vox.wav")]
    leak = of(evidence, "Lead Vox.wav").parts[0].timecode_leak
    assert leak.delay_ms is None
    assert leak.level_dbfs == pytest.approx(-40.0, abs=1.0)


def test_a_source_at_another_rate(one_song):
    added(one_song, "Click.wav", "Bass.wav", -30.0)
    path = one_song.file(TITLE, "Click.wav")
    samples, rate_hz = soundfile.read(path, always_2d=True)
    soundfile.write(path, resample_poly(samples, 147, 160, axis=0), 44_100, subtype="PCM_24")
    assert rate_hz == 48_000
    assert told(heard(one_song)) == [("click-bleed", "Bass.wav")]


def test_what_was_read_is_not_read_again():
    asked: list[list[float]] = []

    def read(places_s: np.ndarray) -> np.ndarray:
        asked.append(places_s.tolist())
        return places_s[:, None, None] * np.ones((1, 2, 3), dtype=np.float32)

    held = _held(read, np.array([1.0, 2.0, 3.0]))
    for wanted in ([2.0, 3.0], [0.5, 1.0, 1.5, 3.0, 4.0], [0.0, 5.0]):
        found = held(np.array(wanted))
        assert found.shape == (len(wanted), 2, 3)
        assert found[:, 0, 0].tolist() == wanted
    assert asked == [[1.0, 2.0, 3.0], [0.5, 1.5, 4.0], [0.0, 5.0]]


def test_a_sources_spectra_are_made_when_they_are_asked_for_first():
    places_s = np.arange(100) * 0.25
    pieces = np.random.default_rng(7).normal(size=(100, 2, 9600)).astype(np.float32)
    asked: list[list[float]] = []

    def read(wanted_s: np.ndarray) -> Iterator[np.ndarray]:
        asked.append(wanted_s.tolist())
        yield from pieces[np.searchsorted(places_s, wanted_s)]

    every, source = spectra(pieces[:, 0]), _SourceSpectra(places_s, read)
    for rows in (np.arange(3, 70), np.array([0, 5, 69, 99]), np.array([], dtype=np.int64), np.arange(100)):
        np.testing.assert_allclose(source.of(rows), every[rows], atol=1e-6 * np.abs(every).max())
    assert asked[:2] == [places_s[3:70].tolist(), places_s[[0, 99]].tolist()]
    assert sum(len(places) for places in asked) == 100  # each once


@pytest.mark.parametrize("audience", [True, False])
def test_a_source_is_read_where_parts_are_quiet(one_song, monkeypatch, audience: bool):
    if not audience:
        for name in ("Bass.wav", "Lead Vox.wav"):
            one_song.file(TITLE, name).unlink()
    read: dict[str, list[int]] = {}
    usual = bleed.read_pieces

    def counted(path, header, starts, frames, told):
        read.setdefault(path.name, []).append(len(starts))
        return usual(path, header, starts, frames, told)

    monkeypatch.setattr(bleed, "read_pieces", counted)
    evidence = heard(one_song)
    assert evidence.click is not None
    if not audience:
        assert read == {}
        return
    assert {"Bass.wav", "Lead Vox.wav", "Click.wav", "LTC.wav"} == set(read)
    track = of(evidence, "LTC.wav").parts[0].measures.timecode
    (places,) = read["LTC.wav"]  # for both parts in one go
    assert 20 <= places <= 40 < len(steady_places(track.start_s, track.end_s))
