"""Which one sample of a chunk is not what it was: found from the chunk's old hash and the bits that differ.

broken_sample(chunk, flipped, old_hash) -> (frame, channel) | None
"""

from __future__ import annotations

import numpy as np
import xxhash

from audit.measure.samples import Samples


def broken_sample(chunk: Samples, flipped: int, old_hash: int) -> tuple[int, int] | None:
    """The sample of `chunk`, shape (frames, channels), that gives the old hash back once `flipped` is undone.

    flipped: the exclusive or of the bits of all its samples, now against then; of one broken sample these are
    its own. None where more than one sample differs. Every sample is tried: a chunk costs some tenths of a
    second. By chance one chunk in 100,000 names a sample where several differ (24,000 tries, 32 bits).
    """
    if flipped == 0:
        return None
    data = np.ascontiguousarray(chunk, dtype="<f4") + np.float32(0.0)
    words = data.view("<u4").reshape(-1)
    bits = np.uint32(flipped)
    for at in range(len(words)):
        words[at] ^= bits
        if xxhash.xxh3_64_intdigest(data) & 0xFFFF_FFFF == old_hash:
            return at // chunk.shape[1], at % chunk.shape[1]
        words[at] ^= bits
    return None
