"""Linear timecode in numbers: frame rates, labels, counting, the 80 bits. No audio, no numpy.

The decoder (audit/measure) and the demo's encoder (audit/demo) both stand on it: counting exists once.
Source: IEC 60461:2010 (SMPTE ST 12-1): counting sections 4 to 6, bits tables 2 to 5, polarity correction
8.2.6, bit rate 8.4.

FrameRate, FRAME_RATES, Label, frames_per_day, index_of, label_at, word_bits, frame_start
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

BITS_PER_FRAME = 80
DATA_BITS = 64
SYNC_WORD = (0, 0, *(1,) * 12, 0, 1)

LABEL_FIELDS = ((48, 56, 2), (32, 40, 3), (16, 24, 3), (0, 8, 2))
"""Hours, minutes, seconds, frames: the bit where the units begin (four bits), where the tens begin, and how
many bits the tens have."""

DROP_BIT = 10
FIRST_USER_BIT = 4
"""The eight binary groups lie at 4, 12, 20 … 60: four bits each, after each half of an address field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameRate:
    """A timecode rate: how fast frames pass, and how many numbers one counted second has."""

    frames_per_s: Fraction
    count: int  # numbers in a counted second: 24, 25 or 30
    drop_frame: bool = False

    @property
    def text(self) -> str:
        """As people say it: `25`, `29.97 DF`, `29.97 NDF`."""
        value = f"{float(self.frames_per_s):.3f}".rstrip("0").rstrip(".")
        if self.count == 30 and self.frames_per_s != 30:
            return value + (" DF" if self.drop_frame else " NDF")
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

    numbers = (label.hours, label.minutes, label.seconds, label.frames)
    for (units, tens, tens_width), value in zip(LABEL_FIELDS, numbers, strict=True):
        put(units, 4, value % 10)
        put(tens, tens_width, value // 10)
    for group, value in enumerate(user_bits):
        put(FIRST_USER_BIT + 8 * group, 4, value)
    bits[DROP_BIT] |= int(rate.drop_frame)
    correction_bit, flag_bits = (59, (27, 58, 43)) if rate.count == 25 else (27, (43, 58, 59))
    for place, bit in enumerate(flag_bits):
        bits[bit] = binary_group_flags >> place & 1
    bits[DATA_BITS:] = SYNC_WORD
    if polarity_correction:
        bits[correction_bit] = (
            1 - sum(bits[:DATA_BITS]) % 2
        )  # the sync word's 13 ones complete an even number
    return tuple(bits)


def frame_start(number: int, rate: FrameRate, sample_rate_hz: int) -> Fraction:
    """Where frame `number` (0 for the first) starts, in samples after the first frame's start; exact."""
    return Fraction(number * sample_rate_hz) / rate.frames_per_s
