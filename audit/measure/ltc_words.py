"""What the 80 bits of timecode say: labels, flags and user bits of many words at once.

FRAME, NUMBERS, frames_from

Source: IEC 60461:2010 tables 2 to 5; the places of the bits stand in audit/timecode.py.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from audit.timecode import DROP_BIT, FIRST_USER_BIT, LABEL_FIELDS

FRAME = np.dtype(
    [
        ("start", "f8"),  # sample on which the frame's first bit cell begins, in the order of time
        ("end", "f8"),  # one past its last
        ("hours", "i4"),
        ("minutes", "i4"),
        ("seconds", "i4"),
        ("frames", "i4"),
        ("word", "<u8"),  # bits 0 to 63 as they were sent, bit 0 lowest
        ("drop", "?"),  # the drop-frame flag
        ("backward", "?"),  # the bits run backwards in time
        ("user", "u4"),  # the eight binary groups, group 1 lowest
        ("level", "f8"),  # how far the wave goes from its middle, full scale 1.0
        ("edge_error", "f8"),  # rms distance of the ones' middle edges from mid-cell, share of a cell
        ("first_edge", "i8"),  # edges counted from the file's start
        ("last_edge", "i8"),
    ]
)
"""One frame of timecode that was read."""

Frames = npt.NDArray[np.void]
"""Array of FRAME, shape (frames,), in the order of time."""

NUMBERS = 7
"""Numbers a word comes with (see ltc_kernel.read_words)."""


def _field(bits: npt.NDArray[np.uint8], first: int, width: int) -> npt.NDArray[np.int64]:
    weights = (1 << np.arange(width)).astype(np.int64)
    value: npt.NDArray[np.int64] = bits[:, first : first + width].astype(np.int64) @ weights
    return value


def frames_from(bits: npt.NDArray[np.uint8], numbers: npt.NDArray[np.float64], first_edge: int = 0) -> Frames:
    """Frames of the words that can be labels; those that no clock shows (61 seconds, digits past 9) are left
    out.

    bits: shape (words, 64). numbers: shape (words, NUMBERS). first_edge: added to the edges in `numbers`.
    """
    frames = np.zeros(len(bits), dtype=FRAME)
    sound = np.ones(len(bits), dtype=bool)
    names = ("hours", "minutes", "seconds", "frames")
    for name, most, (units, tens, width) in zip(names, (24, 60, 60, 30), LABEL_FIELDS, strict=True):
        digit = _field(bits, units, 4)
        frames[name] = digit + 10 * _field(bits, tens, width)
        sound &= (digit < 10) & (frames[name] < most)
    frames["word"] = np.packbits(bits, axis=1, bitorder="little").view("<u8")[:, 0]
    frames["drop"] = bits[:, DROP_BIT] == 1
    for group in range(8):
        frames["user"] |= (_field(bits, FIRST_USER_BIT + 8 * group, 4) << 4 * group).astype(np.uint32)
    frames["start"], frames["end"] = numbers[:, 0], numbers[:, 1]
    frames["backward"] = numbers[:, 2] == 1.0
    frames["level"], frames["edge_error"] = numbers[:, 3], numbers[:, 4]
    frames["first_edge"] = numbers[:, 5].astype(np.int64) + first_edge
    frames["last_edge"] = numbers[:, 6].astype(np.int64) + first_edge
    kept: Frames = frames[sound]
    return kept
