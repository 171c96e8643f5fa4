"""The ordinary show is clean: no error, and no warning but the one full mix that lies beside its parts.

It holds what touring shows hold and what careless rules take for faults (common practice). The truth that
comes with it is checked against the files here, so that later tests may lean on it.
"""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from audit.facts import Role
from audit.findings import Severity, ShowAudit
from audit.pipeline.inferred import inferred
from audit.pipeline.scan import scan_show
from audit.pipeline.settled import known_names, with_settings
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings.read import read_settings
from audit.settings.write import settings_text
from audit.timecode import frame_start
from tests.shows import OrdinaryShow, copied, plant_dc, plant_delay


def test_the_only_warning_is_the_full_mix_told_once(ordinary_scan: ShowAudit):
    told = [
        (finding.severity.value, finding.rule, finding.stem)
        for finding in ordinary_scan.all_findings()
        if finding.severity is not Severity.NOTE
    ]
    assert told == [("warning", "mix-beside-parts", "Full Mix.wav")]


def test_a_scan_of_it_ends_with_exit_code_zero(ordinary_scan: ShowAudit):
    """Zero by default (errors fail): nothing unmeasured, no error."""
    assert not ordinary_scan.incomplete
    assert not ordinary_scan.exceeds(Severity.ERROR)


def test_every_song_and_every_stem_was_heard(ordinary_scan: ShowAudit, ordinary: OrdinaryShow):
    assert len(ordinary.songs) >= 12
    assert [song.evidence.name for song in ordinary_scan.songs] == [song.folder for song in ordinary.songs]
    for song, truth in zip(ordinary_scan.songs, ordinary.songs, strict=True):
        assert {stem.name for stem in song.evidence.stems} == {stem.file for stem in truth.stems}
        assert all(stem.audio is not None for stem in song.evidence.stems)


def test_roles_are_read_as_meant(ordinary_scan: ShowAudit, ordinary: OrdinaryShow):
    for song, truth in zip(ordinary_scan.songs, ordinary.songs, strict=True):
        for stem in song.evidence.stems:
            assert stem.channel_roles == truth.stem(stem.name).roles, (truth.title, stem.name)


def test_the_loudest_and_the_quietest_song_lie_ten_lu_apart(ordinary_scan: ShowAudit):
    levels = [
        song.evidence.mix.loudness.integrated_lufs
        for song in ordinary_scan.songs
        if song.evidence.mix is not None and song.evidence.mix.loudness.integrated_lufs is not None
    ]
    assert len(levels) == 13  # one song is a click alone
    assert max(levels) - min(levels) >= 10


def test_the_show_holds_every_oddity_it_is_for(ordinary: OrdinaryShow):
    songs = ordinary.songs
    metres = {song.metre.text for song in songs}
    assert {"4/4", "6/8", "7/8"} <= metres
    assert any(not song.clicks for song in songs)
    assert any(song.clicks and song.clicks[0].bar > 2 for song in songs)
    assert any(len(song.stems) == 1 and song.clicks for song in songs)
    assert any(song.grid.stretches[0].end_bpm for song in songs)
    assert any(song.click_file == "Guide.wav" for song in songs)
    assert any(stem.hears_click_dbfs for song in songs for stem in song.stems)
    assert any(stem.late_s == 0.015 for song in songs for stem in song.stems)
    assert any(
        Role.CLICK in stem.roles and Role.TIMECODE in stem.roles for song in songs for stem in song.stems
    )
    assert sum(any(stem.silent for stem in song.stems) for song in songs) == 3
    assert any(len({stem.frames for stem in song.stems}) > 1 for song in songs)
    with_code = sum(song.timecode is not None for song in songs)
    assert 5 <= with_code < 0.8 * len(songs)
    assert all(song.timecode.level_dbfs == -3.0 for song in songs if song.timecode)
    channels = {len(stem.roles) for song in songs for stem in song.stems}
    assert channels == {1, 2}


def read(ordinary: OrdinaryShow, title: str, file: str) -> np.ndarray:
    samples, rate = soundfile.read(ordinary.file(title, file), always_2d=True)
    assert rate == ordinary.rate_hz
    return samples


def test_files_are_as_long_and_deep_as_the_truth_says(ordinary: OrdinaryShow):
    for song in ordinary.songs:
        for stem in song.stems:
            info = soundfile.info(ordinary.file(song.title, stem.file))
            assert (info.samplerate, info.subtype) == (ordinary.rate_hz, f"PCM_{ordinary.bits}")
            assert (info.frames, info.channels) == (stem.frames, len(stem.roles))


