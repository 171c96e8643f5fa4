"""What it costs to decode, resample and mix a sample, on the processor that is called speed 1.

Own measurement on a 2-core virtual machine (Zen 4 class, 2.6 GHz), libsndfile 1.2 and soxr 1.1, reads of
65536 frames, medians of 3 to 7 runs. Lossy and packed formats depend on their content. A profile's own
measured costs replace these.
"""

from __future__ import annotations

from dataclasses import dataclass

from audit.facts import StemFormat


@dataclass(frozen=True, slots=True, kw_only=True)
class CodecCost:
    """One way of storing samples. parse_s: opening a file and finding a place in it."""

    label: str
    decode_ns: float  # a sample
    parse_s: float


# parse_s: 32 files opened, sought at 30 s and read for 0.5 s, warm, less the decoding of what was read.
CODECS = {
    "pcm16": CodecCost(label="16-bit", decode_ns=2.3, parse_s=0.15e-3),
    "pcm24": CodecCost(label="24-bit", decode_ns=4.9, parse_s=0.15e-3),
    "pcm32": CodecCost(label="32-bit", decode_ns=4.9, parse_s=0.15e-3),  # taken for 24 bit: not measured
    "float32": CodecCost(label="32-bit float", decode_ns=0.37, parse_s=0.15e-3),
    "float64": CodecCost(label="64-bit float", decode_ns=0.8, parse_s=0.15e-3),  # twice the bytes: estimate
    "flac16": CodecCost(label="16-bit FLAC", decode_ns=10.2, parse_s=0.92e-3),
    "flac24": CodecCost(label="24-bit FLAC", decode_ns=11.3, parse_s=0.92e-3),
    "mp3": CodecCost(label="MP3", decode_ns=9.7, parse_s=2.1e-3),
    "ogg": CodecCost(label="Ogg", decode_ns=15.9, parse_s=1.15e-3),
}

RESAMPLE, MIX = "resample", "mix"
RESAMPLE_NS = 7.7
"""soxr "HQ", 44.1 to 48 kHz, a sample put in."""
MIX_NS = 0.22
"""Gain and sum, a sample."""

PLAIN = frozenset({"pcm16", "pcm24", "pcm32", "float32", "float64"})
"""Samples stored as they are: nothing to unpack."""


def codec_of(shape: StemFormat) -> str:
    """The row of the table that a file's format belongs to; the dearest (Ogg) for a stranger."""
    deep = (shape.bits or 24) > 16
    if shape.container == "FLAC" or "FLAC" in shape.encoding:
        return "flac24" if deep else "flac16"
    if shape.container == "MP3" or "MPEG" in shape.encoding:
        return "mp3"
    if shape.lossy:
        return "ogg"
    if shape.is_float:
        return "float64" if (shape.bits or 32) > 32 else "float32"
    if not deep:
        return "pcm16"
    return "pcm32" if (shape.bits or 24) > 24 else "pcm24"
