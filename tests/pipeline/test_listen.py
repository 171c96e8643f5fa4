"""One song heard once: the sum is what the audience hears; measures do not depend on the way there."""

from __future__ import annotations

import json
import weakref
from pathlib import Path
from threading import Lock

import numpy as np
import pytest

from audit.decode.blocks import BLOCK_FRAMES
from audit.evidence import SongEvidence
from audit.facts import Role
from audit.findings import ShowAudit
from audit.folder.walk import walk
from audit.measure.loudness import measure_loudness
from audit.measure.stem import StemMeter
from audit.pipeline.song import listen as listen_module
from audit.pipeline.song import open_files
from audit.pipeline.song.listen import listen
from audit.results import Cause, MixMeasures
from tests import signals
from tests.pipeline.files import write_wav
from tests.shared import shared_folder

RATE = 48_000


def heard(folder: Path, **options) -> SongEvidence:
    return listen(walk(folder).songs[0], lambda stem, done: None, **options)


def noise(seed: int, seconds: float = 2.0, channels: int = 2, peak: float = 0.2) -> np.ndarray:
    generator = np.random.default_rng(seed)
    return (peak * generator.uniform(-1, 1, (int(seconds * RATE), channels))).astype(np.float32)


def lufs(samples: np.ndarray) -> float | None:
    return measure_loudness(samples, RATE).integrated_lufs


def lufs_of(mix: MixMeasures) -> float | None:
    return mix.loudness.integrated_lufs


def test_the_sum_of_the_corpus_is_the_truths(corpus_scan: ShowAudit):
    """truth.json's mix loudness and sample peak were computed by the corpus's own maker, from all stems but
    click, guide and timecode."""
    songs = json.loads((shared_folder("corpus") / "truth.json").read_text())["songs"]
    assert len(songs) == 5
    told = {song.evidence.song.path: song.evidence.mix for song in corpus_scan.songs}
    for song in songs:
        mix = told[corpus_scan.evidence.show.path / song["folder"]]
        assert mix is not None
        assert mix.loudness.integrated_lufs == pytest.approx(song["mix_lufs"], abs=0.01)
        assert mix.peaks.sample_dbfs == pytest.approx(song["mix_peak_dbfs"], abs=0.01)


def test_crew_stems_stay_out_of_the_sum(tmp_path: Path):
    bass, click = noise(1), noise(2)
    write_wav(tmp_path / "Bass.wav", bass)
    write_wav(tmp_path / "Click.wav", click)
    mix = heard(tmp_path).mix
    assert mix is not None
    assert mix.from_stems == ("Bass.wav",)
    assert mix.loudness.integrated_lufs == pytest.approx(
        measure_loudness(bass, RATE).integrated_lufs, abs=1e-3
    )


def test_a_mono_stem_sounds_on_both_sides(tmp_path: Path):
    mono = noise(3, channels=1)
    write_wav(tmp_path / "Bass.wav", mono)
    mix = heard(tmp_path).mix
    both = measure_loudness(np.repeat(mono, 2, axis=1), RATE)
    assert mix is not None
    assert mix.loudness.integrated_lufs == pytest.approx(both.integrated_lufs, abs=1e-3)


def test_stems_of_different_length_add_up(tmp_path: Path):
    long, short = noise(4, 4.0), noise(5, 1.5)
    write_wav(tmp_path / "Bass.wav", long)
    write_wav(tmp_path / "Keys.wav", short)
    total = long.copy()
    total[: len(short)] += short
    mix = heard(tmp_path).mix
    assert mix is not None
    assert mix.loudness.integrated_lufs == pytest.approx(
        measure_loudness(total, RATE).integrated_lufs, abs=1e-3
    )


def test_timecode_on_one_side_of_a_track_is_no_part_of_the_sum(tmp_path: Path):
    ltc, _ = signals.timecode(seconds=2.0, rate_hz=RATE)
    music = noise(6, channels=1)
    write_wav(tmp_path / "Backing Track.wav", np.hstack([music, ltc[: len(music), :1]]))
    song = heard(tmp_path)
    assert [(part.role, part.measures.channels) for part in song.stems[0].parts] == [
        (Role.FULL_MIX, (0,)),
        (Role.TIMECODE, (1,)),
    ]
    assert song.mix is not None
    alone = measure_loudness(np.repeat(music, 2, axis=1), RATE)
    assert song.mix.loudness.integrated_lufs == pytest.approx(alone.integrated_lufs, abs=1e-3)