def test_clicks_lie_where_the_truth_says(ordinary: OrdinaryShow):
    """The first sample above the noise before each click, in files where nothing else sounds."""
    checked = 0
    for song in ordinary.songs:
        if song.click_file is None or song.click_file == "Guide.wav":
            continue
        channel = song.stem(song.click_file).roles.index(Role.CLICK)
        samples = np.abs(read(ordinary, song.title, song.click_file)[:, channel])
        for mark in song.clicks:
            heard = np.flatnonzero(samples[max(mark.sample - 400, 0) : mark.sample + 400] > 1e-3)[0]
            assert 0 <= heard - min(mark.sample, 400) <= 0.001 * ordinary.rate_hz, (song.title, mark)
            checked += 1
        sounding = samples > 1e-3
        gaps = np.flatnonzero(np.diff(np.flatnonzero(sounding)) > 0.06 * ordinary.rate_hz)
        assert len(gaps) + 1 == len(song.clicks), song.title  # and nowhere else
    assert checked > 200


def test_notes_lie_where_the_truth_says(ordinary: OrdinaryShow):
    """The drums grow louder within 5 ms of nearly every onset that is listed."""
    song = ordinary.song("Crooked Turnpike")
    stem = song.stem("Drums.wav")
    samples = read(ordinary, song.title, stem.file)[:, 0]
    short = round(0.005 * ordinary.rate_hz)
    rises = [
        np.sqrt(np.mean(samples[at : at + short] ** 2))
        / (np.sqrt(np.mean(samples[at - short : at] ** 2)) + 1e-6)
        for at in stem.onsets
    ]
    assert len(rises) > 40
    assert np.median(rises) > 4
    assert np.mean(np.array(rises) > 1.5) > 0.9


def test_timecode_lies_where_the_truth_says(ordinary: OrdinaryShow):
    """Each frame begins with a rising edge at its exact place (the polarity correction keeps it rising)."""
    for song in ordinary.songs:
        if song.timecode is None:
            continue
        code = song.timecode
        file = next(stem.file for stem in song.stems if Role.TIMECODE in stem.roles)
        samples = read(ordinary, song.title, file)[:, code.channel]
        assert 20 * np.log10(np.abs(samples).max()) == pytest.approx(-3.0, abs=0.02)
        for number in range(1, code.frames, 25):
            at = code.first_sample + float(frame_start(number, code.rate, ordinary.rate_hz))
            before, after = int(at) - 4, int(at) + 5
            assert samples[before] < -0.5 < 0.5 < samples[after], (song.title, number)


def test_spill_is_band_limited_late_and_low(ordinary: OrdinaryShow):
    song = next(song for song in ordinary.songs if any(stem.hears_click_dbfs for stem in song.stems))
    stem = next(stem for stem in song.stems if stem.hears_click_dbfs)
    samples = read(ordinary, song.title, stem.file)[:, 0]
    first = song.clicks[1].sample  # inside the count-in, the singer is silent
    around = np.abs(samples[first : first + round(0.04 * ordinary.rate_hz)])
    assert stem.hears_click_dbfs is not None
    assert stem.hears_click_dbfs - 9 < 20 * np.log10(around.max()) <= stem.hears_click_dbfs + 0.5
    late_s = np.flatnonzero(around > 0.2 * around.max())[0] / ordinary.rate_hz
    assert 0.001 < late_s < 0.005


def test_a_planted_fault_in_a_copy_is_told_and_the_show_stays_whole(
    ordinary_scan: ShowAudit, ordinary: OrdinaryShow, tmp_path
):
    """The silence above is not deafness: the same scan speaks when one stem of one song is broken."""
    before = ordinary.file("Half a Ladder", "Bass.wav").read_bytes()
    broken = copied(ordinary, tmp_path, "Half a Ladder")
    plant_dc(broken.file("Half a Ladder", "Bass.wav"), 0.01)
    plant_delay(broken.file("Half a Ladder", "Synth.wav"), 480)
    audit = scan_show(broken.path, jobs=1)
    told = [(f.rule, f.stem) for f in audit.all_findings() if f.severity is not Severity.NOTE]
    assert told == [("dc-offset", "Bass.wav")]
    assert ordinary.file("Half a Ladder", "Bass.wav").read_bytes() == before


def test_settings_written_from_it_find_nothing_new_in_it(ordinary_scan: ShowAudit, tmp_path):
    """Its tempi, metres, count-ins and timecode, read back and asked of the same files."""
    path = tmp_path / "show.toml"
    path.write_text(settings_text(inferred(ordinary_scan)), encoding="utf-8")
    settings = read_settings(path, known_names())
    assert len(settings.songs) == len(ordinary_scan.songs)
    assert sum(song.bpm is not None for song in settings.songs) >= 8
    again = judge(with_settings(ordinary_scan.evidence, settings), RULES, version="test")

    def told(audit: ShowAudit) -> list[tuple[str, str, tuple[str, ...], str | None]]:
        return [(f.rule, f.severity.value, f.songs, f.stem) for f in audit.all_findings()]

    assert [one for one in told(again) if one not in told(ordinary_scan)] == []
