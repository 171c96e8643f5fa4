"""Copies over a whole show, from files: what is one recording, where it lies, and what is none."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from audit.demo.band import PLAYERS, perform
from audit.demo.setlist import SET_LIST
from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.pipeline.songs.same_recording import with_copies
from audit.results import SameAudio
from tests.evidence import findings, show
from tests.identity_lab import heard, of, written
from tests.measure.test_fingerprint import tune

RATE = 48_000


@pytest.fixture(scope="module")
def music() -> np.ndarray:
    return tune(11, seconds=18.0)


def filed(folder: Path, name: str, samples: np.ndarray, role: Role = Role.KEYS, **more: str) -> StemEvidence:
    return heard(written(folder / name, samples, RATE, **({"subtype": "PCM_24"} | more)), role)


def copies(*songs: tuple[str, list[StemEvidence]]) -> tuple[ShowEvidence, tuple[SameAudio, ...]]:
    whole = with_copies(show(*(of(name, *stems) for name, stems in songs)))
    return whole, whole.copies


def late(samples: np.ndarray, frames: int) -> np.ndarray:
    return np.concatenate([np.zeros((frames, samples.shape[1])), samples])[: len(samples)]


@pytest.mark.parametrize(
    ("change", "more", "lag", "level_db"),
    [
        (lambda s: s, {"subtype": "PCM_16"}, 0, 0.0),
        (lambda s: 0.5 * s, {}, 0, -6.02),
        (lambda s: late(s, 480), {}, 480, 0.0),
        (lambda s: 0.5 * late(s, 50_400), {"subtype": "FLOAT"}, 50_400, -6.02),
    ],
    ids=["16 bit", "-6 dB", "10 ms later", "1.05 s later, -6 dB, float"],
)
def test_a_copy_is_found_with_its_lag_and_level(tmp_path, music, change, more, lag, level_db):
    first = filed(tmp_path, "Keys.wav", music)
    second = filed(tmp_path, "Pad.wav", change(music), Role.PAD, **more)
    whole, (copy,) = copies(("A", [first, second]))
    assert (copy.first, copy.second, copy.lag_frames) == ("Keys.wav", "Pad.wav", lag)
    assert copy.level_db == pytest.approx(level_db, abs=0.05)
    assert copy.share > 0.8  # a second of the last excerpt may have been moved out of the file
    assert not copy.opposed
    (told,) = findings("duplicate-audio", whole)
    assert told.severity.value == "error"
    assert told.stem == "Pad.wav"


def test_two_songs_with_one_recording_are_a_note(tmp_path, music):
    first, second = filed(tmp_path, "Keys.wav", music), filed(tmp_path, "Pad.wav", 0.5 * music, Role.PAD)
    whole, found = copies(("A", [first]), ("B", [second]))
    assert len(found) == 1
    assert whole.loops == frozenset()
    assert [f.severity.value for f in findings("duplicate-audio", whole)] == ["note"]


def test_a_sparse_stem_in_two_songs_is_told_and_a_single_hit_is_not(tmp_path, music):
    """Two phrases of two seconds, 16 s apart; then the first one alone."""
    sparse = music.copy()
    sparse[2 * RATE : -2 * RATE] = 0.0
    first, second = filed(tmp_path, "a.wav", sparse), filed(tmp_path, "b.wav", 0.5 * sparse)
    whole, found = copies(("A", [first]), ("B", [second]))
    assert [copy.share for copy in found] == [1.0]
    assert [f.severity.value for f in findings("duplicate-audio", whole)] == ["note"]
    sparse[2 * RATE :] = 0.0
    first, second = filed(tmp_path, "c.wav", sparse), filed(tmp_path, "d.wav", 0.5 * sparse)
    assert copies(("A", [first]), ("B", [second]))[1] == ()


def test_cymbals_coded_by_vorbis_are_a_copy(tmp_path):
    """What a lossy codec loses of them is more than two copies may differ by otherwise."""
    song = next(entry.song for entry in SET_LIST if entry.song.title == "Ninety Harbour Steps")
    drums = perform(song, PLAYERS[Role.DRUMS], RATE).samples
    first = filed(tmp_path, "Drums.wav", drums, Role.DRUMS)
    coded = filed(tmp_path, "Unnamed.ogg", drums, Role.OTHER, subtype="VORBIS")
    whole, (copy,) = copies(("A", [first, coded]))
    assert copy.likeness < 0.98
    assert copy.share == 1.0
    assert len(findings("duplicate-audio", whole)) == 1
    first, second = (
        filed(tmp_path, f"Drums {n}.wav", perform(take, PLAYERS[Role.DRUMS], RATE).samples, Role.DRUMS)
        for n, take in enumerate((song, replace(song, seed=song.seed + 1)))
    )
    assert all(copy.likeness < 0.8 for copy in copies(("A", [first, second]))[1])


def test_a_loop_in_two_songs_is_none(tmp_path):
    loop = np.concatenate([tune(12, seconds=4.0)] * 5)
    first, second = filed(tmp_path, "a.wav", loop), filed(tmp_path, "b.wav", 0.5 * loop)
    whole, found = copies(("A", [first]), ("B", [second]))
    assert len(found) == 1
    assert whole.loops == {("A", "a.wav"), ("B", "b.wav")}
    assert findings("duplicate-audio", whole) == []
    same = filed(tmp_path, "c.wav", loop)
    whole, found = copies(("A", [first]), ("B", [same]))
    assert found == ()
    assert len(whole.loops) == 2
    assert findings("duplicate-audio", whole) == []


@pytest.mark.parametrize("role", [Role.CLICK, Role.GUIDE])
def test_the_crews_stems_may_be_the_same_in_two_songs(tmp_path, music, role):
    stems = [filed(tmp_path, "a.wav", music, role), filed(tmp_path, "b.wav", 0.5 * music, role)]
    assert copies(("A", stems[:1]), ("B", stems[1:]))[1] == ()
    assert len(copies(("A", stems))[1]) == 1


def test_a_second_take_is_no_copy(tmp_path):
    """The same notes, each a few milliseconds elsewhere and a little louder or softer."""

    def take(seed: int) -> np.ndarray:
        random, hand = np.random.default_rng(3), np.random.default_rng(seed)
        wave = np.zeros((24 * RATE, 1))
        time_s = np.arange(round(0.6 * RATE)) / RATE
        for at in np.sort(random.uniform(0.0, 23.0, 70)):
            hz = 110.0 * 2 ** (random.integers(0, 30) / 12)
            first = max(0, round((at + hand.normal(0.0, 0.006)) * RATE))
            wave[first : first + len(time_s), 0] += (
                0.1 * hand.uniform(0.7, 1.0) * np.exp(-6.0 * time_s) * np.sin(2 * np.pi * hz * time_s)
            )
        return wave

    stems = [filed(tmp_path, "a.wav", take(1)), filed(tmp_path, "b.wav", take(2))]
    whole, found = copies(("A", stems))
    assert all(copy.share < 0.5 for copy in found)
    assert findings("duplicate-audio", whole) == []


def test_equal_silent_timecode_and_other_rates_are_not_opened(tmp_path, music, monkeypatch):
    def forbidden(*args: object, **more: object) -> None:
        raise AssertionError("opened")

    first, equal = filed(tmp_path, "a.wav", music), filed(tmp_path, "b.wav", music)
    code = filed(tmp_path, "c.wav", 0.5 * music, Role.TIMECODE)
    quiet = filed(tmp_path, "d.wav", 1e-6 * music)
    other = filed(tmp_path, "e.wav", 0.5 * music)
    assert other.format is not None
    other = replace(other, format=replace(other.format, sample_rate_hz=44_100))
    quiet = replace(quiet, parts=tuple(replace(p, measures=replace(
        p.measures, loudness=replace(p.measures.loudness, integrated_lufs=None),
        peaks=replace(p.measures.peaks, sample_dbfs=-120.0))) for p in quiet.parts))  # fmt: skip
    monkeypatch.setattr("audit.pipeline.songs.same_recording.read_pieces", forbidden)
    for second in (equal, code, quiet, other):
        assert copies(("A", [first, second]))[1] == ()


def test_a_file_that_vanished_is_no_copy(tmp_path, music):
    stems = [filed(tmp_path, "a.wav", music), filed(tmp_path, "b.wav", 0.5 * music)]
    (tmp_path / "b.wav").unlink()
    assert copies(("A", stems))[1] == ()
