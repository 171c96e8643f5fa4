"""A copy that was given its full size at once and filled only so far: zeros from a disk block's edge on."""

from __future__ import annotations

from audit.errors import UnreadableAudioError
from audit.measure.sketch import hashes_of
from audit.pipeline.sealed.show_copies import Copy

BLOCK_BYTES = 4096
"""File systems fill files by blocks of this size or multiples. A song that ends in silence does so at one of
their edges by chance once in 680 times (stereo, 24 bits)."""

LEAST_S = 0.5
STEP_FRAMES = 1 << 18


def ends_in_zeros(copy: Copy, other: Copy) -> float | None:
    """The second from which on `copy` holds nothing but zeros while `other` goes on, where all before is the
    same to the bit and the edge is that of a block; None where it is not so, or nobody can tell."""
    shape, sketch, whole = copy.format, copy.sketch, other.sketch
    if copy.at_hand is None or shape is None or sketch is None or whole is None:
        return None
    if shape.data_offset_bytes is None or shape.frame_bytes is None or shape.bits == 8:
        return None
    if (sketch.frames, sketch.rate_hz, sketch.channels) != (whole.frames, whole.rate_hz, whole.channels):
        return None
    chunks = sketch.frames // sketch.chunk_frames
    apart = (hashes_of(sketch)[:chunks] != hashes_of(whole)[:chunks]).nonzero()[0]
    first_apart = int(apart[0]) if len(apart) else chunks
    try:
        sounding = _sounding_frames(copy, sketch.frames)
    except UnreadableAudioError:
        return None
    end = shape.data_offset_bytes + sounding * shape.frame_bytes
    short = -end % BLOCK_BYTES
    at_edge = short < shape.frame_bytes or BLOCK_BYTES - short < shape.frame_bytes
    long_enough = sketch.frames - sounding >= LEAST_S * sketch.rate_hz
    same_before = first_apart >= sounding // sketch.chunk_frames
    return sounding / sketch.rate_hz if at_edge and long_enough and same_before and sounding else None


def _sounding_frames(copy: Copy, frames: int) -> int:
    """Frames up to the last that is not zero, looked for from the end."""
    last = frames
    while last > 0:
        first = max(0, last - STEP_FRAMES)
        sounding = copy.chunk(first, last - first).any(axis=1).nonzero()[0]
        if len(sounding):
            return first + int(sounding[-1]) + 1
        last = first
    return 0
