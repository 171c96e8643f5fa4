"""The demo show: every planted fault is found and nothing else; nobody's files are ever touched."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.demo.plants import CLEAN_SONGS, PLANTED
from audit.demo.setlist import SET_LIST
from audit.demo.show import MARKER, README, SETTINGS, UNDER_WAY, write_demo
from audit.errors import OutputError, UsageError
from audit.findings import Severity, ShowAudit, Verdict


def titles(audit: ShowAudit) -> Iterator[tuple[str, str]]:
    """Each scanned song's name with the title it belongs to."""
    for song in audit.songs:
        name = song.evidence.name
        yield name, next(entry.title for entry in SET_LIST if entry.title in name)


def test_every_planted_fault_is_found_and_nothing_else(demo_scan: ShowAudit):
    title_of = dict(titles(demo_scan))
    found = sorted(
        (title_of[name], finding.rule, finding.stem or "")
        for finding in demo_scan.all_findings()
        for name in finding.songs
    )
    assert found == sorted((planted.song, planted.rule, planted.stem or "") for planted in PLANTED)
    assert not demo_scan.incomplete


PLACES = {"dropout": (17.6, 0.0), "repeated-block": (29.3, 512 / 48_000)}  # beat from bar 1, seconds after it


def test_damage_is_found_where_it_was_planted(demo_scan: ShowAudit):
    song = next(entry.song for entry in SET_LIST if entry.title == "Gravel Parade")
    found = {f.rule: f.at_s for f in demo_scan.all_findings() if f.rule in PLACES}
    assert found == {
        rule: pytest.approx(song.grid.at_s(beat) + after_s, abs=0.002)
        for rule, (beat, after_s) in PLACES.items()
    }


SIZES = {"offset-from-click": 25.0, "shifted-by-beats": 4.0, "dropout": 20.0,
         "repeated-block": 512.0}  # fmt: skip


def test_faults_are_found_at_the_size_they_were_planted(demo_scan: ShowAudit):
    found = {f.rule: f.value for f in demo_scan.all_findings() if f.rule in SIZES}
    assert found == {rule: pytest.approx(size, rel=0.02) for rule, size in SIZES.items()}


def test_the_leak_is_told_by_the_test_that_it_does_not_pass(demo_scan: ShowAudit):
    """38 dB under the stem lies within that limit; its ticks alone in a rest do not lie within theirs."""
    [leak] = [f for f in demo_scan.all_findings() if f.rule == "click-bleed"]
    assert leak.measured["under_db"] == pytest.approx(38.0, rel=0.02)
    assert (leak.value, leak.limit, leak.unit) == (leak.measured["level_dbfs"], -50.0, "dBFS")
    assert "limit −50 dBFS" in leak.message


def test_the_faults_come_from_many_families_and_six_songs():
    assert len(PLANTED) >= 10
    assert len({planted.rule for planted in PLANTED}) == len(PLANTED)
    assert len({planted.song for planted in PLANTED}) == 6
    assert len(CLEAN_SONGS) == 2


def test_the_clean_songs_are_clear(demo_scan: ShowAudit):
    clear = {
        title
        for (_, title), song in zip(titles(demo_scan), demo_scan.songs, strict=True)
        if demo_scan.verdict(song) is Verdict.CLEAR
    }
    assert set(CLEAN_SONGS) <= clear
    assert demo_scan.exceeds(Severity.ERROR)


def test_the_clean_songs_sit_at_usual_levels(demo_scan: ShowAudit):
    for (_, title), song in zip(titles(demo_scan), demo_scan.songs, strict=True):
        if title not in CLEAN_SONGS:
            continue
        mix = song.evidence.mix
        assert mix is not None
        assert mix.loudness.integrated_lufs is not None
        assert -16.5 < mix.loudness.integrated_lufs < -13.5
        assert mix.peaks.true_dbtp < 0.0
        for stem in song.evidence.stems:
            assert all(part.measures.peaks.true_dbtp < -1.0 for part in stem.parts), stem.name


def test_songs_are_as_long_and_as_full_as_promised(demo_show: Path):
    assert len(SET_LIST) == 8
    for entry in SET_LIST:
        files = [path for path in (demo_show / entry.folder).iterdir() if path.suffix in (".wav", ".flac")]
        assert 6 <= len([f for f in files if not f.name.startswith(".")]) <= 9
        assert 30 <= entry.song.end_s <= 45


def test_the_clean_songs_files_hold_what_they_say(demo_show: Path):
    for entry in SET_LIST:
        if entry.title in CLEAN_SONGS:
            for name in entry.stems:
                info = soundfile.info(demo_show / entry.folder / name)
                assert (info.samplerate, info.subtype) == (48_000, "PCM_24")
                assert info.frames == round(entry.song.end_s * 48_000)


