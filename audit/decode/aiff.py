"""AIFF and AIFC: big-endian chunks, the rate as an 80-bit extended float (AIFF 1.3, 1989 [memory])."""

from __future__ import annotations

import math
import struct

from audit.decode.chunks import IFF, MAX_CHUNKS, Chunk, audio_follows, walk_chunks
from audit.decode.container import (
    Coded,
    Coding,
    Header,
    RefusedError,
    SampleLayout,
    check_claims,
    check_layout,
    other_form,
    plain_header,
)
from audit.decode.extent import Extent, cut_short, is_stream_size, settle_extent, truncated
from audit.decode.source import Source
from audit.units import grouped

_INTEGER = (Coding.SIGNED, None, True)
COMPRESSIONS: dict[bytes, tuple[Coding, int | None, bool]] = {
    b"NONE": _INTEGER,
    b"twos": _INTEGER,
    b"sowt": (Coding.SIGNED, None, False),
    b"raw ": (Coding.UNSIGNED, 1, True),
    b"in24": (Coding.SIGNED, 3, True),
    b"in32": (Coding.SIGNED, 4, True),
    b"fl32": (Coding.FLOAT, 4, True),
    b"FL32": (Coding.FLOAT, 4, True),
    b"fl64": (Coding.FLOAT, 8, True),
    b"FL64": (Coding.FLOAT, 8, True),
    b"alaw": (Coding.ALAW, 1, True),
    b"ALAW": (Coding.ALAW, 1, True),
    b"ulaw": (Coding.ULAW, 1, True),
    b"ULAW": (Coding.ULAW, 1, True),
}
"""AIFC compression type: coding, bytes of a sample (None: by the COMM chunk's bits), big-endian."""


def read_extended(field: bytes) -> float:
    """An 80-bit IEEE 754 extended number: sign and exponent in 16 bits, then 64 bits of mantissa."""
    exponent, mantissa = struct.unpack(">HQ", field)
    try:
        size = math.ldexp(mantissa, (exponent & 0x7FFF) - 16383 - 63)
    except OverflowError:
        size = math.inf
    return -size if exponent & 0x8000 else size


def parse_aiff(source: Source) -> Header | Coded:
    """Header of an AIFF or AIFC file; raises RefusedError where no audio can be found in it."""
    form = source.at(8, 4)
    if form not in (b"AIFF", b"AIFC"):
        raise other_form("an IFF file", form, "audio")
    common, sound = _find_chunks(source)
    head = source.at(common.body, min(common.size, 22))
    if len(head) < 18:
        raise RefusedError("its common chunk ('COMM') is too short")
    channels, frames, bits = struct.unpack(">HIH", head[:8])
    rate = read_extended(head[8:18])
    rate_hz = round(rate) if 0.0 <= rate < 2.0**32 else 0
    check_claims(channels, rate_hz)
    coding, sample_bytes, big_endian = COMPRESSIONS.get(
        head[18:22] if form == b"AIFC" else b"NONE", (None, None, True)
    )
    begin = _sound_begin(source, sound)
    claimed = _claimed_bytes(source, sound, begin)
    present = source.size - begin
    if coding is None:
        cut = claimed is not None and claimed > present
        return Coded(container=form.decode(), faults=(cut_short(claimed or 0, present),) if cut else ())
    if not 1 <= bits <= 64:
        raise RefusedError(f"its header claims samples of {bits} bits")
    layout = SampleLayout(coding=coding, sample_bytes=sample_bytes or -(-bits // 8), big_endian=big_endian)
    check_layout(layout)
    frame_bytes = channels * layout.sample_bytes
    extent = _settle(source, begin, claimed, frames, frame_bytes, rate_hz)
    whole = 8 * layout.sample_bytes
    return plain_header(
        form.decode(), layout, extent, rate_hz=rate_hz, channels=channels, begin=begin,
        bits=whole if coding is Coding.FLOAT or sample_bytes else min(bits, whole),
    )  # fmt: skip


def _find_chunks(source: Source) -> tuple[Chunk, Chunk]:
    common = sound = None
    seen = 0
    for chunk in walk_chunks(source, 12, IFF):
        seen += 1
        if chunk.id == b"COMM" and common is None:
            common = chunk
        elif chunk.id == b"SSND" and sound is None:
            sound = chunk
    if sound is None:
        if seen >= MAX_CHUNKS:
            raise RefusedError(f"no audio among its first {grouped(MAX_CHUNKS)} chunks")
        raise RefusedError("it has no audio chunk ('SSND')")
    if common is None:
        raise RefusedError("it has no common chunk ('COMM')")
    return common, sound


def _sound_begin(source: Source, sound: Chunk) -> int:
    """The first sample's place: SSND begins with an offset and a block size, four bytes each."""
    head = source.at(sound.body, 8)
    if len(head) < 8:
        return source.size
    (offset,) = struct.unpack(">I", head[:4])
    begin = sound.body + 8 + int(offset)
    if begin > source.size:
        raise RefusedError("its header claims that the audio begins beyond the end of the file")
    return begin


def _claimed_bytes(source: Source, sound: Chunk, begin: int) -> int | None:
    """Length of the audio by the SSND chunk; None where it was never filled in."""
    if sound.size == 0xFFFF_FFFF or (is_stream_size(sound.size) and sound.end > source.size):
        return None
    claimed = sound.end - begin
    if claimed <= 0:
        return None if audio_follows(source, begin, IFF, zeros_count=True) else 0
    return claimed


def _settle(
    source: Source, begin: int, claimed: int | None, frames: int, frame_bytes: int, rate_hz: int
) -> Extent:
    """Two counts stand in an AIFF: the SSND chunk's bytes and the COMM chunk's frames."""
    present = source.size - begin
    more = claimed is not None and claimed < present
    extent = settle_extent(
        claimed_bytes=claimed,
        present_bytes=present,
        more_follows=more and audio_follows(source, begin + (claimed or 0), IFF),
        frame_bytes=frame_bytes,
        rate_hz=rate_hz,
        align=IFF.align,
    )
    if extent.fault is not None or claimed is None or extent.frames == frames:
        return extent
    if frames > extent.frames:
        return Extent(frames=extent.frames, fault=truncated(frames, extent.frames, rate_hz))
    if (extent.frames - frames) * frame_bytes < IFF.align:  # a pad byte that was counted as a frame
        return Extent(frames=frames, fault=None)
    return settle_extent(
        claimed_bytes=frames * frame_bytes,
        present_bytes=extent.frames * frame_bytes,
        more_follows=True,
        frame_bytes=frame_bytes,
        rate_hz=rate_hz,
    )
