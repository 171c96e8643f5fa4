"""ContentMeter: the same audio has the same name, however it is stored; other audio has another."""

from __future__ import annotations

import numpy as np
import pytest
import soundfile
import xxhash

from audit.measure.content import ContentMeter
from tests import signals
from tests.measure.feeding import BLOCK_SIZES, beside, blocks, fed

RATE_HZ = 48_000


def name_of(
    samples: signals.Samples,
    *,
    rate_hz: int = RATE_HZ,
    part: tuple[int, ...] | None = None,
    size: int = 65_536,
) -> str | None:
    return fed(ContentMeter(rate_hz, samples.shape[1]), samples, size).result(part)


BED = signals.quantise(signals.music_bed(1.3)[0], 24)


def test_wav_flac_and_aiff_have_the_same_name(tmp_path):
    names = set()
    for suffix in ("wav", "flac", "aiff", "w64"):
        path = tmp_path / f"take.{suffix}"
        soundfile.write(path, BED, RATE_HZ, subtype="PCM_24")
        with soundfile.SoundFile(path) as file:
            meter = ContentMeter(RATE_HZ, 2)
            for block in file.blocks(4096, dtype="float32", always_2d=True):
                meter.add(block)
        names.add(meter.result())
    assert names == {name_of(BED)}


@pytest.mark.parametrize("size", BLOCK_SIZES)
def test_the_block_size_does_not_change_the_name(size):
    assert name_of(BED, size=size) == name_of(BED, size=311)


def test_channels_first_in_memory_has_the_same_name():
    assert name_of(np.asfortranarray(BED)) == name_of(BED)


@pytest.mark.parametrize("frame", [0, 31_337, len(BED) - 1])
def test_one_lowest_bit_changes_the_name(frame):
    other = BED.copy()
    other[frame, 1] += np.float32(2.0**-23)
    assert name_of(other) != name_of(BED)


def test_what_else_changes_the_name():
    names = [
        name_of(BED),
        name_of(BED, rate_hz=44_100),
        name_of(BED[:, ::-1].copy()),
        name_of(BED[:, :1].copy()),
        name_of(signals.join(BED, np.zeros((1, 2), np.float32))),
        name_of(-BED),
        name_of(beside(BED[:, :1], BED[:, :1])),
    ]
    assert len(set(names)) == len(names)


def test_the_sign_of_zero_does_not():
    minus = np.where(BED == 0.0, np.float32(-0.0), BED)
    assert np.signbit(minus).sum() > np.signbit(BED).sum()
    assert name_of(minus) == name_of(BED)


def test_a_part_is_named_like_a_file_that_holds_it_alone():
    assert name_of(BED, part=(1,)) == name_of(BED[:, 1:].copy())


def test_silence_has_no_name():
    assert name_of(signals.silence(1.0, channels=2)[0]) is None
    assert name_of(signals.silence(0.0)[0]) is None
    assert name_of(np.full((10, 1), -0.0, np.float32)) is None


def test_the_hash_is_the_published_one():
    # XXH3 specification, test vector of the empty input with seed 0 (xxHash repository, tests) [memory].
    assert xxhash.xxh3_128(b"").hexdigest() == "99aa06d3014798d86001c324468d497f"
    mono = BED[:, :1].copy()
    inner = xxhash.xxh3_128(
        b"".join((block + 0.0).astype("<f4").tobytes() for block in blocks(mono, 1000))
    ).digest()
    assert name_of(mono) == xxhash.xxh3_128(b"48000 Hz, 1 channels" + inner).hexdigest()
