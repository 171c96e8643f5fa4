"""Core Audio Format: big-endian, 64-bit sizes; a data size of −1 means "to the end of the file"."""

from __future__ import annotations

import math
import struct

from audit.decode.chunks import CAF, MAX_CHUNKS, Chunk, audio_follows, walk_chunks
from audit.decode.container import (
    Coded,
    Coding,
    Header,
    RefusedError,
    SampleLayout,
    check_claims,
    plain_header,
)
from audit.decode.extent import cut_short, settle_extent
from audit.decode.source import Source
from audit.units import grouped

_FLAG_FLOAT, _FLAG_LITTLE_ENDIAN = 1, 2
_EDIT_COUNT_BYTES = 4
_PLAIN = {
    (Coding.SIGNED, 8), (Coding.SIGNED, 16), (Coding.SIGNED, 24), (Coding.SIGNED, 32),
    (Coding.FLOAT, 32), (Coding.FLOAT, 64),
}  # fmt: skip


def parse_caf(source: Source) -> Header | Coded:
    """Header of a CAF file; raises RefusedError where no audio can be found in it.

    A data size of −1 is legal in a recording that was never closed (Apple's CAF specification [memory]),
    and a fault all the same: libsndfile and everything built on it refuses such a file.
    """
    description, data = _find_chunks(source)
    body = source.at(description.body, 32)
    if len(body) < 32:
        raise RefusedError("its description chunk ('desc') is too short")
    rate, codec, flags, packet_bytes, packet_frames, channels, bits = struct.unpack(">d4sIIIII", body)
    rate_hz = round(rate) if math.isfinite(rate) and 0.0 <= rate < 2.0**32 else 0
    check_claims(channels, rate_hz)
    begin = data.body + _EDIT_COUNT_BYTES
    present = max(0, source.size - begin)
    claimed: int | None = max(0, data.size - _EDIT_COUNT_BYTES)
    if claimed == 0 and present and audio_follows(source, begin, CAF, zeros_count=True):
        claimed = None
    layout = _layout(codec, flags, packet_bytes, packet_frames, channels, bits)
    if layout is None:
        cut = claimed is not None and claimed > present
        return Coded(container="CAF", faults=(cut_short(claimed or 0, present),) if cut else ())
    frame_bytes = channels * layout.sample_bytes
    more = claimed is not None and claimed < present
    extent = settle_extent(
        claimed_bytes=claimed,
        present_bytes=present,
        more_follows=more and audio_follows(source, begin + (claimed or 0), CAF),
        frame_bytes=frame_bytes,
        rate_hz=rate_hz,
    )
    return plain_header(
        "CAF", layout, extent, rate_hz=rate_hz, channels=channels, begin=begin, bits=8 * layout.sample_bytes
    )


def _find_chunks(source: Source) -> tuple[Chunk, Chunk]:
    description = data = None
    seen = 0
    for chunk in walk_chunks(source, 8, CAF):
        seen += 1
        if chunk.id == b"desc" and description is None:
            description = chunk
        elif chunk.id == b"data" and data is None:
            data = chunk
            if chunk.size < 0:
                break
    if data is None:
        if seen >= MAX_CHUNKS:
            raise RefusedError(f"no audio among its first {grouped(MAX_CHUNKS)} chunks")
        raise RefusedError("it has no audio chunk ('data')")
    if description is None:
        raise RefusedError("it has no description chunk ('desc')")
    return description, data


def _layout(
    codec: bytes, flags: int, packet_bytes: int, packet_frames: int, channels: int, bits: int
) -> SampleLayout | None:
    """None where libsndfile has to decode: codecs, and widths that leave the alignment open."""
    if codec in (b"alaw", b"ulaw"):
        coding = Coding.ALAW if codec == b"alaw" else Coding.ULAW
        return SampleLayout(coding=coding, sample_bytes=1, big_endian=True)
    coding = Coding.FLOAT if flags & _FLAG_FLOAT else Coding.SIGNED
    plain = codec == b"lpcm" and packet_frames == 1 and packet_bytes * 8 == channels * bits
    if not plain or (coding, bits) not in _PLAIN:
        return None
    return SampleLayout(coding=coding, sample_bytes=bits // 8, big_endian=not flags & _FLAG_LITTLE_ENDIAN)
