"""Memory of a song that is streamed or held whole, and how long it takes to open."""

from __future__ import annotations

FLOAT32_BYTES = 4

PROGRAM_BYTES = 400e6
"""What a player takes beside the song. Own estimate."""

DECODER_BYTES = 0.2e6
"""What an open file's decoder takes: 0.1 to 0.3 MB. Own estimate."""


def ring_bytes(channels: int, rate_hz: float, depth_s: float) -> float:
    """Decoded audio held ready, as float32 at the engine's rate."""
    return channels * rate_hz * FLOAT32_BYTES * depth_s


def raw_refill_bytes(bytes_per_s: float, refill_audio_s: float) -> float:
    """Two refills of file bytes for every stem: one being read, one being decoded."""
    return 2.0 * refill_audio_s * bytes_per_s


def streamed_bytes(
    *, channels: int, rate_hz: float, depth_s: float, bytes_per_s: float, refill_audio_s: float, stems: int
) -> float:
    """What a streaming player needs for a song, without what its program takes."""
    ring = ring_bytes(channels, rate_hz, depth_s)
    return ring + raw_refill_bytes(bytes_per_s, refill_audio_s) + stems * DECODER_BYTES


def preload_bytes(
    channels: int, rate_hz: float, duration_s: float, sample_bytes: int = FLOAT32_BYTES
) -> float:
    """What a player needs that holds the whole song."""
    return channels * rate_hz * duration_s * sample_bytes


def opening_s(
    *, lookups: int, latency_s: float, first_bytes: float, bytes_per_s: float, parse_s: float, decode_s: float
) -> float:
    """One stem, cold: its place on the disk and header looked up, first refill read and decoded."""
    return lookups * latency_s + first_bytes / bytes_per_s + parse_s + decode_s
