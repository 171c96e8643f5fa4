"""What every measure is fed: blocks of samples, and the check that a block is one.

Full scale is 1.0. Blocks come as float32, shape (frames, channels), always 2-D, frames first; sums of them
are made in float64. Non-finite samples are counted and silenced where files are decoded, so a block with
one is a fault of the caller.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError

Samples: TypeAlias = npt.NDArray[np.float32]
"""float32, shape (frames, channels), full scale 1.0."""

LOWEST_RATE_HZ = 8_000
HIGHEST_RATE_HZ = 384_000


def check_block(block: Samples, channels: int) -> None:
    """Shape and type of one block; an empty block is allowed. Values are not looked at (see check_samples).

    Raises BadSamplesError unless it is a float32 array of shape (frames, channels).
    """
    if not isinstance(block, np.ndarray) or block.ndim != 2:
        raise BadSamplesError(f"a block needs the shape (frames, {channels})")
    if block.shape[1] != channels:
        raise BadSamplesError(f"a block of {block.shape[1]} channels was handed to a meter of {channels}")
    if block.dtype != np.float32:
        raise BadSamplesError(f"a block needs float32 samples, not {block.dtype}")


def mono(block: Samples) -> Samples:
    """The mean of the channels, shape (frames,).

    Column by column: numpy's own mean over so short an axis takes ten times as long.
    """
    total: Samples = block[:, 0].copy()
    for channel in range(1, block.shape[1]):
        total += block[:, channel]
    total /= np.float32(block.shape[1])
    return total


def check_rate(rate_hz: int) -> None:
    """Raises BadSamplesError unless the rate lies within 8 … 384 kHz, the rates audio is stored at."""
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise BadSamplesError(f"a sample rate of {rate_hz} Hz is outside 8 … 384 kHz")


def check_samples(samples: npt.NDArray[np.floating], rate_hz: int) -> Samples:
    """A whole recording, checked, as float32: what the one-call measures do before they measure.

    samples: any float type, shape (frames, channels), at least one frame and one channel.
    Raises BadSamplesError if the shape, the type or the rate is wrong, or a value is not finite.
    """
    check_rate(rate_hz)
    if not isinstance(samples, np.ndarray) or samples.ndim != 2:
        raise BadSamplesError("samples need the shape (frames, channels)")
    if not np.issubdtype(samples.dtype, np.floating):
        raise BadSamplesError(f"samples need a float type with full scale 1.0, not {samples.dtype}")
    if samples.shape[0] == 0 or samples.shape[1] == 0:
        raise BadSamplesError("there is no sample to measure")
    # abs().max() is NaN for NaN and catches float64 values that float32 cannot hold.
    if not np.abs(samples).max() <= np.finfo(np.float32).max:
        raise BadSamplesError("a sample is not a finite number")
    return np.ascontiguousarray(samples, dtype=np.float32)
