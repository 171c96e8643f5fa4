"""Sound files written byte by byte, sound and damaged: every field of a header can be set to something else.

Sources of the layouts: RIFF/WAVE (its extensible header: Microsoft MS-RDPEAI 2.2.2.3.1) and Wave64
[memory]; EBU Tech 3285 v2, May 2011 (bext); EBU Tech 3306 (RF64); ITU-R BS.2088 (BW64); AIFF-C [memory];
Apple's Core Audio Format specification (CAF; data size −1 and edit count [memory]).
"""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

PCM, FLOAT, ALAW, ULAW, EXTENSIBLE = 1, 3, 6, 7, 0xFFFE
ALL_ONES = 0xFFFF_FFFF

_SUBFORMAT_TAIL = bytes.fromhex("000000001000800000aa00389b71")
_W64_RIFF_TAIL = bytes.fromhex("2e91cf11a5d628db04c10000")
_W64_TAIL = bytes.fromhex("f3acd3118cd100c04f8edb8a")


def random_samples(frames: int, channels: int, bits: int, seed: int = 1) -> NDArray[np.int64]:
    """Whole numbers over the full range of `bits`, both ends included; shape (frames, channels)."""
    low, high = -(1 << (bits - 1)), (1 << (bits - 1)) - 1
    samples = np.random.default_rng(seed).integers(low, high, (frames, channels), endpoint=True)
    if frames > 1:
        samples[0], samples[1] = low, high
    return samples


def pcm_bytes(samples: NDArray[np.int64], sample_bytes: int, *, big_endian: bool = False) -> bytes:
    """Signed integers as they lie in a file, interleaved. One-byte samples stay signed: see `unsigned_8`."""
    order = ">" if big_endian else "<"
    wide = samples.astype(f"{order}i8").reshape(-1, 1).view(np.uint8)
    return bytes(wide[:, 8 - sample_bytes :] if big_endian else wide[:, :sample_bytes])


def unsigned_8(samples: NDArray[np.int64]) -> bytes:
    """8-bit samples as WAVE keeps them: midpoint 128."""
    return (samples + 128).astype(np.uint8).tobytes()


def chunk(name: bytes, body: bytes, *, size: int | None = None, order: str = "<", pad: bool = True) -> bytes:
    """A RIFF or AIFF chunk; `size` overrides its true length."""
    length = len(body) if size is None else size
    return name + struct.pack(order + "I", length) + body + (b"\0" if pad and len(body) % 2 else b"")


