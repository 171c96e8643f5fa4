"""The planting lab of timecode finds what it plants; a few of each kind here, hundreds by hand."""

from __future__ import annotations

import pytest

from tests import timecode_lab


@pytest.mark.parametrize("kind", timecode_lab.KINDS)
def test_every_kind_is_told(kind: str):
    for number in range(4):
        draw, track = timecode_lab.plant(kind, 7, number)
        assert timecode_lab.found(draw, track), (kind, number, draw.rate.text, track)


def test_the_lab_can_fail():
    """A fault that was not planted, or is of another size, is not taken for found."""
    draw, track = timecode_lab.plant("jump forward", 7, 0)
    assert draw.jump is not None
    draw.jump = (draw.jump[0], draw.jump[1] + 1)
    assert not timecode_lab.found(draw, track)
    clean, quiet = timecode_lab.plant("clean", 7, 0)
    assert timecode_lab.found(clean, quiet)
    clean.speed = 1.0001
    assert not timecode_lab.found(clean, quiet)
    assert not timecode_lab.found(clean, None)
    assert timecode_lab.bounds(100, 100)[0] == pytest.approx(0.963, abs=1e-3)
