"""What settings ask, rule by rule: rates, bits, roles, tempo, count-in, loudness, pre-roll; both sides "
"of each."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import ClickRun
from audit.timecode import FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30
from tests.evidence import findings, mix, show, song, stem
from tests.rules.asked import asked, of_song
from tests.rules.test_click import track as click_track
from tests.rules.timecode_tracks import coded, track


def said(rule: str, evidence: ShowEvidence) -> list[tuple[Severity, str | None, float | None]]:
    return [(f.severity, f.stem, f.value) for f in findings(rule, evidence)]


def at_rate(rate_hz: int) -> Any:
    return song("Night Ferry", stem("Bass.wav", rate_hz=rate_hz))


def test_one_file_is_enough_against_a_rate_in_the_settings():
    assert findings("sample-rate-mismatch", show(at_rate(44100))) == []
    (found,) = findings("sample-rate-mismatch", asked(at_rate(44100), sample_rate_hz=48000))
    assert found.message == "44.1 kHz, the show's is 48 kHz"
    assert findings("sample-rate-mismatch", asked(at_rate(48000), sample_rate_hz=48000)) == []


def test_the_settings_go_before_the_majority():
    songs = [
        song(f"Song {n}", stem("Bass.wav", rate_hz=44100), stem("Keys.wav", rate_hz=44100)) for n in "abc"
    ]
    assert findings("sample-rate-mismatch", show(*songs)) == []
    assert len(findings("sample-rate-mismatch", asked(*songs, sample_rate_hz=48000))) == 3


@pytest.mark.parametrize(
    ("bits", "asked_bits", "found"),
    [
        (24, 24, []),
        (16, 24, [Severity.WARNING]),
        (24, 16, [Severity.WARNING]),
        (32, 32, []),
        (32, 24, [Severity.WARNING]),
    ],
)
def test_bits(bits: int, asked_bits: int, found: list[Severity]):
    evidence = asked(song("Night Ferry", stem("Bass.wav", bits=bits)), bits=asked_bits)
    assert [f.severity for f in findings("bit-depth-mismatch", evidence)] == found


@pytest.mark.parametrize(("true_bits", "severity"), [(False, Severity.NOTE), (True, Severity.WARNING)])
def test_true_bits(true_bits: bool, severity: Severity):
    padded = song("Night Ferry", stem("Bass.wav", audio={"bits_in_use": 16}))
    assert [f.severity for f in findings("padded-bit-depth", asked(padded, true_bits=true_bits))] == [
        severity
    ]
    whole = song("Night Ferry", stem("Bass.wav", audio={"bits_in_use": 24}))
    assert findings("padded-bit-depth", asked(whole, true_bits=true_bits)) == []


def test_required_roles():
    night = song("Night Ferry", stem("Click.wav"), stem("Bass.wav"))
    assert findings("missing-role", asked(night, required_roles=(Role.CLICK, Role.BASS))) == []
    (found,) = findings("missing-role", asked(night, required_roles=(Role.TIMECODE, Role.GUIDE)))
    assert found.severity is Severity.ERROR
    assert found.message == "no guide, no timecode, which the settings require"
    own = of_song(night, required_roles=(Role.KEYS,))
    (found,) = findings(
        "missing-role", asked(own, song("Tin Roof", stem("Click.wav")), required_roles=(Role.CLICK,))
    )
    assert (found.songs, found.message) == (("Night Ferry",), "no keys, which the settings require")


def test_a_required_role_is_not_also_a_habit():
    others = [song(f"Song {n}", stem("Click.wav"), stem("Timecode.wav"), stem("Bass.wav")) for n in range(6)]
    lacks = song("Night Ferry", stem("Click.wav"), stem("Bass.wav"))
    assert [f.severity for f in findings("missing-role", show(*others, lacks))] == [Severity.WARNING]
    (found,) = findings("missing-role", asked(*others, lacks, required_roles=(Role.TIMECODE,)))
    assert found.severity is Severity.ERROR


def test_a_silent_stem_of_a_required_role_is_an_error():
    night = song("Night Ferry", stem("Bass.wav"), stem("Keys.wav"), stem("Brass.wav", silent=True))
    assert said("silent-stem", show(night))[0][0] is Severity.WARNING
    ((severity, file, _),) = said("silent-stem", asked(night, required_roles=(Role.BRASS,)))
    assert (severity, file) == (Severity.ERROR, "Brass.wav")


@pytest.mark.parametrize(
    ("rate", "asked_rate", "errors"),
    [
        (FPS_25, FPS_25, 0),
        (FPS_25, FPS_30, 1),
        (FPS_29_97, FPS_29_97_DROP, 1),
        (FPS_29_97_DROP, FPS_29_97_DROP, 0),
    ],
)
def test_frame_rate(rate: Any, asked_rate: Any, errors: int):
    start = "01:00:00;00" if rate.drop_frame else "01:00:00:00"
    night = coded("Night Ferry", track(start, rate=rate))
    assert len(findings("timecode-rate", asked(night, frame_rate=asked_rate))) == errors
    assert len(findings("timecode-rate", asked(of_song(night, frame_rate=asked_rate)))) == errors


def test_a_songs_own_frame_rate_goes_before_the_shows():
    night = of_song(coded("Night Ferry", track(rate=FPS_30)), frame_rate=FPS_30)
    assert findings("timecode-rate", asked(night, frame_rate=FPS_25)) == []


def clicked(
    own_bpm: float = 120.0, metre: str | None = "4/4", count_in: int | None = 4, **entry: Any
) -> ShowEvidence:
    run = ClickRun(first_beat=0, beats=64, bpm_first=own_bpm, bpm_last=own_bpm, steady=True)
    click = replace(click_track(metre=metre, count_in=count_in), bpm=own_bpm, runs=(run,))
    night = replace(
        song("Night Ferry", stem("Click.wav"), stem("Bass.wav")), click=click, click_stem="Click.wav"
    )
    return asked(of_song(night, **entry))


@pytest.mark.parametrize(
    ("bpm", "found"),
    [
        (120.0, False),
        (120.12, False),
        (120.13, True),
        (119.88, False),
        (119.87, True),
        (60.0, True),
        (240.0, True),
    ],
)
def test_tempo(bpm: float, found: bool):
    """0.1 % of 120 is 0.12."""
    told = findings("click-tempo", clicked(bpm, bpm=120.0))
    assert bool(told) is found
    for finding in told:
        assert (finding.severity, finding.stem) == (Severity.ERROR, "Click.wav")
        assert finding.value == pytest.approx(100 * (bpm / 120 - 1))
        assert ("as fast as the settings say" in finding.message) is (bpm in (60.0, 240.0))


def test_a_song_with_several_tempi_needs_one_of_them():
    evidence = clicked(120.0, bpm=90.0)
    (song_,) = evidence.songs
    assert song_.click is not None
    second = ClickRun(first_beat=32, beats=32, bpm_first=90.0, bpm_last=90.0, steady=True)
    click = replace(song_.click, runs=(*song_.click.runs, second))
    assert findings("click-tempo", replace(evidence, songs=(replace(song_, click=click),))) == []


@pytest.mark.parametrize(
    ("metre", "asked_metre", "found"),
    [("4/4", "4/4", False), ("3/4", "4/4", True), ("6/4", "6/8", False), ("2/4", "6/8", False),
     ("3/4", "6/8", True),
     (None, "4/4", False)],
)  # fmt: skip
def test_metre(metre: str | None, asked_metre: str, found: bool):
    assert bool(findings("click-tempo", _metre(metre, asked_metre))) is found


def _metre(metre: str | None, asked_metre: str) -> ShowEvidence:
    evidence = clicked(metre=metre)
    (song_,) = evidence.songs
    return asked(of_song(song_, metre=asked_metre))


@pytest.mark.parametrize(
    ("own", "wanted", "found"), [(8, 8, False), (9, 8, False), (7, 8, True), (0, 1, True)]
)
def test_count_in(own: int, wanted: int, found: bool):
    told = findings("click-count-in", clicked(count_in=own, count_in_beats=wanted))
    assert [f.severity for f in told] == ([Severity.WARNING] if found else [])
    for finding in told:
        assert (finding.value, finding.limit) == (own, wanted)


@pytest.mark.parametrize(
    ("lufs", "found"), [(-16.0, False), (-14.0, False), (-13.9, True), (-18.0, False), (-18.1, True)]
)
def test_loudness_target(lufs: float, found: bool):
    night = song("Night Ferry", stem("Bass.wav"), mix=mix(loudness={"integrated_lufs": lufs}))
    told = findings("song-loudness-outlier", asked(night, loudness_lufs=-16.0))
    assert [f.severity for f in told] == ([Severity.WARNING] if found else [])
    for finding in told:
        assert finding.value == pytest.approx(lufs + 16.0)
        assert finding.limit == 2.0
    assert (
        bool(
            findings("song-loudness-outlier", asked(of_song(night, loudness_lufs=-16.0), loudness_lufs=-30.0))
        )
        is found
    )
    assert (
        findings("song-loudness-outlier", asked(night, loudness_lufs=-16.0, loudness_tolerance_lu=3.0)) == []
    )


@pytest.mark.parametrize(("preroll_s", "found"), [(2.0, False), (1.9, False), (2.1, True)])
def test_preroll(preroll_s: float, found: bool):
    """Timecode from 0.5 s, the click's first beat at 2.5 s."""
    night = coded("Night Ferry", track(at_s=0.5, seconds=59.5), stem("Bass.wav"))
    night = replace(night, click=click_track(first_s=2.5, music_s=4.5), click_stem="Click.wav")
    told = findings("timecode-late", asked(night, preroll_s=preroll_s))
    assert [f.severity for f in told] == ([Severity.WARNING] if found else [])
    for finding in told:
        assert finding.value == pytest.approx(2.0)
        assert finding.limit == preroll_s


def test_code_that_starts_late_is_told_once():
    night = coded("Night Ferry", track(at_s=3.0, seconds=57.0), stem("Bass.wav"))
    night = replace(night, click=click_track(first_s=2.5, music_s=4.5), click_stem="Click.wav")
    assert len(findings("timecode-late", asked(night, preroll_s=5.0))) == 1
