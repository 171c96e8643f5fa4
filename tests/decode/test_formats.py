"""Every container, width and channel count: our samples against soundfile's and ffmpeg's."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from audit.decode.container import Coding
from audit.decode.samples import companding_table
from tests import containers as made
from tests.decode.reading import RATE_HZ, ffmpeg, read_whole

FRAMES = 3001  # odd, and no multiple of any block
NEED_FFMPEG = pytest.mark.skipif(shutil.which("ffmpeg") is None, reason="ffmpeg is not installed")

WRITTEN = [
    *[("wav", "WAV", subtype) for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")],
    *[("wav", "WAV", subtype) for subtype in ("ALAW", "ULAW", "MS_ADPCM", "IMA_ADPCM")],
    *[("wav", "WAVEX", subtype) for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")],
    *[("wav", "RF64", subtype) for subtype in ("PCM_16", "PCM_24", "FLOAT")],
    *[("w64", "W64", subtype) for subtype in ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "ULAW")],
    *[("aiff", "AIFF", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")],
    *[("aiff", "AIFF", subtype) for subtype in ("ALAW", "ULAW", "PCM_U8")],
    *[("caf", "CAF", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")],
    *[("caf", "CAF", subtype) for subtype in ("ALAW", "ULAW", "ALAC_16", "ALAC_24")],
    *[("flac", "FLAC", subtype) for subtype in ("PCM_S8", "PCM_16", "PCM_24")],
    *[("au", "AU", subtype) for subtype in ("PCM_16", "FLOAT")],
]
MOST_CHANNELS = {"FLAC": 8, "MS_ADPCM": 2, "IMA_ADPCM": 2, "ALAC_16": 2, "ALAC_24": 2}
CASES = [
    (*kind, channels)
    for kind in WRITTEN
    for channels in (1, 2, 6, 32)
    if channels <= min(MOST_CHANNELS.get(kind[1], 32), MOST_CHANNELS.get(kind[2], 32))
]
CONTAINERS = {"WAVEX": "WAV"}
LOSSY = {"ALAW", "ULAW", "MS_ADPCM", "IMA_ADPCM"}
BITS = {
    "PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64,
    "ALAC_16": 16, "ALAC_24": 24,
}  # fmt: skip


def noise(channels: int, frames: int = FRAMES) -> np.ndarray:
    samples = np.random.default_rng(channels).uniform(-1.0, 1.0, (frames, channels))
    samples[0] = -1.0
    return samples


@pytest.mark.parametrize(("extension", "container", "subtype", "channels"), CASES)
def test_same_samples_as_soundfile(
    extension: str, container: str, subtype: str, channels: int, tmp_path: Path
):
    """soundfile writes the file, and reads it as the second implementation."""
    path = tmp_path / f"stem.{extension}"
    soundfile.write(path, noise(channels), RATE_HZ, format=container, subtype=subtype)
    expected, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    reading = read_whole(path, block_frames=1000)
    np.testing.assert_array_equal(reading.samples, expected)
    assert reading.faults == ()
    stem_format = reading.header.format
    assert stem_format is not None
    is_aifc = container == "AIFF" and subtype in ("FLOAT", "DOUBLE", "ALAW", "ULAW", "PCM_U8")
    assert stem_format.container == ("AIFC" if is_aifc else CONTAINERS.get(container, container))
    assert stem_format.encoding == soundfile.info(path).subtype
    assert (stem_format.sample_rate_hz, stem_format.channels) == (rate_hz, channels)
    assert stem_format.frames == len(expected)
    assert stem_format.bits == BITS.get(subtype)
    assert stem_format.lossy == (subtype in LOSSY)
    assert stem_format.is_float == (subtype in ("FLOAT", "DOUBLE"))


@NEED_FFMPEG
@pytest.mark.parametrize(
    ("name", "codec", "more"),
    [
        ("u8.wav", "pcm_u8", ()), ("s16.wav", "pcm_s16le", ()), ("s24.wav", "pcm_s24le", ()),
        ("s32.wav", "pcm_s32le", ()), ("f32.wav", "pcm_f32le", ()), ("f64.wav", "pcm_f64le", ()),
        ("alaw.wav", "pcm_alaw", ()), ("mulaw.wav", "pcm_mulaw", ()),
        ("long.wav", "pcm_s24le", ("-rf64", "always")), ("s24.w64", "pcm_s24le", ()),
        ("s16.aiff", "pcm_s16be", ()), ("s24.aiff", "pcm_s24be", ()),
        ("f32.aifc", "pcm_f32be", ("-f", "aiff")), ("sowt.aifc", "pcm_s16le", ("-f", "aiff")),
        ("s24.caf", "pcm_s24le", ()), ("s16.caf", "pcm_s16be", ()),
        ("s16.flac", "flac", ("-sample_fmt", "s16")), ("s24.flac", "flac", ("-sample_fmt", "s32")),
    ],
)  # fmt: skip
@pytest.mark.parametrize("channels", [1, 2, 6])
def test_same_samples_as_ffmpeg(name: str, codec: str, more: tuple[str, ...], channels: int, tmp_path: Path):
    """ffmpeg writes and reads: a second decoder that shares no code with libsndfile."""
    source = tmp_path / "source.wav"
    soundfile.write(source, noise(channels), RATE_HZ, subtype="PCM_24", format="WAVEX")
    path = tmp_path / name
    ffmpeg("-i", source, "-c:a", codec, *more, path)
    decoded = ffmpeg("-i", path, "-c:a", "pcm_f32le", "-f", "f32le", "-")
    expected = np.frombuffer(decoded, np.float32).reshape(-1, channels)
    padding = 1 if path.suffix == ".w64" and codec == "pcm_s24le" and channels == 1 else 0
    assert len(expected) == FRAMES + padding  # ffmpeg counts Wave64's padding to eight bytes as audio
    reading = read_whole(path)
    np.testing.assert_array_equal(reading.samples, expected)
    assert reading.faults == ()


@pytest.mark.parametrize("channels", [1, 2, 32])
@pytest.mark.parametrize(
    ("bits", "sample_bytes"), [(8, 1), (12, 2), (16, 2), (20, 3), (24, 3), (24, 4), (32, 4)]
)
def test_valid_bits_of_an_extensible_header(bits: int, sample_bytes: int, channels: int, tmp_path: Path):
    """Valid bits stand left-justified in their container (WAVEFORMATEXTENSIBLE,
    wValidBitsPerSample: Microsoft MS-RDPEAI 2.2.2.3.1; left-justified with zeros behind [memory])."""
    valid = made.random_samples(FRAMES, channels, bits)
    stored = valid << (8 * sample_bytes - bits)
    audio = made.unsigned_8(stored) if sample_bytes == 1 else made.pcm_bytes(stored, sample_bytes)
    header = made.wave_format(
        channels=channels, rate_hz=RATE_HZ, bits=8 * sample_bytes, valid_bits=bits, extensible=True
    )
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(audio, header))
    reading = read_whole(path)
    assert reading.faults == ()
    assert reading.header.format is not None
    assert reading.header.format.bits == bits
    np.testing.assert_array_equal(reading.samples, (valid / 2.0 ** (bits - 1)).astype(np.float32))


@pytest.mark.parametrize("frames", [10, FRAMES])
@pytest.mark.parametrize(
    ("sample_bytes", "subtype", "kinds"), [(4, "PCM_32", []), (3, "PCM_24", ["damaged"])]
)
def test_24_bits_beside_a_frame_size_of_four_bytes_a_sample(
    sample_bytes: int, subtype: str, kinds: list[str], frames: int, tmp_path: Path
):
    """Either the samples stand in four bytes, or the frame size is wrong; libsndfile looks as well."""
    samples = made.random_samples(frames, 2, 24)
    audio = made.pcm_bytes(samples << (8 * sample_bytes - 24), sample_bytes)
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(audio, made.wave_format(channels=2, rate_hz=RATE_HZ, bits=24, block_align=8)))
    reading = read_whole(path)
    assert reading.kinds == kinds
    assert reading.header.format is not None
    assert (reading.header.format.encoding, reading.header.format.bits) == (subtype, 24)
    np.testing.assert_array_equal(reading.samples, (samples / 2.0**23).astype(np.float32))
    if frames == FRAMES:
        expected = soundfile.read(path, dtype="float32")[0]
        np.testing.assert_array_equal(reading.samples, expected)


@pytest.mark.parametrize("sample_bytes", [2, 3, 4])
@pytest.mark.parametrize("compression", [None, b"NONE", b"sowt", b"twos"])
def test_aiff_byte_orders(sample_bytes: int, compression: bytes | None, tmp_path: Path):
    samples = made.random_samples(FRAMES, 2, 8 * sample_bytes)
    audio = made.pcm_bytes(samples, sample_bytes, big_endian=compression != b"sowt")
    path = tmp_path / "stem.aif"
    path.write_bytes(
        made.aiff(audio, channels=2, rate_hz=RATE_HZ, bits=8 * sample_bytes, frame_bytes=2 * sample_bytes,
                  compression=compression, offset=8)
    )  # fmt: skip
    expected = (samples / 2.0 ** (8 * sample_bytes - 1)).astype(np.float32)
    np.testing.assert_array_equal(read_whole(path).samples, expected)


@pytest.mark.parametrize("little_endian", [False, True])
@pytest.mark.parametrize("bits", [8, 16, 24, 32])
def test_caf_byte_orders(bits: int, little_endian: bool, tmp_path: Path):
    samples = made.random_samples(FRAMES, 2, bits)
    audio = made.pcm_bytes(samples, bits // 8, big_endian=not little_endian)
    path = tmp_path / "stem.caf"
    path.write_bytes(made.caf(audio, channels=2, rate_hz=RATE_HZ, bits=bits, little_endian=little_endian))
    expected = (samples / 2.0 ** (bits - 1)).astype(np.float32)
    np.testing.assert_array_equal(read_whole(path).samples, expected)


@pytest.mark.parametrize("dtype", ["<f4", "<f8"])
def test_floats_pass_untouched(dtype: str, tmp_path: Path):
    """Values above full scale, NaN (also signalling), infinity and what float32 cannot hold."""
    values = np.array([0.0, -0.0, 1.5, -7.25, np.nan, np.inf, -np.inf, 1e-40, 0.1], dtype)
    audio = values.tobytes() + (b"\x01\x00\x80\x7f" if dtype == "<f4" else b"\x01" + bytes(5) + b"\xf0\x7f")
    if dtype == "<f8":
        audio += np.array([1e300], dtype).tobytes()
        values = np.append(values, [np.nan, np.inf])
    else:
        values = np.append(values, np.float32(np.nan))
    header = made.wave_format(channels=1, rate_hz=RATE_HZ, bits=8 * int(dtype[2]), tag=made.FLOAT)
    path = tmp_path / "stem.wav"
    path.write_bytes(made.wave(audio, header))
    with np.errstate(over="ignore"):
        expected = values.astype(np.float32)
    np.testing.assert_array_equal(read_whole(path).samples[:, 0], expected)


@pytest.mark.parametrize("block_frames", [1, 7, 999, 1000, 3000, 3001, 3002, 65536])
@pytest.mark.parametrize(("extension", "subtype"), [("wav", "PCM_24"), ("flac", "PCM_24"), ("ogg", "VORBIS")])
def test_any_block_size_gives_the_same(extension: str, subtype: str, block_frames: int, tmp_path: Path):
    path = tmp_path / f"stem.{extension}"
    soundfile.write(path, noise(2), RATE_HZ, subtype=subtype)
    reading = read_whole(path, block_frames)
    np.testing.assert_array_equal(reading.samples, read_whole(path).samples)
    assert reading.faults == ()
    assert len(reading.samples) == FRAMES


def test_block_size_must_be_positive(tmp_path: Path):
    path = tmp_path / "stem.wav"
    soundfile.write(path, noise(1), RATE_HZ)
    with pytest.raises(ValueError, match="block_frames must be at least 1"):
        read_whole(path, 0)


def test_g711_values():
    """ITU-T G.711 tables 1a to 2b: the largest and smallest decoded values, times the scale of 16 bits.

    A-law runs to 4032 of 4096, µ-law to 8031 of 8159, here 32256 and 32124 of 32768 [memory].
    """
    a_law = companding_table(Coding.ALAW) * 32768
    mu_law = companding_table(Coding.ULAW) * 32768
    assert (a_law.max(), a_law.min(), np.abs(a_law).min()) == (32256, -32256, 8)
    assert (mu_law.max(), mu_law.min(), np.abs(mu_law).min()) == (32124, -32124, 0)
    assert (a_law[0xD5], a_law[0x55], mu_law[0x80], mu_law[0x00]) == (8, -8, 32124, -32124)
