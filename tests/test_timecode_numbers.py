"""Timecode arithmetic against a second implementation: the package `timecode` (PyPI, 1.5.1).

Its traps (measured on that release), kept out of the way here: `.frames` counts from 1, `.frame_number`
from 0; it takes an illegal 00:01:00;00 for 00:00:59;28 without a word; "29.97" is drop-frame unless told
otherwise (force_non_drop_frame). So it serves as a check of labels that exist, and never at run time.
"""

from __future__ import annotations

import numpy as np
import pytest
from timecode import Timecode

from audit.timecode import (
    FPS_23_976,
    FPS_24,
    FPS_25,
    FPS_29_97,
    FPS_29_97_DROP,
    FPS_30,
    FrameRate,
    Label,
    frames_per_day,
    index_of,
    label_at,
)

THEIRS = {FPS_23_976: "23.976", FPS_24: "24", FPS_25: "25", FPS_29_97: "29.97", FPS_29_97_DROP: "29.97"}
THEIRS |= {FPS_30: "30"}


def theirs(rate: FrameRate, text: str) -> Timecode:
    plain = rate == FPS_29_97
    return Timecode(THEIRS[rate], text, force_non_drop_frame=plain)


@pytest.mark.parametrize("rate", THEIRS, ids=lambda rate: rate.text)
def test_random_labels_have_the_same_number(rate: FrameRate):
    indices = np.random.default_rng(12).integers(0, frames_per_day(rate), 200)
    for index in [0, 1, 1799, 1800, 17981, 17982, frames_per_day(rate) - 1, *indices.tolist()]:
        label = label_at(index, rate)
        assert index_of(label, rate) == index
        assert theirs(rate, label.text(rate)).frame_number == index, label


@pytest.mark.parametrize("rate", THEIRS, ids=lambda rate: rate.text)
def test_the_next_label_is_the_same(rate: FrameRate):
    for index in [1798, 1799, 17981, 107_891, *np.random.default_rng(13).integers(0, 2_000_000, 60).tolist()]:
        code = theirs(rate, label_at(index, rate).text(rate))
        code.next()
        assert str(code).replace(";", ":") == label_at(index + 1, rate).text(rate).replace(";", ":")


def test_the_traps_are_still_there():
    """Where one of these goes, the page above can forget it."""
    hour = Timecode("29.97", "01:00:00;00")
    assert (hour.frames, hour.frame_number) == (107_893, 107_892)
    assert str(Timecode("29.97", "00:01:00;00")) == "00:00:59;28"
    with pytest.raises(ValueError, match="does not exist"):
        index_of(Label(0, 1, 0, 0), FPS_29_97_DROP)
