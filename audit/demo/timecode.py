"""Linear timecode as audio: bi-phase mark with edges of the standard's slope.

Source: IEC 60461:2010 (SMPTE ST 12-1): modulation 8.3, rise time 8.6.2. Counting and bits: audit/timecode.py.

encode_timecode
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from audit.demo.sound import Mono, scaled
from audit.timecode import BITS_PER_FRAME, FrameRate, Label, index_of, label_at, word_bits
from audit.units import from_db

RISE_S = 40e-6
"""10 % to 90 % of an edge (8.6.2: 40 ± 10 µs)."""

_EDGE_SIGMA_S = RISE_S / 2.5631
"""A Gaussian-smoothed step rises from 10 % to 90 % in 2.5631 standard deviations. It does not overshoot and
holds nothing that would fold back audibly at 44.1 kHz and up."""


def encode_timecode(
    start: Label,
    frames: int,
    rate: FrameRate,
    sample_rate_hz: int,
    *,
    level_dbfs: float = -12.0,
    user_bits: Sequence[int] = (0,) * 8,
    polarity_correction: bool = True,
) -> Mono:
    """Timecode of `frames` frames from `start` on; float32, shape (samples,), peak at `level_dbfs`.

    The half-amplitude point of frame k's first edge lies at exactly `frame_start(k)` samples, between samples
    where it must. A closing edge follows the last frame, for it takes an edge to end a bit, and half a cell
    later silence; the array is three half-cells longer than the frames. Sample rates from 32 kHz up.
    Raises ValueError for an impossible start label and a rate under 32 kHz.
    """
    if sample_rate_hz < 32_000:
        raise ValueError(f"{sample_rate_hz} Hz cannot carry the edges of timecode")
    first = index_of(start, rate)
    words = [
        word_bits(
            label_at(first + k, rate), rate, user_bits=user_bits, polarity_correction=polarity_correction
        )
        for k in range(frames)
    ]
    bits = np.array(words, dtype=np.int64).reshape(-1)
    # Bi-phase mark: an edge at every cell's start, one more in the middle of a 1; counted in half-cells.
    ends = [2 * bits.size, 2 * bits.size + 1]
    half_cells = np.sort(np.concatenate([2 * np.arange(bits.size), 2 * np.flatnonzero(bits) + 1, ends]))
    half_cell = Fraction(sample_rate_hz) / (rate.frames_per_s * BITS_PER_FRAME * 2)
    edges = half_cells * half_cell.numerator / half_cell.denominator
    length = int(np.ceil(edges[-1] + 2 * float(half_cell)))
    return scaled(_drawn(edges, length, sample_rate_hz), from_db(level_dbfs))


def _drawn(edges: NDArray[np.float64], length: int, sample_rate_hz: int) -> Mono:
    """A wave of ±1 that changes sign at every edge; silent before the first, closing to silence after the
    last."""
    from scipy.special import erf

    signs = 1.0 - 2.0 * (np.arange(edges.size) % 2)  # the level after each edge
    signs[-1] = 0.0
    before = np.concatenate([[0.0], signs[:-1]])
    whole = np.searchsorted(edges, np.arange(length), side="right")
    wave = np.concatenate([[0.0], signs])[whole]
    # Only the samples within five standard deviations of an edge differ from the square wave (by 1e-6 there).
    reach = int(np.ceil(5 * _EDGE_SIGMA_S * sample_rate_hz))
    places = np.floor(edges).astype(np.int64)[:, None] + np.arange(-reach + 1, reach + 1)
    rise = 0.5 + 0.5 * erf((places - edges[:, None]) / (np.sqrt(2.0) * _EDGE_SIGMA_S * sample_rate_hz))
    values = before[:, None] + (signs - before)[:, None] * rise
    inside = (places >= 0) & (places < length)
    wave[places[inside]] = values[inside]
    drawn: NDArray[np.float32] = wave.astype(np.float32)
    return drawn
