"""A name for the audio itself: a hash of the decoded samples, the same for WAV and FLAC.

    ContentMeter(rate_hz, channels)   .add(block), .result(channels) -> str | None

xxh3_128 (the xxHash specification, "XXH3"): each channel's float32 samples, little-endian, in one stream;
then those digests with rate and channel count. Not cryptographic: it tells equal audio from unequal, not
honest from forged.
"""

from __future__ import annotations

import numpy as np
import xxhash

from audit.measure.samples import Samples, check_block, check_rate
from audit.measure.steps import part_channels


class ContentMeter:
    """Memory: one hash state a channel."""

    def __init__(self, rate_hz: int, channels: int) -> None:
        check_rate(rate_hz)
        self._rate_hz = rate_hz
        self._hashes = [xxhash.xxh3_128() for _ in range(channels)]
        self._sounding = [False] * channels

    def add(self, block: Samples) -> None:
        """One block, float32, shape (frames, channels), finite."""
        check_block(block, len(self._hashes))
        for channel, state in enumerate(self._hashes):
            # −0.0 + 0.0 is 0.0: decoders differ in the sign of zero.
            wave = np.add(block[:, channel], np.float32(0.0), dtype="<f4")
            state.update(wave)
            if not self._sounding[channel]:
                self._sounding[channel] = bool(wave.any())

    def result(self, channels: tuple[int, ...] | None = None) -> str | None:
        """32 hexadecimal digits for the given channels in their order (None: all); None for silence."""
        part = part_channels(channels, len(self._hashes))
        if not any(self._sounding[channel] for channel in part):
            return None
        whole = xxhash.xxh3_128(f"{self._rate_hz} Hz, {len(part)} channels".encode())
        for channel in part:
            whole.update(self._hashes[channel].digest())
        return str(whole.hexdigest())
