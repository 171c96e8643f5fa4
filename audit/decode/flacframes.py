"""FLAC's frames at the end of a file (RFC 9639 section 9): is the last one there, and whole?

Asked only where decoding broke off, to tell a file that was cut short from one that was damaged inside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from audit.decode.source import Source

_TAIL_BYTES = 4 << 20  # a frame of 65 535 samples in 8 channels of 24 bits takes 1.6 MB
_BLOCK_SIZES = {1: 192, **{code: 144 << code for code in range(2, 6)}, **{c: 1 << c for c in range(8, 16)}}
_SIZE_BYTES, _RATE_BYTES = {6: 1, 7: 2}, {12: 1, 13: 2, 14: 2}  # written behind the number, by their codes

BLOCK_SIZES = np.array([_BLOCK_SIZES.get(code, -_SIZE_BYTES.get(code, 0)) for code in range(16)])
"""Samples of a frame by the code of its block size; less the bytes they take where they are written."""

_FIXED_BLOCKSIZE_AT = 8  # STREAMINFO begins behind the magic and its block header


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameHead:
    """Where a frame begins and which samples it holds."""

    offset: int
    first_frame: int  # in samples a channel
    frames: int

    @property
    def end_frame(self) -> int:
        return self.first_frame + self.frames


def ends_whole(source: Source, total_frames: int) -> bool:
    """Whether the file's last frame is the stream's last one and its CRC-16 holds."""
    begin = max(0, source.size - _TAIL_BYTES)
    tail = source.at(begin, _TAIL_BYTES)
    if tail[-128:-125] == b"TAG":  # ID3v1
        tail = tail[:-128]
    last = find_last_frame(tail, _fixed_block(source))
    return last is not None and last.end_frame == total_frames and crc16(tail[last.offset :]) == 0


def find_last_frame(tail: bytes, fixed_block: int) -> FrameHead | None:
    """The last place in these bytes where a frame header stands whose CRC-8 holds."""
    place = len(tail)
    while (place := tail.rfind(b"\xff", 0, place)) >= 0:
        head = read_frame_head(tail, place, fixed_block)
        if head is not None:
            return head
    return None


def read_frame_head(data: bytes, offset: int, fixed_block: int, *, before: int = 0) -> FrameHead | None:
    """The frame header at that place; None where there is none.

    fixed_block: the stream's block size, by which frames are numbered where the block size is fixed.
    before: bytes of the file before `data`.
    """
    head = data[offset : offset + 16]
    if len(head) < 6 or head[0] != 0xFF or head[1] & 0xFE != 0xF8 or head[3] & 1:
        return None
    size_code, rate_code = head[2] >> 4, head[2] & 15
    number, place = _coded_number(head, 4)
    if size_code == 0 or rate_code == 15 or number is None:
        return None
    size_bytes = _SIZE_BYTES.get(size_code, 0)
    frames = _BLOCK_SIZES.get(size_code) or int.from_bytes(head[place : place + size_bytes], "big") + 1
    place += size_bytes + _RATE_BYTES.get(rate_code, 0)
    if place >= len(head) or crc8(head[:place]) != head[place]:
        return None
    first = number if head[1] & 1 else number * fixed_block
    return FrameHead(offset=before + offset, first_frame=first, frames=frames)


def _fixed_block(source: Source) -> int:
    start = source.at(0, 1 << 20).find(b"fLaC") + _FIXED_BLOCKSIZE_AT
    return int.from_bytes(source.at(start, 2), "big")


def _coded_number(head: bytes, place: int) -> tuple[int | None, int]:
    """A number in the manner of UTF-8, up to seven bytes, and the place behind it."""
    lead = head[place]
    if lead < 0x80:
        return lead, place + 1
    ones = 8 - (lead ^ 0xFF).bit_length()
    if not 2 <= ones <= 7 or place + ones > len(head):
        return None, place
    number = lead & (0x7F >> ones)
    for byte in head[place + 1 : place + ones]:
        if byte & 0xC0 != 0x80:
            return None, place
        number = number << 6 | byte & 0x3F
    return number, place + ones


def _crc8_row(byte: int) -> int:
    for _ in range(8):
        byte = (byte << 1) ^ 0x107 if byte & 0x80 else byte << 1
    return byte


CRC8 = np.array([_crc8_row(byte) for byte in range(256)], np.uint8)
"""Of every byte."""

_CRC8 = CRC8.tobytes()


def crc8(data: bytes) -> int:
    """Polynomial x^8 + x^2 + x + 1, start 0: over a frame's header."""
    value = 0
    for byte in data:
        value = _CRC8[value ^ byte]
    return value


def _crc16_row(byte: int) -> int:
    value = byte << 8
    for _ in range(8):
        value = (value << 1) ^ 0x18005 if value & 0x8000 else value << 1
    return value


_CRC16 = tuple(_crc16_row(byte) for byte in range(256))


def crc16(data: bytes) -> int:
    """Polynomial x^16 + x^15 + x^2 + 1, start 0: over a frame; 0 where its own CRC is included."""
    value = 0
    for byte in data:
        value = (value << 8 & 0xFFFF) ^ _CRC16[value >> 8 ^ byte]
    return value
