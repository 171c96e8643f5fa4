"""Which channel does what: the name decides, content corrects where the name cannot know."""

from __future__ import annotations

from pathlib import Path

import pytest

from audit.facts import Role, Stem
from audit.pipeline.song.parts import split_into_parts
from audit.results import Nature

MUSIC = Nature(timecode_share=0.0, tick_share=0.1)
TICKS = Nature(timecode_share=0.0, tick_share=0.95)
LTC = Nature(timecode_share=0.99, tick_share=0.0)


def stem(role: Role = Role.OTHER, *, channel_roles: tuple[Role, ...] = (), guess: bool = False) -> Stem:
    return Stem(file="x.wav", path=Path("x.wav"), role=role, role_is_guess=guess, channel_roles=channel_roles)


def roles(stem: Stem, *natures: Nature) -> list[tuple[Role, tuple[int, ...]]]:
    return [(part.role, part.channels) for part in split_into_parts(stem, natures)]


def test_a_plain_stereo_stem_is_one_part():
    assert roles(stem(Role.KEYS), MUSIC, MUSIC) == [(Role.KEYS, (0, 1))]


def test_two_roles_in_the_name_are_two_parts():
    both = stem(Role.CLICK, channel_roles=(Role.CLICK, Role.TIMECODE))
    assert roles(both, TICKS, LTC) == [(Role.CLICK, (0,)), (Role.TIMECODE, (1,))]


def test_two_roles_in_the_name_do_not_fit_a_mono_file():
    both = stem(Role.CLICK, channel_roles=(Role.CLICK, Role.TIMECODE))
    assert roles(both, TICKS) == [(Role.CLICK, (0,))]


def test_a_side_that_the_name_leaves_open_is_told_by_its_sound():
    """ "Show L Click R": the left is a guess, and timecode or a click in it is heard."""
    halves = stem(channel_roles=(Role.OTHER, Role.CLICK), guess=True)
    parts = split_into_parts(halves, (MUSIC, TICKS))
    assert [(part.role, part.is_guess, part.channels) for part in parts] == [
        (Role.OTHER, True, (0,)),
        (Role.CLICK, False, (1,)),
    ]
    assert roles(halves, LTC, TICKS) == [(Role.TIMECODE, (0,)), (Role.CLICK, (1,))]


def test_timecode_on_one_side_of_music_is_split_off():
    assert roles(stem(Role.FULL_MIX), MUSIC, LTC) == [(Role.FULL_MIX, (0,)), (Role.TIMECODE, (1,))]


def test_click_on_one_side_of_music_is_split_off():
    assert roles(stem(Role.FULL_MIX), MUSIC, TICKS) == [(Role.FULL_MIX, (0,)), (Role.CLICK, (1,))]


@pytest.mark.parametrize(
    ("tick_share", "second"), [(0.31, Role.FULL_MIX), (0.79, Role.FULL_MIX), (0.8, Role.CLICK)]
)
def test_what_only_ticks_a_little_is_no_click(tick_share: float, second: Role):
    """Clicks reach 0.8 and more; a side of drums or speech, 0.3 and a little more, stays music."""
    side = Nature(timecode_share=0.0, tick_share=tick_share)
    channels = {
        channel: role for role, places in roles(stem(Role.FULL_MIX), MUSIC, side) for channel in places
    }
    assert channels == {0: Role.FULL_MIX, 1: second}


def test_click_file_with_timecode_beside_it_is_split():
    assert roles(stem(Role.CLICK), TICKS, LTC) == [(Role.CLICK, (0,)), (Role.TIMECODE, (1,))]


def test_a_name_that_speaks_for_the_whole_file_wins_over_content():
    # A woodblock part called percussion may tick like a click; nobody asked the content.
    assert roles(stem(Role.PERCUSSION), TICKS, TICKS) == [(Role.PERCUSSION, (0, 1))]


def test_a_nameless_file_is_what_it_sounds_like():
    parts = split_into_parts(stem(guess=True), (LTC, LTC))
    assert [(p.role, p.is_guess) for p in parts] == [(Role.TIMECODE, False)]
    parts = split_into_parts(stem(guess=True), (MUSIC,))
    assert [(p.role, p.is_guess) for p in parts] == [(Role.OTHER, True)]


def test_timecode_on_every_channel_wins_over_a_name_of_music():
    assert roles(stem(Role.KEYS), LTC) == [(Role.TIMECODE, (0,))]
    assert roles(stem(Role.LEAD_VOCAL), LTC, LTC) == [(Role.TIMECODE, (0, 1))]
    pair = stem(Role.BASS, channel_roles=(Role.BASS, Role.KEYS))
    assert roles(pair, LTC, LTC) == [(Role.TIMECODE, (0, 1))]
    nearly = Nature(timecode_share=0.79, tick_share=0.0)
    assert roles(stem(Role.KEYS), nearly) == [(Role.KEYS, (0,))]


def test_a_click_or_guide_by_name_stays_what_its_name_says():
    assert roles(stem(Role.CLICK), LTC) == [(Role.CLICK, (0,))]


def test_timecode_beside_silence_stays_one_part():
    silence = Nature(timecode_share=0.0, tick_share=0.0)
    assert roles(stem(Role.TIMECODE), LTC, silence) == [(Role.TIMECODE, (0, 1))]
