"""HardEndMeter: a sound that is cut off keeps its level to its end; what dies away, fades or is released
falls."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile

from audit.measure.hard_end import HardEndMeter
from audit.results import HardEnd
from tests.shared import shared_folder

RATE_HZ = 48_000


def measured(wave: np.ndarray, size: int = 65_536, rate_hz: int = RATE_HZ) -> HardEnd | None:
    samples = np.atleast_2d(wave.astype(np.float32).T).T
    meter = HardEndMeter(rate_hz, samples.shape[1])
    for start in range(0, len(samples), size):
        meter.add(samples[start : start + size])
    return meter.result(tuple(range(samples.shape[1])))


def end_of(wave: np.ndarray, **more: int) -> HardEnd:
    found = measured(wave, **more)
    assert found is not None
    return found


def tone(seconds: float, hz: float = 440.0, decay_s: float = np.inf) -> np.ndarray:
    """−9 dBFS RMS; falls by 60 dB in decay_s."""
    at_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return np.asarray(0.5 * np.sin(2 * np.pi * hz * at_s) * 10.0 ** (-3.0 * at_s / decay_s))


def rest(seconds: float) -> np.ndarray:
    return np.zeros(round(seconds * RATE_HZ))


def faded(wave: np.ndarray, seconds: float) -> np.ndarray:
    """With a straight fade at its end."""
    frames = round(seconds * RATE_HZ)
    return np.concatenate([wave[:-frames], wave[-frames:] * np.linspace(1.0, 0.0, frames)])


@pytest.mark.parametrize("behind_s", [0.0, 0.01, 0.06, 2.0])
def test_a_cut_tone_keeps_its_level(behind_s: float):
    """A sine of peak 0.5 has −9.03 dBFS RMS (0.5/√2)."""
    end = end_of(np.concatenate([rest(0.5), tone(1.0), rest(behind_s)]))
    assert end.at_s == pytest.approx(1.5, abs=0.0002)
    assert end.level_dbfs == pytest.approx(-9.03, abs=0.1)
    assert end.fall_db == pytest.approx(0.0, abs=0.5)
    assert (end.stops, end.hard_stops) == (0, 0)


@pytest.mark.parametrize(
    ("wave", "fall_db"),
    [
        (faded(tone(1.0), 0.01), 6.6),  # mean of (t/10 ms)² over its last 8 ms: 0.64 / 3, −6.7 dB
        (faded(tone(1.0), 0.02), 12.7),  # (0.4)² / 3
        (faded(tone(1.0), 0.1), 19.1),  # 0.08² / 3 beside (0.6³ − 0.2³) / 1.2
        (tone(1.0, decay_s=0.2), 12.0),  # 300 dB a second: ∫ of 10 to the power of −30 t over both spans
        (tone(1.0, decay_s=2.0), 1.1),  # 30 dB a second: a chord that rings on
    ],
)
def test_what_ends_by_itself_falls(wave: np.ndarray, fall_db: float):
    assert end_of(np.concatenate([wave, rest(1.0)])).fall_db == pytest.approx(fall_db, abs=0.8)


def test_ends_before_rests_are_counted_and_hard_ones_too():
    notes = [tone(0.3), rest(0.1), faded(tone(0.3), 0.05), rest(0.3), tone(0.3), rest(0.008), tone(0.2)]
    end = end_of(np.concatenate([*notes, rest(0.5), tone(1.0)]))  # 8 ms are no rest
    assert (end.stops, end.hard_stops) == (3, 2)
    assert end.at_s == pytest.approx(sum(len(note) for note in notes) / RATE_HZ + 1.5, abs=0.001)
    quiet = end_of(np.concatenate([0.005 * tone(0.3), rest(0.1), tone(0.3)]))  # −55 dBFS: not hard
    assert (quiet.stops, quiet.hard_stops) == (1, 0)


@pytest.mark.parametrize("size", [1, 7, 480, 4096, 10**6])
def test_blocks_change_nothing(size: int):
    random = np.random.default_rng(4)
    notes = [
        piece
        for _ in range(3 if size == 1 else 12)
        for piece in (tone(random.uniform(0.02, 0.1)), rest(random.uniform(0.005, 0.03)))
    ]
    wave = np.concatenate([*notes, tone(0.05)])
    assert measured(wave, size=size) == measured(wave, size=65_536)


def test_against_numpy_over_the_whole_file():
    """A second implementation, which looks at all samples at once."""
    random = np.random.default_rng(9)
    notes = [
        piece
        for _ in range(40)
        for piece in (
            faded(tone(0.2), random.choice([0.001, 0.03])),
            rest(random.choice([0.007, 0.009, 0.08])),
        )
    ]
    wave = np.concatenate([*notes, tone(0.3), rest(0.01)]).astype(np.float32)
    loud = np.flatnonzero(np.abs(wave) > 10.0 ** (-70.0 / 20.0))
    gaps = np.flatnonzero(np.diff(loud) - 1 >= round(0.01 * RATE_HZ))
    end, behind = end_of(wave), int(loud[-1]) + 1
    wave = wave - wave[behind - 2400 : behind].mean()
    last = 10 * np.log10(np.mean(wave[behind - 384 : behind] ** 2.0))  # 8 ms
    before = 10 * np.log10(np.mean(wave[behind - 2880 : behind - 960] ** 2.0))  # 60 to 20 ms
    assert end.stops == len(gaps)
    assert end.at_s == behind / RATE_HZ
    assert end.fall_db == pytest.approx(before - last, abs=0.01)


def test_of_two_channels_the_one_that_sounds_last_tells():
    left, right = np.concatenate([tone(1.0), rest(0.5)]), faded(tone(1.5), 0.1)
    both = end_of(np.stack([left, right], axis=1))
    assert both.at_s == pytest.approx(1.5, abs=0.01)
    assert both.fall_db > 10.0


def test_a_constant_under_a_sound_that_dies_away_is_no_level():
    """1 % of full scale, −40 dBFS, to the end of the file."""
    end = end_of(np.concatenate([faded(tone(1.0), 0.2), rest(1.0)]) + 0.01)
    assert end.level_dbfs < -80.0
    cut = end_of(np.concatenate([rest(1.0), tone(1.0)]) + 0.01)
    assert (cut.level_dbfs, cut.fall_db) == pytest.approx((-9.03, 0.0), abs=0.5)


@pytest.mark.parametrize("seconds", [0.005, 0.01, 0.015, 0.02, 0.03, 0.1])
def test_a_knock_that_dies_away_is_not_cut(seconds: float):
    """By 64 dB in so many seconds, long after everything else."""
    at_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    knock = 0.5 * np.sin(2 * np.pi * 2000 * at_s) * 10.0 ** (-3.2 * at_s / seconds)
    end = end_of(np.concatenate([faded(tone(1.0), 0.1), rest(1.0), knock, rest(0.5)]))
    assert end.at_s == pytest.approx(2.1 + seconds - 0.1, abs=0.011)
    assert end.fall_db > 3.0


def test_silence_has_no_end():
    assert measured(rest(2.0)) is None
    assert HardEndMeter(RATE_HZ, 1).result((0,)) is None


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 192_000])
def test_other_rates(rate_hz: int):
    at_s = np.arange(rate_hz) / rate_hz
    end = end_of(0.5 * np.sin(2 * np.pi * 440.0 * at_s), rate_hz=rate_hz)
    assert (end.level_dbfs, end.fall_db) == pytest.approx((-9.03, 0.0), abs=0.5)


def test_rendered_stems_die_away_and_cut_ones_do_not():
    """Where they sound to within 10 dB of their level, on a grid of 2 s; drums fall between their strokes."""
    cut = told = 0
    for path in sorted(shared_folder("corpus").glob("*/*.flac")):
        if path.stem.split()[0] in {"Click", "Guide", "Timecode", "Drums", "Percussion"}:
            continue
        samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
        whole = end_of(samples, rate_hz=rate_hz)
        assert whole.fall_db > 3.0 or whole.level_dbfs < -50.0, path
        level = np.sqrt(np.mean(samples**2.0))
        for behind in range(20 * rate_hz, len(samples), 2 * rate_hz):
            if np.sqrt(np.mean(samples[behind - rate_hz // 20 : behind] ** 2.0)) > 0.3 * level:
                cut += 1
                told += end_of(samples[behind - 2 * rate_hz : behind], rate_hz=rate_hz).fall_db < 3.0
    assert cut > 100
    assert told >= 0.65 * cut