def test_a_full_mix_that_its_parts_explain_is_left_out(tmp_path: Path):
    bass, keys = noise(7), noise(8)
    write_wav(tmp_path / "Bass.wav", bass)
    write_wav(tmp_path / "Keys.wav", keys)
    write_wav(tmp_path / "Full Mix.wav", 0.8 * bass + 0.5 * keys)
    song = heard(tmp_path)
    assert song.parts_fits[0].explained > 0.98
    assert song.mix is not None
    assert song.mix.from_stems == ("Bass.wav", "Keys.wav")
    assert dict(song.mix.left_out) == {"Full Mix.wav": "a full mix beside its parts"}


def tones(*hz: float, seconds: float = 3.0) -> np.ndarray:
    at = np.arange(int(seconds * RATE)) / RATE
    wave = sum(0.08 * np.sin(2 * np.pi * one * at + one) for one in hz)
    return np.repeat(np.asarray(wave, np.float32)[:, None], 2, axis=1)


def test_clicks_of_a_full_mix_that_its_parts_hold_are_known(tmp_path: Path):
    """And those of its own bounce stay its own."""
    bass, keys = tones(55.0, 110.0), tones(330.0, 415.0, 494.0)
    keys[40_000:] += 0.06  # a jump, in both channels
    mix = 0.8 * bass + 0.5 * keys
    mix[90_000] += 0.05  # one wrong sample, in the mix alone
    for name, samples in (("Bass", bass), ("Keys", keys), ("Full Mix", mix)):
        write_wav(tmp_path / f"{name}.wav", samples)
    song = heard(tmp_path)
    (full,) = [stem for stem in song.stems if stem.name == "Full Mix.wav"]
    damage = full.parts[0].measures.damage
    assert damage is not None
    frames = [click.at_frame for click in damage.clicks]
    assert frames == [pytest.approx(40_000, abs=2), pytest.approx(90_000, abs=2)]
    assert song.parts_fits[0].clicks == (frames[0],)


def test_a_full_mix_of_other_music_belongs_to_the_sum(tmp_path: Path):
    parts = [noise(9), noise(10), noise(11)]
    for name, samples in zip(("Bass", "Keys", "Backing Track"), parts, strict=True):
        write_wav(tmp_path / f"{name}.wav", samples)
    song = heard(tmp_path)
    assert song.parts_fits[0].explained < 0.1
    assert song.mix is not None
    assert set(song.mix.from_stems) == {"Bass.wav", "Keys.wav", "Backing Track.wav"}
    total = measure_loudness(np.sum(parts, axis=0), RATE)
    assert song.mix.loudness.integrated_lufs == pytest.approx(total.integrated_lufs, abs=1e-3)


def test_duplicates_older_versions_and_silence_are_left_out(tmp_path: Path):
    bass, keys = noise(12), noise(13)
    write_wav(tmp_path / "Bass.wav", bass)
    write_wav(tmp_path / "Keys.wav", keys)
    write_wav(tmp_path / "Pad.wav", keys)
    write_wav(tmp_path / "Bass v2.wav", 0.5 * bass)
    write_wav(tmp_path / "Brass.wav", np.zeros_like(bass))
    mix = heard(tmp_path).mix
    assert mix is not None
    assert mix.from_stems == ("Bass v2.wav", "Keys.wav")
    assert dict(mix.left_out) == {
        "Bass.wav": "an older version of Bass v2.wav",
        "Pad.wav": "the same audio as Keys.wav",
        "Brass.wav": "silent",
    }
    total = measure_loudness(0.5 * bass + keys, RATE)
    assert mix.loudness.integrated_lufs == pytest.approx(total.integrated_lufs, abs=1e-3)


def test_a_stem_at_another_rate_is_left_out(tmp_path: Path):
    write_wav(tmp_path / "Bass.wav", noise(14))
    write_wav(tmp_path / "Keys.wav", noise(15))
    write_wav(tmp_path / "Pad.wav", noise(16), rate_hz=44_100)
    mix = heard(tmp_path).mix
    assert mix is not None
    assert mix.sample_rate_hz == RATE
    assert dict(mix.left_out) == {"Pad.wav": "at another sample rate"}


