"""Places as a person types them."""

from __future__ import annotations

import pytest

from audit.errors import UsageError
from audit.hear.place import check_one_place, read_place
from audit.units import clock


@pytest.mark.parametrize(
    ("typed", "frame"),
    [
        ("1:23.456", 4_005_888),
        ("83.456", 4_005_888),
        ("83,456", 4_005_888),
        ("83.456 s", 4_005_888),
        ("0:00", 0),
        ("0", 0),
        ("75:00", 75 * 60 * 48_000),
        ("1:02:03.5", round(3723.5 * 48_000)),
    ],
)
def test_times_are_read(typed, frame):
    assert read_place(typed, None, 48_000) == frame


def test_what_a_report_prints_is_read_back():
    for seconds in (0.0, 0.001, 59.999, 61.25, 3599.5, 3723.75):
        assert read_place(clock(seconds), None, 48_000) == round(seconds * 48_000)


def test_samples_are_read():
    assert read_place(None, "4005888", 44_100) == 4_005_888
    assert read_place(None, "4 005 888", 44_100) == 4_005_888


@pytest.mark.parametrize(
    "typed", ["", "x", "-1", "1:60", "1:99.5", "1:61:00", "nan", "inf", "1e3", "1:2:3:4", "١"]
)
def test_what_is_no_place_is_refused(typed):
    with pytest.raises(UsageError, match="--at"):
        read_place(typed, None, 48_000)


@pytest.mark.parametrize("typed", ["", "-1", "1.5", "one", "²"])
def test_what_is_no_sample_is_refused(typed):
    with pytest.raises(UsageError, match="--sample"):
        read_place(None, typed, 48_000)


def test_one_place_is_asked_for():
    for at, sample in ((None, None), ("1", "1")):
        with pytest.raises(UsageError, match="say one place"):
            check_one_place(at, sample)
