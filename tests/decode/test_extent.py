"""The header's claim against the bytes that are there, one number at a time. Source:
own measurement of how libsndfile 1.2.2 and ffmpeg 5.1.9 read such files."""

from __future__ import annotations

import pytest

from audit.decode.extent import Extent, settle_extent
from audit.results import FaultKind

FRAME_BYTES = 6


def settled(claimed: int | None, present: int, *, more: bool = False, align: int = 1) -> Extent:
    return settle_extent(
        claimed_bytes=claimed,
        present_bytes=present,
        more_follows=more,
        frame_bytes=FRAME_BYTES,
        rate_hz=48_000,
        align=align,
    )


def kind(extent: Extent) -> FaultKind | None:
    return extent.fault.kind if extent.fault is not None else None


@pytest.mark.parametrize(
    ("claimed", "align", "ragged"),
    [
        (600, 8, False),
        (608, 8, False),  # 101 frames and 2 bytes: what padding 606 to a multiple of 8 makes
        (604, 8, True),  # 100 frames and 4 bytes, and no multiple of 8: no writer pads like that
        (604, 2, True),  # 4 bytes are more than padding to 2 can add
        (602, 2, True),  # as many as the alignment: padding adds fewer
        (603, 1, True),
    ],
)
def test_a_rest_is_ragged_unless_padding_explains_it(claimed: int, align: int, ragged: bool):
    extent = settled(claimed, claimed, align=align)
    assert extent.frames == claimed // FRAME_BYTES
    assert kind(extent) is (FaultKind.TRUNCATED if ragged else None)


@pytest.mark.parametrize(
    ("claimed", "present", "more", "expected"),
    [
        (600, 600, False, None),
        (600, 599, False, FaultKind.TRUNCATED),
        (600, 606, False, None),
        (600, 605, True, None),  # five bytes more are no frame more
        (600, 606, True, FaultKind.UNFINISHED),
        (None, 606, False, FaultKind.UNFINISHED),
        (None, 5, False, FaultKind.EMPTY),
        (600, 5, False, FaultKind.EMPTY),
        (5, 5, False, FaultKind.EMPTY),
    ],
)
def test_claim_against_bytes(claimed: int | None, present: int, more: bool, expected: FaultKind | None):
    extent = settled(claimed, present, more=more)
    assert kind(extent) is expected
    counted = present if expected is FaultKind.UNFINISHED else min(present, claimed or 0)
    assert extent.frames == counted // FRAME_BYTES


@pytest.mark.parametrize(("missing", "words"), [(47, "47 samples"), (48, "0:00.001"), (96, "0:00.002")])
def test_less_than_a_millisecond_is_told_in_frames(missing: int, words: str):
    extent = settled(FRAME_BYTES * 1000, FRAME_BYTES * (1000 - missing))
    assert extent.fault is not None
    assert extent.fault.detail.startswith(f"{words} missing: ")
