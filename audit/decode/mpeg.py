"""MPEG audio (MP1, MP2, MP3): is it really that, and is the file as long as its Xing header says."""

from __future__ import annotations

from audit.decode.container import Coded, RefusedError
from audit.decode.extent import cut_short
from audit.decode.source import Source

_RATES_HZ = {3: (44100, 48000, 32000), 2: (22050, 24000, 16000), 0: (11025, 12000, 8000)}
_KBITS = {
    (1, 1): (32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448),
    (1, 2): (32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384),
    (1, 3): (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),
    (2, 1): (32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256),
    (2, 2): (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
    (2, 3): (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
}
"""Bit rates by generation (MPEG-1; MPEG-2 and 2.5) and layer: ISO/IEC 11172-3 and 13818-3 [memory]."""


def frame_length(head: bytes) -> int | None:
    """Bytes of the frame that begins with these four; None where no frame does (free format is not read)."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return None
    version, layer = head[1] >> 3 & 3, 4 - (head[1] >> 1 & 3)
    rate_index, bit_index, padding = head[2] >> 2 & 3, head[2] >> 4, head[2] >> 1 & 1
    if version == 1 or layer == 4 or rate_index == 3 or not 1 <= bit_index <= 14:
        return None
    generation = 1 if version == 3 else 2
    bits_per_s = 1000 * _KBITS[generation, layer][bit_index - 1]
    rate_hz = _RATES_HZ[version][rate_index]
    if layer == 1:
        return (12 * bits_per_s // rate_hz + padding) * 4
    slots = 72 if layer == 3 and generation == 2 else 144
    return slots * bits_per_s // rate_hz + padding


def is_mpeg(source: Source, base: int) -> bool:
    """Two frames in a row: one sync word also occurs in noise."""
    first = frame_length(source.at(base, 4))
    return first is not None and frame_length(source.at(base + first, 4)) is not None


def parse_mpeg(source: Source, base: int) -> Coded:
    """An MPEG audio stream that begins at `base`."""
    if not is_mpeg(source, base):
        raise RefusedError("no MPEG audio frames where they should begin")
    promised = promised_bytes(source, base)
    cut = is_cut(source, promised)
    return Coded(
        container="MP3",
        stream_offset_bytes=base,
        faults=(cut_short(promised or 0, source.size - base),) if cut else (),
    )


def is_cut(source: Source, promised: int | None) -> bool:
    """Whether the tag promises more than the file holds. Some encoders count an ID3 tag in front as well."""
    return promised is not None and promised > source.size


def side_info_bytes(head: bytes) -> int:
    """Bytes between a layer III frame's header and its tag: the side information."""
    mono, mpeg1 = head[3] >> 6 == 3, head[1] >> 3 & 3 == 3
    return (17 if mono else 32) if mpeg1 else (9 if mono else 17)


def promised_bytes(source: Source, base: int) -> int | None:
    """Length of the stream by its first frame's Xing or Info tag; 0: the tag does not say; None: no tag."""
    tag = source.at(base + 4 + side_info_bytes(source.at(base, 4)), 16)
    if tag[:4] not in (b"Xing", b"Info") or len(tag) < 16:
        return None
    flags = int.from_bytes(tag[4:8], "big")
    if not flags & 2:
        return 0
    place = 12 if flags & 1 else 8
    return int.from_bytes(tag[place : place + 4], "big")
