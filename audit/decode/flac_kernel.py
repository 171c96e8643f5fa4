"""The compiled half of `flac` and `flacpieces`: imported where a checksum is asked or pieces are; numba stays
out of everything else."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

_FULL_SCALE = np.float32(2.0**-31)


@njit(cache=True, nogil=True)
def pack_and_scale(codes: Any, sample_bytes: int, packed: Any, samples: Any) -> None:
    """`flac.pack_samples`, and the same samples as float32, full scale 1.0, in one go.

    codes: int32, left-justified; packed: uint8, sample_bytes of each, written; samples: float32, written.
    """
    for i in range(len(codes)):
        samples[i] = np.float32(codes[i]) * _FULL_SCALE
    # A number that the compiler knows lets it shuffle vectors: eight times as fast as a loop over it.
    if sample_bytes == 3:
        for i in range(len(codes)):
            code = codes[i]
            packed[3 * i] = np.uint8((code >> 8) & 0xFF)
            packed[3 * i + 1] = np.uint8((code >> 16) & 0xFF)
            packed[3 * i + 2] = np.uint8((code >> 24) & 0xFF)
    elif sample_bytes == 2:
        for i in range(len(codes)):
            code = codes[i]
            packed[2 * i] = np.uint8((code >> 16) & 0xFF)
            packed[2 * i + 1] = np.uint8((code >> 24) & 0xFF)
    else:
        for i in range(len(codes)):
            for place in range(sample_bytes):
                packed[sample_bytes * i + place] = np.uint8(
                    (codes[i] >> (32 - 8 * (sample_bytes - place))) & 0xFF
                )


@njit(cache=True, nogil=True)
def follow_heads(
    data: Any, places: Any, fixed_block: int, sizes: Any, crc8: Any, expected: int, found: Any
) -> tuple[int, int]:
    """Which of some places a frame begins at, each where the samples of the one before it end; how many, and
    the first sample behind them.

    data: bytes, uint8. places: int64, where the two bytes stand that a header begins with. expected: the
    sample that the first frame begins with. found: int64, shape (places, 2), written: place in data, first
    sample. The others as for `read_head`.
    """
    count = 0
    for k in range(len(places)):
        first, frames = read_head(data[places[k] : places[k] + 16], fixed_block, sizes, crc8)
        if frames > 0 and first == expected:
            found[count, 0], found[count, 1] = places[k], first
            count += 1
            expected = first + frames
    return count, expected


@njit(cache=True, nogil=True)
def read_head(head: Any, fixed_block: int, sizes: Any, crc8: Any) -> tuple[int, int]:
    """`flacframes.read_frame_head`: first sample and samples of a frame; 0 and 0 where no header stands.

    head: up to 16 bytes, uint8. sizes: int64, by the code of the block size its samples, or less one byte or
    two where they are written behind the number. crc8: of each byte, uint8.
    """
    if len(head) < 6 or head[0] != 0xFF or head[1] & 0xFE != 0xF8 or head[3] & 1:
        return 0, 0
    size_code, rate_code = np.int64(head[2]) >> 4, np.int64(head[2]) & 15
    number, ones = np.int64(head[4]), 0
    while ones < 8 and number & (0x80 >> ones):
        ones += 1
    place = 4 + max(1, ones)
    if size_code == 0 or rate_code == 15 or ones in (1, 8) or place > len(head):
        return 0, 0
    number &= 0x7F >> ones
    for at in range(5, place):
        if head[at] & 0xC0 != 0x80:
            return 0, 0
        number = number << 6 | np.int64(head[at]) & 0x3F
    frames = sizes[size_code]
    written = -frames if frames < 0 else 0
    end = place + written + (1 if rate_code == 12 else 2 if rate_code in (13, 14) else 0)
    if end >= len(head):
        return 0, 0
    if written:
        frames = 1
        for at in range(place, place + written):
            frames += np.int64(head[at]) << (8 * (place + written - 1 - at))
    check = 0
    for at in range(end):
        check = np.int64(crc8[check ^ head[at]])
    if check != head[end]:
        return 0, 0
    return number if head[1] & 1 else number * fixed_block, frames
