"""Chroma: planted chords and tunings are read, noise and drums are told apart, librosa agrees."""

from __future__ import annotations

from collections.abc import Sequence

import librosa
import numpy as np
import pytest

from audit.demo.band import PLAYERS, perform
from audit.demo.score import Composition, Section
from audit.facts import Role
from audit.measure import chroma as chroma_module
from audit.measure.chroma import ChromaMeter, design_thinning
from audit.results import Chroma
from tests.measure.feeding import BLOCK_SIZES, fed, measure_chroma

RATE_HZ = 48_000
CHORDS = ((9, 0, 4), (5, 9, 0), (0, 4, 7), (7, 11, 2))  # Am F C G
SONG = Composition(
    title="Tar and Feather Weather", key="A minor", bpm=112, count_in_bars=0, preroll_s=0.0,
    sections=(
        Section(name="verse", bars=4, chords=("Am", "F", "C", "G"), energy=0.8),
        Section(name="end", bars=1, chords=("Am",), energy=0.8),
    ),
)  # fmt: skip


def tones(
    pitches: Sequence[float], seconds: float, rate_hz: int = RATE_HZ, *, overtones: int = 4
) -> np.ndarray:
    """Notes by their MIDI numbers (69 = 440 Hz; fractions are cents), each with weakening overtones; mono."""
    at_s = np.arange(round(seconds * rate_hz)) / rate_hz
    wave = np.zeros(len(at_s))
    for pitch in pitches:
        hertz = 440.0 * 2.0 ** ((pitch - 69.0) / 12.0)
        for partial in range(1, overtones + 1):
            wave += 0.05 / partial**1.5 * np.sin(2 * np.pi * hertz * partial * at_s + pitch + partial)
    return wave[:, None].astype(np.float32)


def progression(rate_hz: int = RATE_HZ, *, cents: float = 0.0) -> np.ndarray:
    """Four chords of one second each."""
    return np.concatenate([tones([60 + k + cents / 100.0 for k in chord], 1.0, rate_hz) for chord in CHORDS])


def classes(chroma: Chroma) -> np.ndarray:
    return np.frombuffer(chroma.classes, dtype=np.uint8).reshape(-1, 12)


def strongest(chroma: Chroma, at_s: float, count: int = 3) -> set[int]:
    return set(np.argsort(classes(chroma)[round(at_s / chroma.hop_s)])[-count:].tolist())


@pytest.mark.parametrize("rate_hz", [8_000, 22_050, 44_100, 48_000, 96_000, 192_000])
@pytest.mark.parametrize("cents", [0.0, 40.0, -45.0])
def test_chords_are_read_at_any_rate_and_tuning(rate_hz: int, cents: float):
    found = measure_chroma(progression(rate_hz, cents=cents), rate_hz)
    for number, chord in enumerate(CHORDS):
        assert strongest(found, number + 0.5) == set(chord)
    assert found.tuning_cents == pytest.approx(cents, abs=2.0)
    assert found.tuning_agreed > 0.95
    assert found.tonal > 0.9


@pytest.mark.parametrize("pitch", [28, 33, 40, 52, 69, 88])
def test_single_notes_from_a_bass_low_e_to_the_top(pitch: int):
    found = measure_chroma(tones([pitch], 1.5, overtones=1), RATE_HZ)
    assert strongest(found, 0.7, 1) == {pitch % 12}


def test_a_bass_line_has_the_class_of_its_notes():
    line = [28, 31, 33, 26]
    wave = np.concatenate([tones([pitch], 0.5, overtones=6) for pitch in line])
    found = measure_chroma(wave, RATE_HZ)
    assert [strongest(found, 0.5 * k + 0.25, 1) for k in range(4)] == [{pitch % 12} for pitch in line]


def test_a_change_of_chord_lies_where_it_is():
    """Half way between the two chords both are as strong."""
    wave = np.concatenate([tones([60], 1.0, overtones=1), tones([66], 1.0, overtones=1)])
    found = measure_chroma(wave, RATE_HZ)
    share = classes(found)[:, 6] / np.maximum(classes(found)[:, [0, 6]].sum(axis=1), 1)
    assert np.interp(0.5, share[5:15], np.arange(5, 15) * found.hop_s) == pytest.approx(1.0, abs=0.03)


def test_noise_and_silence_have_no_harmony():
    random = np.random.default_rng(3)
    noise = measure_chroma(0.1 * random.standard_normal((RATE_HZ * 5, 1)).astype(np.float32), RATE_HZ)
    assert noise.tonal < 0.05
    assert np.mean(np.array(noise.levels) > 0) < 0.4
    nothing = measure_chroma(np.zeros((RATE_HZ * 2, 2), dtype=np.float32), RATE_HZ)
    assert nothing.tonal == 0.0
    assert nothing.tuning_cents is None
    assert not any(nothing.classes)
    assert not any(nothing.levels)
    assert len(measure_chroma(np.zeros((100, 1), dtype=np.float32), RATE_HZ).levels) == 0