def test_the_music_starts_after_the_count_in_and_ends_in_silence(demo_show: Path):
    entry = next(entry for entry in SET_LIST if entry.title == CLEAN_SONGS[0])
    for name, role in entry.stems.items():
        samples, rate = soundfile.read(demo_show / entry.folder / name, always_2d=True)
        if role.audience:
            first_beat = round((entry.song.grid.first_beat_s - 0.03) * rate)
            assert np.abs(samples[:first_beat]).max() < 1e-6  # dither only
            assert np.abs(samples[-rate // 5 :]).max() < 1e-6


def test_it_is_the_same_show_every_time(demo_show: Path, tmp_path: Path):
    """Another process, another hash seed, no warm caches: the same bytes."""
    entry = SET_LIST[-1]
    program = (
        "import sys; from pathlib import Path; from audit.demo.setlist import SET_LIST;"
        "from audit.demo.show import _write_song; _write_song(Path(sys.argv[1]), SET_LIST[-1], len(SET_LIST))"
    )
    subprocess.run(
        [sys.executable, "-c", program, str(tmp_path / "again")],
        check=True, env={**os.environ, "PYTHONHASHSEED": "7"}, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    names = sorted(path.name for path in (demo_show / entry.folder).iterdir())
    assert len(names) == 9
    for name in names:
        assert (demo_show / entry.folder / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), (
            name
        )


def test_progress_names_every_song(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    told = []
    quick(monkeypatch)
    write_demo(tmp_path / "demo", on_song=lambda *song: told.append(song))
    assert told == [(entry.title, number, 8) for number, entry in enumerate(SET_LIST, start=1)]


def test_the_page_beside_it_names_every_fault_and_the_cautions(demo_show: Path):
    text = (demo_show / README).read_text(encoding="utf-8")
    assert all(planted.rule in text and planted.what in text for planted in PLANTED)
    assert "never for the PA" in text
    assert "invented" in text


# What follows is about files, not about sound: the songs are written as empty folders with one small file.


def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    def write_little(folder: Path, entry: object, number: int) -> None:
        folder.mkdir()
        (folder / "Click.wav").write_bytes(b"small")

    monkeypatch.setattr("audit.demo.show._write_song", write_little)


def test_a_demo_is_renewed_in_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    quick(monkeypatch)
    for _ in range(2):
        write_demo(tmp_path / "demo")
    assert sorted(path.name for path in (tmp_path / "demo").iterdir()) == sorted(
        [MARKER, README, SETTINGS, *(entry.folder for entry in SET_LIST)]
    )


def test_an_empty_folder_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    quick(monkeypatch)
    assert write_demo(tmp_path) == tmp_path
    assert (tmp_path / SET_LIST[0].folder / "Click.wav").exists()


def test_a_folder_with_other_files_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    quick(monkeypatch)
    (tmp_path / "My song").mkdir()
    (tmp_path / "My song" / "Bass.wav").write_bytes(b"mine")
    with pytest.raises(UsageError, match=r"My song/Bass\.wav"):
        write_demo(tmp_path)
    assert (tmp_path / "My song" / "Bass.wav").read_bytes() == b"mine"
    assert [path.name for path in tmp_path.iterdir()] == ["My song"]


@pytest.mark.parametrize(
    "place", ["added.wav", f"{SET_LIST[0].folder}/added.wav", f"{SET_LIST[0].folder}/Click.wav"]
)
def test_a_demo_that_somebody_worked_in_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str
):
    quick(monkeypatch)
    write_demo(tmp_path)
    (tmp_path / place).write_bytes(b"mine, and longer")
    with pytest.raises(UsageError, match="did not write"):
        write_demo(tmp_path)
    assert (tmp_path / place).read_bytes() == b"mine, and longer"


def test_a_marker_that_lies_does_not_open_the_door(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    quick(monkeypatch)
    victim = tmp_path / "precious.wav"
    victim.write_bytes(b"12345")
    (tmp_path / "demo").mkdir()
    (tmp_path / "demo" / MARKER).write_text('{"../precious.wav": 5}', encoding="utf-8")
    write_demo(tmp_path / "demo")
    assert victim.read_bytes() == b"12345"


def test_a_file_in_the_way_is_refused(tmp_path: Path):
    (tmp_path / "demo").write_bytes(b"mine")
    with pytest.raises(UsageError, match="is a file"):
        write_demo(tmp_path / "demo")


def test_a_folder_that_cannot_be_made_is_an_output_error(tmp_path: Path):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match="cannot write the demo"):
        write_demo(tmp_path / "file" / "demo")


def test_an_interruption_leaves_nothing_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    quick(monkeypatch)

    def interrupted(title: str, number: int, count: int) -> None:
        if number == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_demo(tmp_path, on_song=interrupted)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / UNDER_WAY).mkdir()  # a killed run could not tidy up
    (tmp_path / UNDER_WAY / "Click.wav").write_bytes(b"half")
    write_demo(tmp_path)
    assert not (tmp_path / UNDER_WAY).exists()