def wave_format(
    *, channels: int, rate_hz: int, bits: int, tag: int = PCM, valid_bits: int | None = None,
    extensible: bool = False, block_align: int | None = None, byte_rate: int | None = None,
) -> bytes:  # fmt: skip
    """The body of a `fmt ` chunk, 16 bytes or 40."""
    align = channels * -(-bits // 8) if block_align is None else block_align
    per_second = rate_hz * align if byte_rate is None else byte_rate
    outer = EXTENSIBLE if extensible else tag
    body = struct.pack("<HHIIHH", outer, channels, rate_hz, per_second, align, bits)
    if not extensible:
        return body
    return body + struct.pack("<HHIH", 22, valid_bits or bits, 0, tag) + _SUBFORMAT_TAIL


def wave(
    audio: bytes, format_body: bytes, *, magic: bytes = b"RIFF", riff_size: int | None = None,
    data_size: int | None = None, ds64: bytes | None = None, before: Sequence[bytes] = (),
    after: Sequence[bytes] = (), with_data: bool = True,
) -> bytes:  # fmt: skip
    """A RIFF, RF64 or BW64 file. `before` and `after`: whole chunks around the audio."""
    data = chunk(b"data", audio, size=data_size) if with_data else b""
    body = b"WAVE" + (chunk(b"ds64", ds64) if ds64 is not None else b"")
    body += chunk(b"fmt ", format_body) + b"".join(before) + data + b"".join(after)
    return magic + struct.pack("<I", len(body) if riff_size is None else riff_size) + body


def ds64(data_bytes: int, frames: int, *, riff_bytes: int = 0) -> bytes:
    """The body of a ds64 chunk without table, 28 bytes."""
    return struct.pack("<QQQI", riff_bytes, data_bytes, frames, 0)


def bext(time_reference_frames: int, *, version: int = 1, history: bytes = b"") -> bytes:
    """A bext chunk (EBU Tech 3285): the time reference at offset 338, low word first."""
    body = b"Stem".ljust(256, b"\0") + b"Desk".ljust(32, b"\0") + bytes(32) + b"2024-05-01" + b"12-00-00"
    body += struct.pack("<Q", time_reference_frames) + struct.pack("<H", version) + bytes(64 + 190)
    return chunk(b"bext", body + history)


def wave64(
    audio: bytes, format_body: bytes, *, data_size: int | None = None, after: Sequence[bytes] = ()
) -> bytes:
    """A Wave64 file; `data_size` counts the chunk's own 24 bytes, as the format does."""

    def piece(name: bytes, body: bytes, size: int | None = None) -> bytes:
        length = len(body) + 24 if size is None else size
        return name + _W64_TAIL + struct.pack("<q", length) + body + bytes(-len(body) % 8)

    body = piece(b"fmt ", format_body) + piece(b"data", audio, data_size)
    body += b"".join(piece(part[:4], part[8:]) for part in after)
    head = b"riff" + _W64_RIFF_TAIL + struct.pack("<q", 40 + len(body)) + b"wave" + _W64_TAIL
    return head + body


def extended(value: float) -> bytes:
    """A positive number as an 80-bit extended float, big-endian."""
    fraction, exponent = math.frexp(value)
    return struct.pack(">HQ", exponent - 1 + 16383, int(fraction * 2**64))


def aiff(
    audio: bytes, *, channels: int, rate_hz: float, bits: int, frame_bytes: int,
    compression: bytes | None = None, frames: int | None = None, data_size: int | None = None,
    offset: int = 0, after: Sequence[bytes] = (), with_sound: bool = True,
) -> bytes:  # fmt: skip
    """An AIFF file, or an AIFC file where a compression is named. `data_size`: of the SSND chunk."""
    count = len(audio) // frame_bytes if frames is None else frames
    common = struct.pack(">HIH", channels, count, bits) + extended(rate_hz)
    body = b"AIFF"
    if compression is not None:
        body = b"AIFC" + chunk(b"FVER", bytes.fromhex("a2805140"), order=">")
        common += compression + b"\x00\x00"
    body += chunk(b"COMM", common, order=">")
    if with_sound:
        sound = struct.pack(">II", offset, 0) + bytes(offset) + audio
        body += chunk(b"SSND", sound, size=data_size, order=">")
    return chunk(b"FORM", body + b"".join(after), order=">")


def caf(
    audio: bytes, *, channels: int, rate_hz: float, bits: int, is_float: bool = False,
    little_endian: bool = False, codec: bytes = b"lpcm", data_size: int | None = None,
    after: Sequence[bytes] = (),
) -> bytes:  # fmt: skip
    """A CAF file. `data_size` includes the four bytes of the edit count, as the format does."""

    def piece(name: bytes, body: bytes, size: int | None = None) -> bytes:
        return name + struct.pack(">q", len(body) if size is None else size) + body

    flags = int(is_float) | int(little_endian) << 1
    packet = channels * bits // 8
    description = struct.pack(">d4sIIIII", rate_hz, codec, flags, packet, 1, channels, bits)
    head = b"caff" + struct.pack(">HH", 1, 0) + piece(b"desc", description)
    return head + piece(b"data", bytes(4) + audio, data_size) + b"".join(after)


def flip_bit(data: bytes, bit: int) -> bytes:
    """The same bytes with one bit turned over."""
    changed = bytearray(data)
    changed[bit // 8] ^= 1 << bit % 8
    return bytes(changed)
