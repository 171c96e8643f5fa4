"""offset-from-click where a file is as much shorter or longer as its strokes say that it is early or late."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ByLength
from audit.rules.alignment import offset_from_click
from audit.rules.by_length import (
    FARTHEST_BACK_MS,
    FROM_MS,
    IN_PLACE_MS,
    LEAST_MS,
    MEETS,
    OF_BEST,
    TIMES,
    TO_MS,
)
from audit.rules.rule import Hit, Limit
from tests.evidence import findings, show
from tests.rules.test_alignment import CLICK, band, tour

CUT = ByLength(lag_ms=-95.0, beside_ms=1.0, there=20.0, as_is=2.0, anywhere=20.0, strokes=90, others=3)


def trimmed(file: str, off_ms: float | None = -40.0, **more: Any) -> SongEvidence:
    """A song with one stem whose file is shorter: 95 ms, which its place in the beat shows folded."""
    odd = replace(band("Night Ferry", {file: off_ms or 0.0}), click=CLICK)
    stems = []
    for one in odd.stems:
        if one.name == file and one.alignment is not None:
            phase = one.alignment.phase if off_ms is not None else None
            one = replace(one, alignment=replace(one.alignment, phase=phase, by_length=replace(CUT, **more)))
        stems.append(one)
    return replace(odd, stems=tuple(stems))


def told(whole: ShowEvidence) -> list[tuple[str | None, float | None]]:
    return [(one.stem, one.value) for one in findings("offset-from-click", whole)]


@pytest.mark.parametrize(
    ("file", "severity"),
    [("Drums.wav", Severity.ERROR), ("Keys.wav", Severity.ERROR), ("Pad.wav", Severity.WARNING)],
)
def test_a_start_that_was_cut_off_is_told_by_the_length(file: str, severity: Severity):
    (found,) = findings("offset-from-click", tour(trimmed(file)))
    assert (found.stem, found.value, found.severity) == (file, -95.0, severity)
    assert "Its start was cut off" in found.message
    assert "as much shorter" in found.message
    assert found.advice.startswith("Put 4560 samples of silence before it")


def test_what_stands_before_the_start_is_told_by_the_length():
    (found,) = findings("offset-from-click", tour(trimmed("Drums.wav", lag_ms=95.0)))
    assert "Something stands before its start" in found.message
    assert "as much longer" in found.message
    assert found.advice.startswith("Cut 4560 samples off its start")


def test_who_has_no_place_in_the_beat_is_told_all_the_same():
    assert told(tour(trimmed("Keys.wav", None))) == [("Keys.wav", -95.0)]


@pytest.mark.parametrize(("off_ms", "right"), [(IN_PLACE_MS - 0.5, False), (IN_PLACE_MS + 0.5, True)])
def test_who_lies_in_its_place_lacks_an_end_and_no_start(off_ms: float, right: bool):
    assert (("Keys.wav", -95.0) in told(tour(trimmed("Keys.wav", off_ms)))) is right


@pytest.mark.parametrize(
    ("more", "right"),
    [
        ({"there": MEETS + 0.1, "anywhere": 5.0}, True),
        ({"there": MEETS - 0.1, "anywhere": 4.9}, False),
        ({"as_is": 20.0 / TIMES - 0.1}, True),
        ({"as_is": 20.0 / TIMES + 0.1}, False),
        ({"anywhere": 20.0 / OF_BEST - 0.1}, True),
        ({"anywhere": 20.0 / OF_BEST + 0.1}, False),
        ({"beside_ms": FROM_MS, "as_is": 6.0}, True),
        ({"beside_ms": FROM_MS - 1.0, "as_is": 6.0}, False),
        ({"beside_ms": TO_MS, "as_is": 6.0}, True),
        ({"beside_ms": TO_MS + 1.0, "as_is": 6.0}, False),
        ({"beside_ms": FARTHEST_BACK_MS, "as_is": 5.0}, True),  # a quarter of them
        ({"beside_ms": FARTHEST_BACK_MS, "as_is": 5.1}, False),
        ({"beside_ms": FARTHEST_BACK_MS + 1.0, "as_is": 2.0}, False),
        ({"lag_ms": -LEAST_MS}, True),
        ({"lag_ms": -LEAST_MS + 0.5}, False),
    ],
)
def test_borders(more: dict[str, float], right: bool):
    lag_ms = more.get("lag_ms", -95.0)
    assert (("Keys.wav", lag_ms) in told(tour(trimmed("Keys.wav", None, **more)))) is right


@pytest.mark.parametrize(("beside_ms", "right"), [(24.0, True), (29.0, False)])
def test_who_always_lies_back_may_meet_the_others_as_far_behind(beside_ms: float, right: bool):
    """Guitars 20 ms behind the others in every song."""
    others = [band(f"Other {number}", {"Guitar.wav": 20.0}) for number in range(4)]
    whole = show(trimmed("Guitar.wav", None, beside_ms=beside_ms, as_is=6.0), *others)
    assert (("Guitar.wav", -95.0) in told(whole)) is right
    assert ("Drums.wav", -95.0) in told(show(trimmed("Drums.wav", None, beside_ms=beside_ms), *others))


@pytest.mark.parametrize(("as_is", "right"), [(9.9, True), (10.1, False)])
@pytest.mark.parametrize("file", ["Pad.wav", "Strings.wav"])
def test_slow_sounds_have_to_meet_the_others_twice_as_often(file: str, as_is: float, right: bool):
    assert bool(told(tour(trimmed(file, None, as_is=as_is)))) is right


@pytest.mark.parametrize(("anywhere", "right"), [(20.0, True), (22.0, False)])
def test_a_quarter_of_the_beat_is_told_of_what_fits_nowhere_better(anywhere: float, right: bool):
    """125 ms at 120 beats a minute: a figure meets as much there, drums as they are do not."""
    quarter = {"lag_ms": -125.0, "anywhere": anywhere}
    assert bool(told(tour(trimmed("Keys.wav", None, **quarter)))) is right
    assert told(tour(trimmed("Drums.wav", None, **quarter)))


@pytest.mark.parametrize(("lag_ms", "severity"), [(-24.0, Severity.WARNING), (-37.0, None), (24.0, None)])
def test_a_small_lag_that_nobody_confirms_is_told_where_the_length_says_it_too(
    lag_ms: float, severity: Severity | None
):
    """Keys 24 ms early in a song of no others: the drums alone are told by themselves from 20 ms on."""
    odd = trimmed("Keys.wav", -24.0, lag_ms=lag_ms)
    alone = [
        replace(one, alignment=replace(one.alignment, phase=replace(one.alignment.phase, against=())))
        if one.alignment is not None and one.alignment.phase is not None
        else one
        for one in odd.stems
    ]
    found = findings("offset-from-click", show(replace(odd, stems=tuple(alone))))
    assert [one.severity for one in found] == ([severity] if severity else [])
    if severity:
        assert "its file is as much shorter than the others'" in found[0].message


def test_a_lag_that_others_confirm_names_the_length_too():
    (found,) = findings("offset-from-click", tour(trimmed("Drums.wav", -40.0, lag_ms=-39.0)))
    assert "other stems agree, and its file is as much shorter" in found.message


@pytest.mark.parametrize(
    ("lag_ms", "told_ms"),
    [
        (-40.0 - 375.0, -415.0),
        (-40.0 - 375.0 - 4.0, -419.0),
        (-40.0 - 375.0 - 6.0, -40.0),
        (-40.0 + 250.0, 210.0),
    ],
)
def test_strokes_that_come_round_with_the_beat_are_told_by_as_much_as_the_length_says(
    lag_ms: float, told_ms: float
):
    """Off by its strokes, it fits as well where it stands: half a beat more would look the same."""
    odd = trimmed("Drums.wav", -40.0, lag_ms=lag_ms, as_is=19.0)
    assert told(tour(odd)) == [("Drums.wav", told_ms)]


def with_lengths(off_ms: dict[str, float], **lengths: ByLength) -> SongEvidence:
    odd = replace(band("Night Ferry", off_ms), click=CLICK)
    stems = [
        replace(one, alignment=replace(one.alignment, by_length=lengths[one.name.removesuffix(".wav")]))
        if one.name.removesuffix(".wav") in lengths and one.alignment is not None
        else one
        for one in odd.stems
    ]
    return replace(odd, stems=tuple(stems))


@pytest.mark.parametrize(
    ("keys", "told_too"),
    [
        ({"as_is": 19.0}, True),  # its strokes come round
        ({"as_is": 20.1}, False),
        ({"as_is": 19.0, "lag_ms": -101.0}, False),  # of another length
        ({"there": 4.9, "as_is": 4.0}, False),
    ],
)
def test_what_is_as_much_shorter_as_a_stem_that_is_told_went_along(keys: dict[str, float], told_too: bool):
    odd = with_lengths({"Drums.wav": -40.0, "Keys.wav": 0.0}, Drums=CUT, Keys=replace(CUT, **keys))
    found = findings("offset-from-click", tour(odd))
    assert [(one.stem, one.severity) for one in found] == [
        ("Drums.wav", Severity.ERROR), *([("Keys.wav", Severity.WARNING)] if told_too else [])
    ]  # fmt: skip


@pytest.mark.parametrize("longer", [True, False])
def test_stems_that_went_along_accuse_nobody(longer: bool):
    """A guitar in its place, and three that begin late: by their strokes it is early."""
    late = {"Drums.wav": 40.0, "Bass.wav": 40.0, "Keys.wav": 40.0}
    along = replace(CUT, lag_ms=165.0, as_is=30.0)
    lengths = {"Drums": replace(along, as_is=2.0), "Bass": along, "Keys": along} if longer else {}
    found = findings("offset-from-click", tour(with_lengths({**late, "Perc.wav": 0.0}, **lengths)))
    names = {one.stem for one in found}
    assert names == ({"Drums.wav"} if longer else {"Guitar.wav", "Perc.wav"})


@pytest.mark.parametrize(("limit_ms", "is_told"), [(94.0, True), (96.0, False)])
def test_a_limit_of_the_show_holds_for_lengths_too(limit_ms: float, is_told: bool):
    asked = replace(offset_from_click, limit=replace(offset_from_click.limit or Limit(), value=limit_ms))
    whole = tour(trimmed("Keys.wav", None))
    hits = [one for one in asked.check(whole.songs[0], whole, asked.own_limit()) if isinstance(one, Hit)]
    assert ([one.value for one in hits] == [-95.0]) is is_told
