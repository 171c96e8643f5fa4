"""A bounce has landed when it has stopped growing: not before, and once."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from audit.pipeline.landing import Stamp, lacks_its_end, landings, look
from tests.cli.folders import write_tone

STEP_S = 0.25


def told(rounds: list[list[str]], sizes: dict[str, list[Stamp]]) -> list[tuple[int, frozenset[str]]]:
    """Which paths landed in which round. sizes: a file's stamp, round by round (the last one stays)."""
    at = -1

    def ticking() -> Iterable[list[str]]:
        nonlocal at
        for changed in rounds:
            at += 1
            yield changed

    def stamp(path: str) -> Stamp:
        known = sizes[path]
        return known[min(max(at, 0), len(known) - 1)]

    found = landings(ticking(), settled_s=1.0, stamp=stamp, now_s=lambda: at * STEP_S)
    return [(at, paths) for paths in found]


QUIET: list[list[str]] = [[]] * 8


def test_a_finished_file_lands_once():
    assert told([["a"], *QUIET, *QUIET], {"a": [(10, 1)]}) == [(4, frozenset("a"))]


def test_a_growing_file_is_waited_for_though_nobody_tells():
    growing: list[Stamp] = [(n, n) for n in range(8)]
    assert told([["a"], *QUIET, *QUIET], {"a": growing}) == [(11, frozenset("a"))]


def test_stems_one_after_another_are_one_change():
    rounds = [["a"], [], ["b"], [], [], ["c"], *QUIET, *QUIET]
    assert told(rounds, {name: [(10, 1)] for name in "abc"}) == [(9, frozenset("abc"))]


def test_a_file_that_goes_has_landed_too():
    assert told([["a"], *QUIET], {"a": [(10, 1), None]}) == [(5, frozenset("a"))]


def test_two_changes_are_two():
    rounds = [["a"], *QUIET, ["a"], *QUIET]
    assert told(rounds, {"a": [(10, 1)]}) == [(4, frozenset("a")), (13, frozenset("a"))]


def test_nothing_lands_where_nothing_happens():
    assert told([*QUIET, *QUIET], {}) == []


def test_a_stamp_is_size_and_time(tmp_path):
    path = tmp_path / "Bass.wav"
    assert look(str(path)) is None
    path.write_bytes(b"1234")
    assert look(str(path)) == (4, path.stat().st_mtime_ns)


def test_a_file_that_lacks_its_end_is_waited_for_longer_and_not_for_ever():
    at = -1

    def ticking(rounds: int) -> Iterable[list[str]]:
        nonlocal at
        for number in range(rounds):
            at = number
            yield ["a"] if number == 0 else []

    def landed(size: Callable[[], int], *, whole: int) -> list[int]:
        found = landings(
            ticking(40), settled_s=1.0, unfinished_s=5.0, unfinished=lambda path: size() < whole,
            stamp=lambda path: (size(), size()), now_s=lambda: at * STEP_S,
        )  # fmt: skip
        return [at for _ in found]

    assert landed(lambda: 10, whole=10) == [4]
    assert landed(lambda: 10, whole=20) == [20]  # cut short for good
    assert landed(lambda: 10 if at < 12 else 20, whole=20) == [16]  # the rest came after a pause


def test_a_header_that_promises_more_tells_an_unfinished_file(tmp_path: Path):
    path = write_tone(tmp_path / "Bass.wav", freq_hz=80.0, seconds=1.0)
    assert not lacks_its_end(str(path))
    path.write_bytes(path.read_bytes()[:50_000])
    assert lacks_its_end(str(path))
    (tmp_path / "Notes.wav").write_text("no audio")
    assert not lacks_its_end(str(tmp_path / "Notes.wav"))
    assert not lacks_its_end(str(tmp_path / "gone.wav"))
    assert not lacks_its_end(str(tmp_path))
