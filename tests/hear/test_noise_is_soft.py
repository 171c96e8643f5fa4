"""What full-scale-noise tells of a stem, no clip of it plays above −40 dBFS, wherever it is asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.hear.caps import MUSIC, NOISE
from audit.hear.clip import Clip, cut_clip
from audit.measure.peaks import measure_peaks
from audit.measure.scrambled import ScrambledMeter
from tests import signals
from tests.benchmarks.origin import scramblings
from tests.evidence import findings, show, song, stem
from tests.measure.feeding import fed
from tests.provoking import PROVOKING

RATE_HZ = 48_000
SECONDS = 10
PLACES_S = (0.0, 3.3, 7.0, 9.9)
SCRAMBLINGS = {name: (bits, plant) for name, bits, plant in scramblings()}


def written(folder: Path, samples: signals.Samples, bits: int) -> Path:
    file = folder / "Keys.wav"
    soundfile.write(file, samples, RATE_HZ, subtype=f"PCM_{bits}")
    return file


def cut(file: Path, at_s: float, channel: int | None = None) -> Clip:
    return cut_clip(file, lambda rate_hz: round(at_s * rate_hz), channel=channel)


def is_soft(clip: Clip) -> bool:
    """Its samples by plain numpy, and what lies between them by the house's own measure."""
    highest = 20 * np.log10(np.abs(clip.samples).max())
    return highest <= -40.0 + 0.01 and measure_peaks(clip.samples, clip.rate_hz).true_dbtp <= -40.0 + 0.01


def scrambled(kind: str, level_db: float) -> tuple[signals.Samples, int]:
    bits, plant = SCRAMBLINGS[kind]
    bed = signals.turn(signals.music_bed(float(SECONDS), seed=91)[0], level_db)
    return plant(signals.quantise(bed, 24)), bits


@pytest.mark.parametrize("level_db", [0.0, -30.0], ids=["loud", "quiet"])
@pytest.mark.parametrize("kind", SCRAMBLINGS)
def test_what_the_rule_tells_is_soft_at_every_place_and_channel(tmp_path, kind, level_db):
    samples, bits = scrambled(kind, level_db)
    heard = fed(
        ScrambledMeter(RATE_HZ, samples.shape[1], bits=bits, is_float=False), samples, 65_536
    ).result()
    evidence = show(song("Night Ferry", stem("Keys.wav", audio={"scrambled": heard})))
    assert findings("full-scale-noise", evidence)
    file = written(tmp_path, samples, bits)
    last_s = len(samples) / RATE_HZ - 0.1
    for number, at_s in enumerate(PLACES_S):
        for channel in (None, 1 + number % samples.shape[1]):
            clip = cut(file, min(at_s, last_s), channel)
            assert clip.caps is NOISE, (at_s, channel)
            assert is_soft(clip), (at_s, channel)


@pytest.mark.parametrize("channels", [3, 8, 32])
@pytest.mark.parametrize("all_of_them", [True, False], ids=["all are noise", "one of them is noise"])
def test_noise_among_many_channels_is_not_lost_in_their_sum(tmp_path, channels, all_of_them):
    samples = np.zeros((8 * RATE_HZ, channels), np.float32)
    noise = np.random.default_rng(4).uniform(-1, 1, samples.shape).astype(np.float32)
    samples[:, :] = noise if all_of_them else 0.0
    samples[:, -1] = noise[:, -1]
    file = written(tmp_path, samples, 24)
    for channel in (None, channels):
        clip = cut(file, 5.0, channel)
        assert clip.caps is NOISE
        assert is_soft(clip)


@pytest.mark.parametrize("one", PROVOKING, ids=lambda one: one.name)
def test_no_clean_stem_is_taken_for_noise(tmp_path, one):
    samples = one.make()
    file = written(tmp_path, samples, 24)
    for at_s in (0.0, len(samples) / RATE_HZ / 2):
        assert cut(file, at_s).caps is not NOISE


def test_a_bed_is_music(tmp_path):
    assert cut(written(tmp_path, signals.music_bed(9.0)[0], 24), 4.0).caps is MUSIC
