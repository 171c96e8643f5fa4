"""What songs are compared with is worked out once a show, and never taken from another one."""

from __future__ import annotations

from dataclasses import replace

from audit.rules.once import once_a_show
from tests.evidence import show as a_show
from tests.evidence import song as a_song


def test_one_show_is_asked_once_and_another_anew():
    asked: list[tuple[int, object]] = []

    @once_a_show
    def songs(show, more=None):
        asked.append((len(show.songs), more))
        return len(show.songs)

    one, two = a_show(a_song("A")), a_show(a_song("A"), a_song("B"))
    assert (songs(one), songs(one), songs(two), songs(two), songs(one)) == (1, 1, 2, 2, 1)
    assert asked == [(1, None), (2, None), (1, None)]


def test_arguments_tell_answers_apart():
    asked: list[object] = []

    @once_a_show
    def told(show, more, *, named=0):
        asked.append((more, named))
        return more, named

    show = a_show(a_song("A"))
    first, second = {"a": 1}, {"a": 1}
    assert told(show, first) == ({"a": 1}, 0)
    assert told(show, first) is not told(show, second)  # what has no hash is known as the very object
    assert told(show, "x", named=1) == ("x", 1) != told(show, "x", named=2)
    assert len(asked) == 4


def test_an_equal_show_is_not_the_same_show():
    @once_a_show
    def name(show):
        return object()

    show = a_show(a_song("A"))
    assert name(show) is name(show)
    assert name(show) is not name(replace(show))
