"""FLAC's STREAMINFO (RFC 9639 section 8.2), and the byte form over which its MD5 is taken."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.decode.container import Coded, ForeignFormatError, RefusedError, check_claims
from audit.decode.source import Source
from audit.results import ContainerFault, FaultKind
from audit.units import grouped

MAX_METADATA_BLOCKS = 4096

DECODED_BITS = (8, 16, 24)
"""What libsndfile 1.2 decodes; RFC 9639 allows 4 to 32."""


def parse_flac(source: Source, base: int = 0) -> Coded:
    """Header of a native FLAC stream that begins at `base` (behind an ID3 tag, where there is one)."""
    head = source.at(base, 42)
    if len(head) < 42 or head[4] & 0x7F != 0 or int.from_bytes(head[5:8], "big") < 34:
        raise RefusedError("a FLAC file without its stream information")
    packed = int.from_bytes(head[18:26], "big")
    rate_hz = packed >> 44
    channels = (packed >> 41 & 0x7) + 1
    bits = (packed >> 36 & 0x1F) + 1
    frames = packed & 0xF_FFFF_FFFF
    check_claims(channels, rate_hz)
    if bits not in DECODED_BITS:
        raise ForeignFormatError(f"{bits}-bit FLAC: the decoder reads 8, 16 and 24 bits")
    md5 = head[26:42]
    if not audio_begin(source, base + 4) < source.size:
        raise RefusedError(
            f"a FLAC file that ends before its audio begins ({grouped(frames)} frames promised)"
        )
    fault = ContainerFault(
        kind=FaultKind.UNFINISHED,
        detail="the header does not say how long it is: its encoder could not go back and write the length",
    )
    return Coded(
        container="FLAC", faults=() if frames else (fault,), md5=md5 if any(md5) else None, bits=bits
    )


def audio_begin(source: Source, offset: int) -> int:
    """The first frame's place, behind the last metadata block."""
    for _ in range(MAX_METADATA_BLOCKS):
        head = source.at(offset, 4)
        if len(head) < 4:
            return source.size
        offset += 4 + int.from_bytes(head[1:4], "big")
        if head[0] & 0x80:
            return offset
    raise RefusedError(f"more than {grouped(MAX_METADATA_BLOCKS)} metadata blocks before its audio")


def pack_samples(left_justified: NDArray[np.int32], sample_bytes: int) -> NDArray[np.uint8]:
    """Interleaved little-endian signed samples of that width: the form that STREAMINFO's MD5 is taken of.

    left_justified: any shape, C-contiguous, as libsndfile's int32 reading gives it.
    """
    planes = left_justified.reshape(-1).astype("<i4", copy=False).view(np.uint8).reshape(-1, 4)
    packed = np.empty((len(planes), sample_bytes), np.uint8)
    for place in range(sample_bytes):
        packed[:, place] = planes[:, 4 - sample_bytes + place]
    return packed.reshape(-1)