def test_a_song_of_crew_stems_has_no_sum(tmp_path: Path):
    write_wav(tmp_path / "Click.wav", signals.clicks(4.0, rate_hz=RATE)[0])
    assert heard(tmp_path).mix is None


def test_threads_and_batches_change_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    for seed, name in enumerate(("Bass", "Keys", "Pad", "Drums")):
        write_wav(tmp_path / f"{name}.wav", noise(20 + seed, 3.3))
    alone = heard(tmp_path)
    assert heard(tmp_path, threads=4) == alone
    monkeypatch.setattr(open_files, "most_open_files", lambda: 2)
    for threads in (1, 3):
        apart = heard(tmp_path, threads=threads)
        assert apart.stems == alone.stems
        assert apart.mix is None
        assert apart.mix_failure == "4 stems cannot be summed: this system lets 2 of them be open at once"


def test_a_song_with_a_stem_of_very_many_channels_is_heard_in_smaller_blocks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    for seed, name in enumerate(("Bass", "Keys", "Pad", "Drums")):
        write_wav(tmp_path / f"{name}.wav", noise(20 + seed, 3.3, channels=8))
    alone = heard(tmp_path)
    sizes: set[int] = set()
    add = StemMeter.add
    monkeypatch.setattr(StemMeter, "add", lambda self, block: sizes.add(len(block)) or add(self, block))
    monkeypatch.setattr(open_files, "BLOCK_VALUES", 8 * 5_000)
    monkeypatch.setattr(open_files, "LONG_VALUES", 8 * 5_000)
    small = heard(tmp_path)
    assert max(sizes) == 5_000
    assert small.stems == alone.stems
    assert small.mix is not None
    assert small.mix == alone.mix


@pytest.mark.parametrize(("threads", "most"), [(1, 2), (3, 7)])
def test_no_more_blocks_are_held_however_many_stems(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, threads: int, most: int
):
    for number in range(20):
        write_wav(tmp_path / f"Pad {number:02}.wav", noise(number, 1.0, channels=2))
    live, highest = 0, 0
    add, lock = StemMeter.add, Lock()

    def gone() -> None:
        nonlocal live
        with lock:
            live -= 1

    def counted(self: StemMeter, block: np.ndarray) -> np.ndarray:
        nonlocal live, highest
        with lock:
            live, highest = live + 1, max(highest, live + 1)
        weakref.finalize(block, gone)
        return add(self, block)

    monkeypatch.setattr(StemMeter, "add", counted)
    assert heard(tmp_path, threads=threads).mix is not None
    assert 1 <= highest <= most


