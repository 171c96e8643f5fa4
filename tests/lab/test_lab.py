"""A small part of the lab at every test run: a few faults of each kind, and from files to findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from audit.evidence import SongEvidence
from audit.facts import Role
from audit.folder.walk import walk
from audit.pipeline.song.listen import listen
from audit.pipeline.song.timing import with_alignment
from audit.results import ClickRun, ClickTrack
from tests.evidence import findings, show
from tests.lab.__main__ import every_kind
from tests.lab.hearing import Bench, hear_stem, runs_of
from tests.lab.kind import Kind, run, table, wilson
from tests.lab.kinds import arrangement, bar, beat, drift, offset, rate, slots, start
from tests.lab.provoking import SONGS as PROVOKING
from tests.lab.provoking import provoking
from tests.lab.songs import LabShow, LabSong, LabStem, long_show
from tests.shows import OrdinaryShow, SongTruth, copied, plant_delay

RULES = ("offset-from-click", "drift-from-click", "wrong-rate-header")


@pytest.fixture(scope="module")
def bench() -> Bench:
    return Bench(long_show(5, songs=4, seconds=25.0))


def test_every_kind_is_known():
    assert {
        "offset",
        "drift",
        "rate",
        "beat",
        "bar",
        "slots",
        "arrangement",
        "key",
        "foreign",
        "comb",
    } <= set(every_kind())


def test_a_clean_show_is_silent(bench: Bench):
    assert bench.clean(RULES) == []


@pytest.mark.parametrize(("size", "least"), [(20.0, 0.9), (-50.0, 0.9), (2.0, 0.0)])
def test_offsets_in_drums(bench: Bench, size: float, least: float):
    kind = replace(
        offset.KIND, sizes=(size,), fits=lambda show, song, stem, clean, size: stem.name == "Drums.wav"
    )
    cells = run(kind, [bench])
    cell = cells["drums, percussion, loops", abs(size)]
    assert cell.planted == 4
    assert cell.found >= least * cell.planted
    assert size > 5.0 or size < -5.0 or cell.found == 0
    assert max(abs(error) for error in cell.errors) < 2.0
    assert (cell.checked, cell.alike) == (1, 1)
    assert len(table(kind, cells)) == 2


@pytest.mark.parametrize("lag_ms", [-85.0, 85.0, -700.0])
def test_a_start_cut_off_drums_is_told_to_the_sample(bench: Bench, lag_ms: float):
    for lab_song in bench.show.songs:
        drums = next(one for one in lab_song.stems if one.name == "Drums.wav")
        sound = hear_stem(start.plant(drums.samples, lab_song.rate_hz, lag_ms), lab_song.rate_hz)
        _, told = bench.planted(lab_song, drums.name, sound, start.KIND.rules)
        assert [(one.rule, one.stem) for one in told] == [("offset-from-click", drums.name)]
        assert told[0].value == pytest.approx(lag_ms, abs=0.02)


@pytest.mark.parametrize("frames", [4_000, 12_000])
def test_an_end_cut_off_is_no_start_cut_off(bench: Bench, frames: int):
    for lab_song in bench.show.songs:
        for one in lab_song.stems:
            sound = hear_stem(one.samples[:-frames], lab_song.rate_hz)
            assert bench.planted(lab_song, one.name, sound, start.KIND.rules)[1] == []


def test_wrong_rates_in_drums(bench: Bench):
    kind = replace(
        rate.KIND,
        sizes=(160 / 147, 320 / 147),
        fits=lambda show, song, stem, clean, size: stem.name == "Drums.wav",
    )
    for cell in run(kind, [bench]).values():
        if cell.planted:
            assert cell.found == cell.planted
            assert cell.blamed_others == 0


@pytest.fixture(scope="module")
def long_song() -> Bench:
    return Bench(long_show(5, songs=1, seconds=70.0))


@pytest.mark.parametrize(
    ("kind", "size", "rule"),
    [(beat.KIND, -1.0, "shifted-by-beats"), (bar.KIND, 1.0, "shifted-by-beats"),
     (arrangement.KIND, 1.0, "stale-arrangement"), (arrangement.KIND, -1.0, "stale-arrangement")],
)  # fmt: skip
def test_beats_and_bars_in_a_guitar(long_song: Bench, kind: Kind, size: float, rule: str):
    chosen = replace(
        kind,
        rules=(rule,),
        sizes=(size,),
        fits=lambda show, song, stem, clean, size: stem.name == "Guitar.wav",
    )
    ((_, cell),) = [item for item in run(chosen, [long_song]).items() if item[1].planted]
    assert (cell.found, cell.planted, cell.blamed_others) == (1, 1, 0)
    assert cell.errors == [0.0]


def test_beats_planted_in_slots_are_as_those_in_the_audio(long_song: Bench):
    (lab_song,) = long_song.show.songs
    guitar = next(one for one in lab_song.stems if one.name == "Guitar.wav")
    late = beat.by_beats(lab_song, guitar.samples, 1.0)
    changed, _ = long_song.planted(lab_song, guitar.name, hear_stem(late, lab_song.rate_hz), ())
    in_slots = slots.Laid(long_song, lab_song).moved(guitar.name, 1.0)
    one, other = (
        next(stem.alignment.beats for stem in song.stems if stem.name == guitar.name and stem.alignment)
        for song in (changed, in_slots)
    )
    assert one is not None
    assert other is not None
    assert one.shift_beats == other.shift_beats == 1.0
    assert other.at_best == pytest.approx(one.at_best, abs=0.02)
    assert one.place is not None
    assert other.place is not None
    assert other.place.at_beats == pytest.approx(one.place.at_beats, abs=0.05)
    assert [finding.stem for finding in long_song.said(lab_song, in_slots, (slots.RULE,))] == ["Guitar.wav"]


def test_clean_songs_that_provoke_are_not_spoken_of(long_song: Bench):
    titles = ("Pushed chords", "Canon at two beats", "Call of two")
    assert set(titles) < set(PROVOKING)
    for bench in (long_song, Bench(provoking(5, *titles))):
        assert bench.clean(beat.KIND.rules) == []


def test_bars_are_cut_and_repeated_as_said():
    song = long_song_of_marks()
    (marks,) = song.stems
    for bars in (1.0, -2.0):
        at = arrangement.place(song, bars) // 4
        heard = np.flatnonzero(arrangement.rearrange(song, marks.samples, bars)[:, 0] > 0.5)
        gone = [k for k in range(20) if not (bars < 0 and at <= k < at - bars)]
        again = [at - 1] if bars > 0 else []
        values = [round(float(v)) for v in arrangement.rearrange(song, marks.samples, bars)[heard, 0]]
        assert values == sorted([*(k + 1 for k in gone), *(k + 1 for k in again)])
        assert np.all(heard % 8000 == 0)


def long_song_of_marks() -> LabSong:
    """Twenty bars of a second, a sample of the bar's number on each."""
    wave = np.zeros((8000 * 20, 1), dtype=np.float32)
    wave[::8000, 0] = 1.0 + np.arange(20)
    beats_s = tuple(0.25 * k for k in range(81))
    stems = (LabStem(name="Marks.wav", role=Role.KEYS, samples=wave),)
    return LabSong(name="Marks", rate_hz=8000, beats_s=beats_s, stems=stems)


