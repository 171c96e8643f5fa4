"""Linear timecode as audio: counting, the 80 bits, and bi-phase mark with edges of the standard's slope.

Source: IEC 60461:2010 (SMPTE ST 12-1): counting sections 4 to 6, bits tables 2 to 5, modulation 8.3, polarity
correction 8.2.6, rise time 8.6.2.

FrameRate, Label, label_at, index_of, word_bits, encode_timecode
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from audit.demo.sound import Mono, scaled
from audit.units import from_db

BITS_PER_FRAME = 80
SYNC_WORD = (0, 0, *(1,) * 12, 0, 1)
RISE_S = 40e-6
"""10 % to 90 % of an edge (8.6.2: 40 ± 10 µs)."""

_EDGE_SIGMA_S = RISE_S / 2.5631
"""A Gaussian-smoothed step rises from 10 % to 90 % in 2.5631 standard deviations. It does not overshoot and
holds nothing that would fold back audibly at 44.1 kHz and up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameRate:
    """A timecode rate: how fast frames pass, and how many numbers one counted second has."""

    frames_per_s: Fraction
    count: int  # numbers in a counted second: 24, 25 or 30
    drop_frame: bool = False

    @property
    def text(self) -> str:
        """As people say it: `25`, `29.97 df`, `29.97 ndf`."""
        value = f"{float(self.frames_per_s):.3f}".rstrip("0").rstrip(".")
        if self.count == 30 and self.frames_per_s != 30:
            return value + (" df" if self.drop_frame else " ndf")
        return value


FPS_23_976 = FrameRate(frames_per_s=Fraction(24000, 1001), count=24)
FPS_24 = FrameRate(frames_per_s=Fraction(24), count=24)
FPS_25 = FrameRate(frames_per_s=Fraction(25), count=25)
FPS_29_97 = FrameRate(frames_per_s=Fraction(30000, 1001), count=30)
FPS_29_97_DROP = FrameRate(frames_per_s=Fraction(30000, 1001), count=30, drop_frame=True)
FPS_30 = FrameRate(frames_per_s=Fraction(30), count=30)
FRAME_RATES = (FPS_23_976, FPS_24, FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30)


@dataclass(frozen=True, slots=True, order=True)
class Label:
    """The number of one frame: hours, minutes, seconds, frames."""

    hours: int
    minutes: int = 0
    seconds: int = 0
    frames: int = 0

    def text(self, rate: FrameRate) -> str:
        """`01:00:00:00`; drop-frame counting is written `01:00:00;00`."""
        mark = ";" if rate.drop_frame else ":"
        return f"{self.hours:02d}:{self.minutes:02d}:{self.seconds:02d}{mark}{self.frames:02d}"


def frames_per_day(rate: FrameRate) -> int:
    """How many labels 24 counted hours have."""
    return 24 * 3600 * rate.count - (24 * 6 * 9 * 2 if rate.drop_frame else 0)


def index_of(label: Label, rate: FrameRate) -> int:
    """How many frames a label lies after 00:00:00:00.

    Raises ValueError for a label that the rate does not have (a dropped number, 25 frames at 25 fps).
    """
    dropped = rate.drop_frame and label.minutes % 10 and label.seconds == 0 and label.frames < 2
    inside = 0 <= label.hours < 24 and 0 <= label.minutes < 60 and 0 <= label.seconds < 60
    if dropped or not inside or not 0 <= label.frames < rate.count:
        raise ValueError(f"{label.text(rate)} does not exist at {rate.text}")
    minutes = 60 * label.hours + label.minutes
    index = (60 * minutes + label.seconds) * rate.count + label.frames
    return index - 2 * (minutes - minutes // 10) if rate.drop_frame else index


def label_at(index: int, rate: FrameRate) -> Label:
    """The label of the frame `index` frames after 00:00:00:00; past midnight it starts again."""
    index %= frames_per_day(rate)
    if rate.drop_frame:
        tens, rest = divmod(index, 17982)
        # The first minute of ten keeps all its 1800 numbers, the nine others have 1798.
        index += 18 * tens + (2 * ((rest - 1800) // 1798 + 1) if rest >= 1800 else 0)
    seconds, frames = divmod(index, rate.count)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return Label(hours, minutes, seconds, frames)


def word_bits(
    label: Label,
    rate: FrameRate,
    *,
    user_bits: Sequence[int] = (0,) * 8,
    binary_group_flags: int = 0,
    polarity_correction: bool = True,
) -> tuple[int, ...]:
    """The 80 bits of one frame in sending order.

    user_bits: the eight binary groups, 0 to 15 each, group 1 first.
    binary_group_flags: BGF2, BGF1, BGF0 as one number 0 to 7.
    polarity_correction: makes the number of ones of the whole word even, so that every frame starts with the
    same polarity.
    """
    if len(user_bits) != 8 or not all(0 <= group <= 15 for group in user_bits):
        raise ValueError("user bits are eight numbers from 0 to 15")
    bits = [0] * BITS_PER_FRAME

    def put(first: int, width: int, value: int) -> None:
        for place in range(width):
            bits[first + place] = value >> place & 1

    for first, value in ((0, label.frames), (16, label.seconds), (32, label.minutes), (48, label.hours)):
        put(first, 4, value % 10)
        put(first + 8, 2 if first in (0, 48) else 3, value // 10)
    for group, value in enumerate(user_bits):
        put(4 + 8 * group, 4, value)
    bits[10] |= int(rate.drop_frame)
    correction_bit, flag_bits = (59, (27, 58, 43)) if rate.count == 25 else (27, (43, 58, 59))
    for place, bit in enumerate(flag_bits):
        bits[bit] = binary_group_flags >> place & 1
    bits[64:] = SYNC_WORD
    if polarity_correction:
        bits[correction_bit] = 1 - sum(bits[:64]) % 2  # the sync word's 13 ones complete an even number
    return tuple(bits)


def frame_start(number: int, rate: FrameRate, sample_rate_hz: int) -> Fraction:
    """Where frame `number` (0 for the first) starts, in samples after the first frame's start; exact."""
    return Fraction(number * sample_rate_hz) / rate.frames_per_s


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
