"""Uncompressed samples as they lie in a file, made into float32."""

from __future__ import annotations

import sys
from functools import cache

import numpy as np
from numpy.typing import NDArray

from audit.decode.container import Coding, SampleLayout

SPARE_BYTES = 1
"""A 24-bit sample is read as 32 bits: `raw` needs one byte behind its last sample."""

NATIVE_FLOAT = SampleLayout(coding=Coding.FLOAT, sample_bytes=4, big_endian=sys.byteorder == "big")
"""What needs no conversion on this machine."""


def to_float32(raw: NDArray[np.uint8], samples: int, layout: SampleLayout) -> NDArray[np.float32]:
    """The first `samples` stored numbers of `raw` as a flat float32 array, full scale 1.0.

    raw: at least `samples * layout.sample_bytes + SPARE_BYTES` bytes. Integers are divided by
    2^(bits of the container − 1), which is exact up to 24 bits and rounded to nearest for 32. Floats pass
    as they are, NaN and infinity too; 64-bit floats past float32's range become infinite.
    """
    width = layout.sample_bytes
    order = ">" if layout.big_endian else "<"
    stored = raw[: samples * width]
    if layout.coding in (Coding.ALAW, Coding.ULAW):
        table: NDArray[np.float32] = companding_table(layout.coding)[stored]
        return table
    if layout.coding is Coding.FLOAT:
        # Signalling NaNs and numbers past float32's range are data here: rule not-finite judges them.
        with np.errstate(over="ignore", invalid="ignore"):
            return stored.view(f"{order}f{width}").astype(np.float32)
    if layout.coding is Coding.UNSIGNED:
        values = stored.astype(np.float32)
        values -= np.float32(128.0)
    elif width == 3:
        values = _left_justified(raw, samples, order).astype(np.float32)
        width = 4
    else:
        values = stored.view(f"{order}i{width}").astype(np.float32)
    values *= np.float32(2.0 ** (1 - 8 * width))
    return values


def _left_justified(raw: NDArray[np.uint8], samples: int, order: str) -> NDArray[np.int32]:
    """24-bit samples in the upper bytes of 32: four bytes are taken every three, the foreign one cleared."""
    taken = np.ndarray((samples,), f"{order}i4", buffer=raw, strides=(3,))
    wide = np.empty(samples, np.int32)
    wide[:] = taken
    if order == ">":
        wide &= -256
    else:
        wide <<= 8
    return wide


@cache
def companding_table(coding: Coding) -> NDArray[np.float32]:
    """The 256 values of ITU-T G.711 A-law or µ-law, full scale 2^15."""
    code = np.arange(256)
    if coding is Coding.ALAW:
        code ^= 0x55
        segment, step = code >> 4 & 7, code & 15
        size = np.where(segment == 0, (step << 4) + 8, ((step << 4) + 0x108) << np.maximum(segment - 1, 0))
        values = np.where(code & 0x80, size, -size)
    else:
        code ^= 0xFF
        segment, step = code >> 4 & 7, code & 15
        size = (((step << 3) + 0x84) << segment) - 0x84
        values = np.where(code & 0x80, -size, size)
    return (values / 32768.0).astype(np.float32)