def test_the_second_pass_says_that_it_is_at_work(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """A duplicate shows in the first pass only; a silent second one would be taken for a hang."""
    write_wav(tmp_path / "Bass.wav", noise(12, 4.0))
    write_wav(tmp_path / "Pad.wav", noise(12, 4.0))
    told: list[tuple[str, int]] = []
    song = walk(tmp_path).songs[0]
    before: list[int] = []
    again = listen_module._sum_again
    monkeypatch.setattr(
        listen_module, "_sum_again", lambda *given: (before.append(len(told)), again(*given))[1]
    )
    listen(song, lambda *what: told.append(what))
    second = told[before[0] :]
    assert len(second) >= 4.0 * RATE // BLOCK_FRAMES
    assert set(second) == {("Bass.wav", 0)}
    assert sum(done for _, done in told) == sum(stem.size_bytes for stem in song.stems)


def test_the_second_pass_silences_what_is_no_number(tmp_path: Path):
    """A duplicate makes the sum be taken again: there, too, one NaN must not become the whole song."""
    bass, keys = noise(40), noise(41)
    broken = bass.copy()
    broken[1000] = [np.nan, np.inf]
    write_wav(tmp_path / "Bass.wav", broken, subtype="FLOAT")
    write_wav(tmp_path / "Keys.wav", keys, subtype="FLOAT")
    write_wav(tmp_path / "Pad.wav", keys, subtype="FLOAT")
    mix = heard(tmp_path).mix
    assert mix is not None
    assert mix.from_stems == ("Bass.wav", "Keys.wav")
    bass[1000] = 0.0
    assert lufs_of(mix) == pytest.approx(lufs(bass + keys), abs=1e-6)
    assert mix.peaks.sample_dbfs == pytest.approx(20 * np.log10(np.abs(bass + keys).max()), abs=1e-5)


def test_four_channels_sound_left_and_right_in_turn(tmp_path: Path):
    tones = [signals.sine(freq_hz=hz, peak=1.0, seconds=2.0)[0][:, 0] for hz in (100, 200, 300, 500)]
    four = np.stack(tones, axis=1) * np.array([0.4, 0.05, 0.2, 0.1])
    write_wav(tmp_path / "Keys.wav", four, subtype="FLOAT")
    mix = heard(tmp_path).mix
    assert mix is not None
    sides = np.stack([four[:, 0] + four[:, 2], four[:, 1] + four[:, 3]], axis=1)
    wanted = 20 * np.log10(np.abs(sides).max(axis=0))
    assert mix.peaks.channel_dbfs == pytest.approx(tuple(wanted), abs=1e-4)


def test_parts_at_another_rate_do_not_explain_a_full_mix(tmp_path: Path):
    bass, keys, pad = noise(42), noise(43), noise(44)
    write_wav(tmp_path / "Bass.wav", bass)
    write_wav(tmp_path / "Keys.wav", keys)
    write_wav(tmp_path / "Pad.wav", pad, rate_hz=44_100)
    write_wav(tmp_path / "Full Mix.wav", bass + keys)
    (fit,) = heard(tmp_path).parts_fits
    assert fit.parts == ("Bass.wav", "Keys.wav")
    assert fit.explained > 0.98


def test_one_part_and_a_silent_one_explain_no_mix(tmp_path: Path):
    """A full mix is its parts' only where there are two that sound: one alone may be a copy of it."""
    bass = noise(42)
    write_wav(tmp_path / "Bass.wav", bass)
    write_wav(tmp_path / "Keys.wav", np.zeros_like(bass))
    write_wav(tmp_path / "Full Mix.wav", 0.9 * bass)
    song = heard(tmp_path)
    assert song.parts_fits == ()
    assert song.mix is not None
    assert song.mix.from_stems == ("Bass.wav", "Full Mix.wav")


@pytest.mark.parametrize(("open_at_once", "summed"), [(3, True), (2, False)])
def test_a_song_is_summed_where_all_its_stems_can_be_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, open_at_once: int, summed: bool
):
    for seed, name in enumerate(("Bass", "Keys", "Pad")):
        write_wav(tmp_path / f"{name}.wav", noise(20 + seed, 0.5))
    monkeypatch.setattr(open_files, "most_open_files", lambda: open_at_once)
    assert (heard(tmp_path).mix is not None) is summed


def test_a_stem_that_is_not_audio_stops_nothing(tmp_path: Path):
    write_wav(tmp_path / "Bass.wav", noise(30))
    (tmp_path / "Keys.wav").write_bytes(b"not audio at all " * 100)
    (tmp_path / "Pad.wav").write_bytes(b"")
    song = heard(tmp_path)
    assert {stem.name: stem.audio is not None for stem in song.stems} == {
        "Bass.wav": True, "Keys.wav": False, "Pad.wav": False,
    }  # fmt: skip
    assert all(stem.failure for stem in song.stems if stem.audio is None)


@pytest.mark.parametrize("rate_hz", [4_000, 768_000])
def test_a_rate_that_is_not_measured_is_said_and_stops_nothing(tmp_path: Path, rate_hz: int):
    """Its header is believed, so that rules on formats can speak of it; the meters end at 8 and 384 kHz."""
    write_wav(tmp_path / "Bass.wav", noise(30))
    write_wav(tmp_path / "Keys.wav", noise(31, 0.2), rate_hz=rate_hz)
    song = heard(tmp_path)
    bass, keys = song.stems
    assert bass.audio is not None
    assert keys.format is not None
    assert keys.format.sample_rate_hz == rate_hz
    assert keys.audio is None
    assert keys.failure == f"it cannot be measured: a sample rate of {rate_hz} Hz is outside 8 … 384 kHz"
    assert keys.failure_cause is Cause.OURS
    assert song.mix is not None
    assert song.mix.from_stems == ("Bass.wav",)