def test_the_levels_are_the_tones():
    """A sine's amplitude; half of it lies 6.02 dB lower, and the classes stay."""
    wave = tones([69], 1.0, overtones=1)
    loud, quiet = measure_chroma(wave, RATE_HZ), measure_chroma(0.5 * wave, RATE_HZ)
    weighed = 0.05 / (1.0 + (440.0 / 1200.0) ** 2)
    assert loud.levels[5] / 2.0 - 120.0 == pytest.approx(20.0 * np.log10(weighed), abs=0.5)
    assert (loud.levels[5] - quiet.levels[5]) / 2.0 == pytest.approx(6.02, abs=0.5)
    np.testing.assert_allclose(classes(loud), classes(quiet), atol=1)


@pytest.mark.parametrize("size", [*BLOCK_SIZES, 47])
def test_any_block_size_gives_the_same(size: int):
    wave = np.concatenate([progression()[:90_000], progression(cents=30.0)[:90_000]], axis=1)
    whole, cut = (fed(ChromaMeter(RATE_HZ, 2), wave, n).result() for n in (len(wave), size))
    assert whole == cut


def test_channels_are_told_apart_and_together():
    wave = np.concatenate([tones([60], 2.0), tones([64], 2.0)], axis=1)
    meter = fed(ChromaMeter(RATE_HZ, 2), wave)
    assert meter.result((0,)) == measure_chroma(wave[:, :1].copy(), RATE_HZ)
    assert meter.result((1,)) == measure_chroma(wave[:, 1:].copy(), RATE_HZ)
    assert strongest(meter.result(), 1.0, 2) == {0, 4}
    # What cancels in mono is heard all the same.
    opposed = np.concatenate([tones([60], 2.0), -tones([60], 2.0)], axis=1)
    assert strongest(measure_chroma(opposed, RATE_HZ), 1.0, 1) == {0}


def test_what_lies_before_moves_everything():
    late = np.concatenate([np.zeros((RATE_HZ, 1), dtype=np.float32), progression()])
    plain, moved = classes(measure_chroma(progression(), RATE_HZ)), classes(measure_chroma(late, RATE_HZ))
    np.testing.assert_allclose(moved[12 : 10 + len(plain)], plain[2:], atol=2)


def test_nothing_above_the_range_folds_into_it():
    factor, _ = design_thinning(RATE_HZ)
    at_s = np.arange(RATE_HZ * 2) / RATE_HZ
    folding_hz = RATE_HZ / factor - 440.0
    high = 0.5 * np.sin(2 * np.pi * folding_hz * at_s)[:, None].astype(np.float32)
    both = high + tones([60], 2.0, overtones=1)
    assert strongest(measure_chroma(both, RATE_HZ), 1.0, 1) == {0}
    alone = measure_chroma(high, RATE_HZ)
    assert alone.levels[10] / 2.0 - 120.0 < -50.0


def likeness(mine: Chroma, wave: np.ndarray) -> float:
    """Mean correlation with librosa's chroma over the hops that sound."""
    theirs = librosa.feature.chroma_stft(
        y=wave.mean(axis=1), sr=RATE_HZ, n_fft=16384, hop_length=round(mine.hop_s * RATE_HZ), tuning=0.0,
    ).T  # fmt: skip
    ours, count = classes(mine).astype(float), min(len(mine.levels), len(theirs))
    loud = np.array(mine.levels[:count]) > max(mine.levels) - 60
    pairs = zip(ours[:count][loud], theirs[:count][loud], strict=True)
    return float(np.mean([np.corrcoef(one, other)[0, 1] for one, other in pairs]))


def test_librosa_reads_the_same_chords():
    assert likeness(measure_chroma(progression(), RATE_HZ), progression()) > 0.85


@pytest.fixture(scope="module")
def takes() -> dict[Role, np.ndarray]:
    roles = (Role.KEYS, Role.PAD, Role.PIANO, Role.BASS, Role.GUITAR, Role.STRINGS, Role.DRUMS)
    return {role: perform(SONG, PLAYERS[role], RATE_HZ).samples for role in roles}


@pytest.mark.parametrize(
    "role", [Role.KEYS, Role.PAD, Role.PIANO, Role.BASS, Role.GUITAR, Role.STRINGS], ids=lambda r: r.value
)
def test_librosa_agrees_on_instruments(takes: dict[Role, np.ndarray], role: Role):
    found = measure_chroma(takes[role], RATE_HZ)
    assert likeness(found, takes[role]) > 0.7
    assert found.tonal > 0.5
    assert found.tuning_cents == pytest.approx(0.0, abs=12.0)


def test_drums_are_told_from_instruments(takes: dict[Role, np.ndarray]):
    assert measure_chroma(takes[Role.DRUMS], RATE_HZ).tonal < 0.5


def test_long_files_stay_small(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(chroma_module, "MOST_HOPS", 20)
    found = fed(ChromaMeter(8_000, 1), tones([60], 10.0, 8_000), 1000).result()
    assert 20 <= len(found.levels) <= 22
    assert len(found.classes) == 12 * len(found.levels)
