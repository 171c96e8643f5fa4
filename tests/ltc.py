"""A small encoder of linear timecode, after IEC 60461 / SMPTE ST 12-1 (see `timecode`).

Source: IEC 60461:2010 Tables 2–5 (the 80 bits), 8.2.6 (polarity correction), 8.3 (bi-phase mark), 8.4 (bit
rate 80 × frame rate), 8.6.2 (rise time 40 µs). `test_ltc.py` has libltc decode what this writes.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from tests.waves import Planted, Truth, as_samples

SYNC = (0, 0, *([1] * 12), 0, 1)


def _field(value: int, width: int) -> list[int]:
    return [value >> i & 1 for i in range(width)]  # least significant bit first


def word(
    hours: int, minutes: int, seconds: int, frame: int, *, drop: bool, fps: int, user: int = 0
) -> list[int]:
    """The 80 bits of one frame in the order they are sent. `user`: 32 bits; `fps`: nominal, 24 25 30."""
    groups = [_field(user >> 4 * i & 15, 4) for i in range(8)]
    bits = [
        *_field(frame % 10, 4), *groups[0], *_field(frame // 10, 2), int(drop), 0, *groups[1],
        *_field(seconds % 10, 4), *groups[2], *_field(seconds // 10, 3), 0, *groups[3],
        *_field(minutes % 10, 4), *groups[4], *_field(minutes // 10, 3), 0, *groups[5],
        *_field(hours % 10, 4), *groups[6], *_field(hours // 10, 2), 0, 0, *groups[7],
    ]  # fmt: skip
    polarity_bit = 59 if fps == 25 else 27
    bits[polarity_bit] = bits.count(0) % 2 ^ 1  # the bit itself still counts as a zero here
    return bits + list(SYNC)


def count_frames(start: str, frames: int, *, fps: int, drop: bool) -> list[tuple[int, int, int, int]]:
    """Frame addresses from `start` ("HH:MM:SS:FF"); drop-frame skips 00 and 01 but every tenth minute."""
    hours, minutes, seconds, frame = (int(part) for part in start.replace(";", ":").split(":"))
    addresses = []
    for _ in range(frames):
        addresses.append((hours, minutes, seconds, frame))
        frame += 1
        if frame == fps:
            frame, seconds = 0, seconds + 1
        if seconds == 60:
            seconds, minutes = 0, minutes + 1
            if minutes == 60:
                minutes, hours = 0, (hours + 1) % 24
            if drop and minutes % 10:
                frame = 2
    return addresses


def timecode(
    seconds: float,
    *,
    rate_hz: int = 48_000,
    fps: Fraction | int = 25,
    start: str = "01:00:00:00",
    drop: bool = False,
    peak: float = 0.5,
    speed: float = 1.0,
    rise_s: float = 40e-6,
    user: int = 0,
    inverted: bool = False,
) -> Planted:
    """Linear timecode. truth: first frame of every word (rounded), the words as text, the bit rate.

    The edges lie where the standard puts them, between samples if need be, and last `rise_s` from 10 to 90 %
    (a raised cosine). `speed`: of the tape. A last word that would not fit is not begun.
    """
    nominal = math.ceil(fps)
    bit_s = 1.0 / (80 * float(fps) * speed)
    words = int(seconds / (80 * bit_s))
    addresses = count_frames(start, words, fps=nominal, drop=drop)
    bits = np.array(
        [word(*address, drop=drop, fps=nominal, user=user) for address in addresses], dtype=np.int64
    ).ravel()
    # Every bit begins with an edge; a one has another in its middle.
    cells = np.arange(len(bits)) * bit_s
    edges = np.sort(np.concatenate((cells, cells[bits == 1] + bit_s / 2)))
    end_s = len(bits) * bit_s
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    index = np.searchsorted(edges, t, side="right")
    side = np.where(index % 2 == 1, 1.0, -1.0)
    # Raised-cosine edges: 10 … 90 % takes 0.59 of the whole transition.
    half_s = max(rise_s / 0.59 / 2, 1e-12)
    before = t - edges[np.maximum(index - 1, 0)]
    after = np.where(index < len(edges), edges[np.minimum(index, len(edges) - 1)], end_s) - t
    near = np.minimum(np.abs(before), np.abs(after))
    wave = side * np.sin(np.pi / 2 * np.clip(near / half_s, 0.0, 1.0)) * peak
    wave[t >= end_s] = 0.0
    if inverted:
        wave = -wave
    return as_samples(wave), Truth(
        rate_hz=rate_hz,
        at_frames=tuple(round(i * 80 * bit_s * rate_hz) for i in range(words)),
        values={"bit_hz": 1.0 / bit_s, "peak": peak, "words": words},
        text=tuple(
            "{:02d}:{:02d}:{:02d}{}{:02d}".format(*a[:3], ";" if drop else ":", a[3]) for a in addresses
        ),
    )
