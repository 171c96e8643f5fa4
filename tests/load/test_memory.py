"""Memory and opening: values worked by hand."""

from __future__ import annotations

import pytest

from audit.load import memory

RATE = 288_000.0


def test_streamed_memory_of_64_stereo_stems():
    assert memory.ring_bytes(128, 48000, 1.0) == pytest.approx(24.576e6)
    assert memory.raw_refill_bytes(64 * RATE, 0.5) == pytest.approx(18.432e6)
    whole = memory.streamed_bytes(
        channels=128, rate_hz=48000, depth_s=1.0, bytes_per_s=64 * RATE, refill_audio_s=0.5, stems=64
    )
    assert whole == pytest.approx(24.576e6 + 18.432e6 + 64 * memory.DECODER_BYTES)


@pytest.mark.parametrize(("sample_bytes", "expected"), [(4, 5.898e9), (3, 4.424e9)])
def test_whole_song_in_memory(sample_bytes: int, expected: float):
    assert memory.preload_bytes(128, 48000, 240.0, sample_bytes) == pytest.approx(expected, rel=1e-4)


def test_opening_32_stems_from_a_spinning_disk():
    """Three lookups of 17.5556 ms and 144 kB at 60 MB/s each: 32 · (52.667 + 2.4) ms."""
    one = memory.opening_s(
        lookups=3, latency_s=17.5556e-3, first_bytes=0.5 * RATE, bytes_per_s=60e6, parse_s=0.0, decode_s=0.0
    )
    assert 32 * one == pytest.approx(1.762, abs=0.001)
