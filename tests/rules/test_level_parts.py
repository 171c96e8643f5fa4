"""Which parts the level rules judge, and how a report names them."""

from __future__ import annotations

import pytest

from audit.facts import Role
from audit.rules.parts import listed, seconds_at, sounding_pairs, sounding_parts, where_in
from tests.evidence import part, stem


def two_roles():
    return stem(
        "Session.wav",
        parts=[
            part(Role.CLICK, channels=(0,)),
            part(Role.TIMECODE, channels=(1,), silent=True),
            part(Role.KEYS, channels=(2, 3)),
        ],
    )


def test_silent_parts_and_excluded_roles_are_left_out():
    assert [p.role for p in sounding_parts(two_roles())] == [Role.CLICK, Role.KEYS]
    assert [p.role for p in sounding_parts(two_roles(), without={Role.CLICK})] == [Role.KEYS]
    assert sounding_parts(stem("Bass.wav", failure="broken")) == ()


def test_only_two_channels_of_one_role_are_a_pair():
    assert [p.role for p in sounding_pairs(two_roles())] == [Role.KEYS]
    assert [p.measures.channels for p in sounding_pairs(stem("Bass.wav"))] == [(0, 1)]
    assert sounding_pairs(stem("Bass.wav", channels=1)) == ()
    assert sounding_pairs(stem("Choir.wav", channels=4)) == ()


def test_parts_are_named_only_where_there_are_several():
    names = [where_in(two_roles(), p) for p in two_roles().parts]
    assert names == [" (click, channel 1)", " (timecode, channel 2)", " (keys, channels 3+4)"]
    only = stem("Bass.wav")
    assert where_in(only, only.parts[0]) == ""


@pytest.mark.parametrize(("rate_hz", "seconds"), [(44100, 2.0), (48000, 1.8375), (96000, 0.91875)])
def test_frames_become_seconds_at_the_files_own_rate(rate_hz: int, seconds: float):
    assert seconds_at(stem("Bass.wav", rate_hz=rate_hz), 88200) == pytest.approx(seconds)


def test_no_frame_or_no_rate_gives_no_time():
    assert seconds_at(stem("Bass.wav"), None) is None
    assert seconds_at(stem("Bass.wav", format={"sample_rate_hz": 0}), 10) is None
    assert seconds_at(stem("Bass.wav", unreadable=True), 10) is None


@pytest.mark.parametrize(
    ("number", "words"),
    [(1, "A1"), (3, "A1, A2, A3"), (6, "A1, A2, A3, A4, A5, A6"), (8, "A1, A2, A3, A4, A5, A6 and 2 more")],
)
def test_long_lists_are_cut(number: int, words: str):
    assert listed([f"A{n}" for n in range(1, number + 1)]) == words