def test_a_slide_is_planted_as_said():
    wave = np.zeros((48_000 * 20, 1), dtype=np.float32)
    wave[48_000 * 15] = 1.0
    later = drift.slid(wave, 48_000, 1000.0)
    assert np.argmax(np.abs(later)) == pytest.approx(48_000 * 15 * 1.001, abs=1)


def test_bounds_of_a_share():
    """Wilson's interval for 9 of 10, as worked in Brown, Cai & DasGupta 2001, Stat. Sci. 16(2) [memory]."""
    assert wilson(9, 10) == pytest.approx((0.596, 0.982), abs=0.002)


SONGS = ("Pavement Almanac", "Half a Ladder", "Slow Pepper", "Barefoot Inventory", "Downhill Postman")


def from_files(show_on_disk: OrdinaryShow) -> dict[str, SongEvidence]:
    """Every song heard from its files, with the click that the truth knows, by title."""
    heard = {}
    for song in walk(show_on_disk.path).songs:
        truth = next(one for one in show_on_disk.songs if one.folder == song.folder)
        evidence = listen(song, lambda stem, done: None)
        heard[truth.title] = with_alignment(replace(evidence, click=true_click(truth, show_on_disk.rate_hz)))
    return heard


@pytest.fixture(scope="module")
def heard(ordinary_48k: OrdinaryShow, tmp_path_factory: pytest.TempPathFactory) -> dict[str, SongEvidence]:
    return from_files(copied(ordinary_48k, tmp_path_factory.mktemp("heard"), *SONGS))


def true_click(truth: SongTruth, rate_hz: int) -> ClickTrack:
    beats = tuple(mark.sample / rate_hz for mark in truth.clicks)
    runs = tuple(
        ClickRun(first_beat=first, beats=count, bpm_first=120.0, bpm_last=120.0, steady=True)
        for first, count in runs_of(beats)
    )
    return ClickTrack(
        beats_s=beats, accents=tuple(mark.accent for mark in truth.clicks), runs=runs, bpm=None, metre=None,
        count_in_beats=None, first_beat_s=beats[0],
    )  # fmt: skip


@pytest.mark.parametrize("late_ms", [0, 25, -25])
def test_from_files_to_findings(
    ordinary_48k: OrdinaryShow, heard: dict[str, SongEvidence], tmp_path, late_ms: int
):
    """Drums moved in their file are found, by their samples, and nothing else is said."""
    broken = dict(heard)
    if late_ms:
        one_song = copied(ordinary_48k, tmp_path, "Pavement Almanac")
        plant_delay(one_song.file("Pavement Almanac", "Drums.wav"), late_ms * 48)
        broken |= from_files(one_song)
    whole = show(*broken.values())
    found = [one for rule in RULES for one in findings(rule, whole)]
    assert [(one.rule, one.stem) for one in found] == (
        [("offset-from-click", "Drums.wav")] if late_ms else []
    )
    for one in found:
        assert one.songs == (next(song.name for song in whole.songs if "Pavement" in song.name),)
        assert one.measured["offset_ms"] == pytest.approx(late_ms, abs=2.5)
        # The show's other drums lie a little before their bands: counted from there it is some more.
        assert one.measured["samples"] == pytest.approx(abs(late_ms) * 48, abs=300)
        assert one.message.startswith("late" if late_ms > 0 else "early")


def test_a_lab_show_is_plain_data(bench: Bench):
    assert isinstance(bench.show, LabShow)
    assert all(song.seconds >= 25.0 for song in bench.show.songs)
