"""From files to findings: click and timecode added to stems of the ordinary show, and stems that stay
silent."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Song
from audit.findings import Severity
from audit.folder.walk import walk
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
