"""dual-mono, opposite-polarity, channel-imbalance: how two sides belong together."""

from __future__ import annotations

import math
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def sides(left: float, right: float, correlation: float) -> dict[str, float]:
    """The stereo measures of two sides of these RMS amplitudes, from their definitions in results.Stereo."""
    energy = left**2 + right**2
    product = correlation * left * right
    mid, side = (energy + 2 * product) / 4, (energy - 2 * product) / 4
    return {
        "correlation": correlation,
        "difference_db": -math.inf if side == 0 else 10 * math.log10(4 * side / energy),
        "mid_side_db": math.inf if side == 0 else -math.inf if mid == 0 else 10 * math.log10(mid / side),
        "imbalance_db": 20 * math.log10(left / right),
    }


def pair(
    file: str, left: float = 0.1, right: float = 0.1, correlation: float = 0.6, **more: Any
) -> StemEvidence:
    return stem(file, stereo=sides(left, right, correlation), **more)


def nearly_same(file: str, difference_db: float) -> StemEvidence:
    return stem(
        file, stereo={"correlation": 1.0, "difference_db": difference_db, "mid_side_db": -difference_db}
    )


def split(left: Role, right: Role) -> StemEvidence:
    return stem("Click+LTC.wav", parts=[part(left, channels=(0,)), part(right, channels=(1,))])


HALF_SILENT = {"peaks": {"channel_dbfs": (-6.0, -math.inf)}}

CASES = {
    "dual-mono": (
        planted(
            "identical sides",
            of(pair("Bass.wav", correlation=1.0), stem("Keys.wav")),
            Expected(severity="note", says=("1 stem with", "Bass.wav"), facts={"stems": ("Bass.wav",)}),
        ),
        planted(
            "one line a song, whatever the number",
            show(
                song("Night Ferry", pair("Bass.wav", correlation=1.0), nearly_same("Lead Vocal.wav", -96.3)),
                song("Salt Road", nearly_same("Bass.wav", -120.0)),
            ),
            Expected(songs=("Night Ferry",), value=-96.3, says=("2 stems", "Bass.wav, Lead Vocal.wav")),
            Expected(songs=("Salt Road",), value=-120.0),
        ),
        clean(
            "click, guide and timecode go to two ears on purpose",
            of(*(pair(f"{name}.wav", correlation=1.0) for name in ("Click", "Guide", "LTC"))),
        ),
        clean("a bass that is so in every song",
              show(*(song(name, pair("Bass.wav", correlation=1.0)) for name in ("One", "Two", "Three")))),
        clean("click and timecode as two sides", of(split(Role.CLICK, Role.TIMECODE))),
        clean("a mono file", of(stem("Bass.wav", channels=1))),
        clean("silence on both sides", of(stem("Bass.wav", silent=True))),
        clean("the same part, one side 0.1 dB louder", of(pair("Bass.wav", 0.1, 0.1012, 1.0))),
        at_limit("a difference of −89.9 dB", of(nearly_same("Bass.wav", -89.9))),
        past_limit("a difference of −90.0 dB", of(nearly_same("Bass.wav", -90.0)), Expected(value=-90.0)),
    ),
    "opposite-polarity": (
        planted(
            "one side is the other upside down",
            of(pair("Guitar.wav", correlation=-1.0)),
            Expected(
                severity="error",
                stem="Guitar.wav",
                value=-1.0,
                says=("−1.00", "nothing is left"),
                advises=("one side",),
            ),
        ),
        planted(
            "upside down through a chorus",
            of(pair("Pad.wav", correlation=-0.93), stem("Keys.wav")),
            Expected(stem="Pad.wav", value=-0.93, within=0.001, says=("loses 15 dB",)),
        ),
        planted(
            "a click that leaves one ear in mono",
            of(pair("Click.wav", correlation=-0.99)),
            Expected(severity="error", stem="Click.wav"),
        ),
        planted(
            "timecode can be read in either polarity",
            of(pair("LTC.wav", correlation=-1.0)),
            Expected(severity="warning", stem="LTC.wav"),
        ),
        clean("a wide pad", of(pair("Pad.wav", correlation=-0.4))),
        clean("two takes of one part", of(pair("Guitar.wav", correlation=0.0))),
        clean("a faint echo upside down on the other side", of(pair("Keys.wav", 0.1, 0.01, -1.0))),
        clean("one side silent", of(pair("Keys.wav", correlation=-1.0, **HALF_SILENT))),
        clean("click and timecode as two sides", of(split(Role.CLICK, Role.TIMECODE))),
        planted(
            "upside down and half a millisecond late",
            of(stem("Pad.wav", side_delay={"lowest": -0.98, "lowest_at_ms": 0.5, "highest": 0.3})),
            Expected(severity="warning", stem="Pad.wav", value=-0.98,
                     says=("the right side", "0.50 ms late", "lows cancel")),
        ),
        planted(
            "in every song: said once, as a note",
            show(*(song(name, pair("Pad.wav", correlation=-1.0)) for name in ("One", "Two", "Three"))),
            Expected(severity="note", songs=("One", "Two", "Three"), says=("the pad", "every song")),
        ),
        planted(
            "in two songs: no habit yet",
            show(*(song(name, pair("Pad.wav", correlation=-1.0)) for name in ("One", "Two"))),
            Expected(stem="Pad.wav", songs=("One",)), Expected(stem="Pad.wav", songs=("Two",)),
        ),
        clean("a tone is upside down half a period later",
              of(stem("Synth.wav", side_delay={"lowest": -0.97, "lowest_at_ms": 0.5, "highest": 0.98}))),
        clean("a faint side cannot cancel", of(stem("Pad.wav", stereo={"imbalance_db": 9.1},
              side_delay={"lowest": -0.98, "lowest_at_ms": 0.5, "highest": 0.3}))),
        clean("timecode late on one side",
              of(stem("LTC.wav", side_delay={"lowest": -0.98, "lowest_at_ms": 0.2, "highest": 0.1}))),
        at_limit("late, correlation −0.899",
                 of(stem("Pad.wav", side_delay={"lowest": -0.899, "lowest_at_ms": 0.5, "highest": 0.3}))),
        at_limit("late, and 0.79 the right way up",
                 of(stem("Pad.wav", side_delay={"lowest": -0.98, "lowest_at_ms": 0.5, "highest": 0.79}))),
        past_limit("late, correlation −0.9",
                   of(stem("Pad.wav", side_delay={"lowest": -0.9, "lowest_at_ms": -0.5, "highest": 0.7})),
                   Expected(severity="warning", stem="Pad.wav", says=("the left side",))),
        planted(
            "backing vocals of which one side was turned over",
            of(pair("Backing Vocals.wav", correlation=-0.88)),
            Expected(severity="warning", stem="Backing Vocals.wav", value=-0.88, within=1e-6,
                     says=("nearly cancel in mono", "limit −0.75", "loses 12 dB"), advises=("in mono",)),
        ),
        past_limit("correlation −0.751 of a bass", of(pair("Bass.wav", correlation=-0.751)),
                   Expected(severity="warning", stem="Bass.wav")),
        at_limit("−0.749", of(pair("Bass.wav", correlation=-0.749))),
        at_limit("−0.76, one side 2 dB louder: mono loses 8.9 dB",
                 of(pair("Bass.wav", 0.1, 0.0794, correlation=-0.76))),
        past_limit("−0.76, one side 0.5 dB louder: 9.2 dB",
                   of(pair("Bass.wav", 0.1, 0.0944, correlation=-0.76)),
                   Expected(severity="warning", stem="Bass.wav")),
        clean("what is made so wide", of(*(pair(f"{name}.wav", correlation=-0.88) for name in
              ("Pad", "Strings", "Synth", "FX", "Thing", "Click", "Guide", "LTC")))),
        clean("one side silent, whatever is on it",
              of(pair("Bass.wav", correlation=-0.8, **HALF_SILENT))),
        clean("a bass that is so in every song", show(
            *(song(name, pair("Bass.wav", correlation=-0.8)) for name in ("One", "Two", "Three")))),
        planted("in two songs: no habit yet, here too", show(
            *(song(name, pair("Bass.wav", correlation=-0.8)) for name in ("One", "Two"))),
            Expected(severity="warning", stem="Bass.wav", songs=("One",)),
            Expected(severity="warning", stem="Bass.wav", songs=("Two",))),
        at_limit("correlation −0.899", of(pair("Pad.wav", correlation=-0.899))),
        at_limit("a side 9.6 dB down cancels 5.9 dB of the mid", of(pair("Pad.wav", 0.1, 0.0330, -1.0))),
        past_limit(
            "correlation −0.9",
            of(pair("Pad.wav", correlation=-0.9)),
            Expected(stem="Pad.wav", value=-0.9, within=1e-6),
        ),
        past_limit(
            "a side 9.5 dB down cancels 6.1 dB of the mid",
            of(pair("Pad.wav", 0.1, 0.0338, -1.0)),
            Expected(stem="Pad.wav"),
        ),
    ),
    "channel-imbalance": (
        planted(
            "right 20 dB down",
            of(pair("Keys.wav", 0.1, 0.01)),
            Expected(severity="note", stem="Keys.wav", value=20.0, says=("right side is 20.0 dB quieter",)),
        ),
        planted(
            "left 13 dB down",
            of(pair("Guitar.wav", 0.1, 0.4467), stem("Bass.wav")),
            Expected(severity="note", stem="Guitar.wav", value=13.0, says=("left side", "than the right")),
        ),
        clean("a keyboard that leans to the left in every song",
              show(*(song(name, pair("Keys.wav", 0.1, 0.01)) for name in ("One", "Two", "Three")))),
        planted(
            "a keyboard that leans the other way in one song of three",
            show(*(song(name, pair("Keys.wav", *sides_of)) for name, sides_of in
                   (("One", (0.1, 0.01)), ("Two", (0.1, 0.01)), ("Three", (0.01, 0.1))))),
            *(Expected(severity="note", stem="Keys.wav", songs=(name,)) for name in ("One", "Two", "Three")),
        ),
        clean("a drum kit leaning to the hi-hat", of(pair("Drums.wav", 0.1, 0.06))),
        clean("timecode on one side, its crosstalk on the other", of(pair("LTC.wav", 0.3, 0.001))),
        clean(
            "one side silent: silent-channel says it", of(pair("Keys.wav", 0.1, 0.00001, 0.0, **HALF_SILENT))
        ),
        clean("quiet click left, timecode right", of(split(Role.CLICK, Role.TIMECODE))),
        clean("a mono file", of(stem("Bass.wav", channels=1))),
        at_limit("11.99 dB", of(stem("Keys.wav", stereo={"imbalance_db": -11.99}))),
        past_limit(
            "12 dB",
            of(stem("Keys.wav", stereo={"imbalance_db": -12.0})),
            Expected(stem="Keys.wav", value=12.0),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize(
    ("correlation", "loss_db"), [(-0.9, 13.01), (-0.95, 16.02), (-0.99, 23.01), (-0.999, 33.01)]
)
def test_mono_loses_what_the_formula_says(correlation: float, loss_db: float):
    """Worked by hand: two equal sides keep (1 + r)/2 of their energy in the mid: 0.05 is −13.01 dB."""
    (found,) = findings("opposite-polarity", of(pair("Pad.wav", correlation=correlation)))
    assert found.measured["mono_loss_db"] == pytest.approx(loss_db, abs=0.01)


@pytest.mark.parametrize("rule_id", list(CASES))
def test_swapping_the_sides_changes_no_verdict(rule_id: str):
    for left, right, correlation in [
        (0.1, 0.1, -0.95),
        (0.1, 0.02, -0.95),
        (0.1, 0.01, 0.4),
        (0.1, 0.1, 1.0),
    ]:
        found = [
            findings(rule_id, of(pair("Pad.wav", *levels, correlation)))
            for levels in ((left, right), (right, left))
        ]
        assert [f.value for f in found[0]] == [f.value for f in found[1]]


def test_the_mid_at_its_bound_is_still_cancelled():
    evidence = of(stem("Pad.wav", stereo={"correlation": -0.95, "mid_side_db": -6.0}))
    assert len(findings("opposite-polarity", evidence)) == 1


def test_identical_sides_have_no_finite_difference():
    (found,) = findings("dual-mono", of(pair("Pad.wav", correlation=1.0)))
    assert (found.value, found.limit) == (None, None)


def test_a_perfect_inversion_gives_no_infinite_number():
    (found,) = findings("opposite-polarity", of(pair("Pad.wav", correlation=-1.0)))
    assert found.measured["mono_loss_db"] is None


@pytest.mark.parametrize("rule_id", list(CASES))
def test_mono_silent_and_split_files_do_not_raise_the_question(rule_id: str):
    evidence = of(
        stem("Bass.wav", channels=1),
        stem("Keys.wav", silent=True),
        split(Role.CLICK, Role.TIMECODE),
        pair("Pad.wav", **HALF_SILENT),
        stem("Choir.wav", channels=3),
        stem("Piano.wav"),
    )
    answer = audit_with(rule_id, evidence)
    assert list(answer.all_findings()) == []
    assert answer.not_applicable == {rule_id: 5}


@pytest.mark.parametrize(
    ("here", "elsewhere", "told"),
    [
        (-0.5, (0.5, 0.6, 0.4), True),  # strings in a hall, one side of one song flipped
        (-0.3, (0.3, 0.9, 0.9), True),
        (-0.29, (0.5, 0.6, 0.4), False),
        (-0.35, (0.9, 0.9, 0.9), False),  # turned over it would not sound as there: another patch
        (-0.69, (0.9, 0.9, 0.9), False),
        (-0.71, (0.9, 0.9, 0.9), True),
        (-0.5, (0.29, 0.6, 0.9), False),  # one other song has them nearly as wide
        (-0.5, (0.5, 0.6), False),  # two songs are no habit
        (-0.5, (0.5, 0.6, -0.4), False),
    ],
)
def test_a_wide_sound_with_one_side_flipped_is_told_by_the_other_songs(
    here: float, elsewhere: tuple[float, ...], told: bool
):
    others = [song(f"Other {n}", pair("Strings.wav", correlation=value)) for n, value in enumerate(elsewhere)]
    evidence = show(song("Night Ferry", pair("Strings.wav", correlation=here)), *others)
    found = [one for one in findings("opposite-polarity", evidence) if one.songs == ("Night Ferry",)]
    assert [(one.stem, one.severity.value) for one in found] == ([("Strings.wav", "warning")] if told else [])


def test_effects_and_a_faint_side_are_not_compared_with_other_songs():
    for file, right in (("FX.wav", 0.1), ("Strings.wav", 0.03)):
        others = [song(f"Other {n}", pair(file, correlation=0.8)) for n in range(3)]
        evidence = show(song("Night Ferry", pair(file, 0.1, right, -0.5)), *others)
        assert not findings("opposite-polarity", evidence)


STRINGS = "Strings.wav"


@pytest.mark.parametrize(
    ("one_more", "told"),
    [
        ([pair(STRINGS, correlation=0.5)], True),
        ([pair(STRINGS, correlation=0.5), pair("Strings 2.wav", correlation=0.2)], False),  # one is as wide
        (
            [pair(STRINGS, correlation=0.5), pair("Pad.wav", correlation=-0.4)],
            True,
        ),  # a pad is another sound
        ([pair("Pad.wav", correlation=0.5)], False),  # nor is a song with a pad one with strings
        ([stem(STRINGS, silent=True)], False),  # nothing was heard of these
        ([stem(STRINGS, silent=True), pair("Strings 2.wav", correlation=0.5)], True),
        ([stem(STRINGS, channels=1)], False),
    ],
)
def test_who_says_that_a_wide_sound_has_one_side_flipped(one_more: list[StemEvidence], told: bool):
    """Three other songs are needed in which every such stem sounds otherwise; two do in any case."""
    others = [song(f"Other {n}", pair(STRINGS, correlation=0.6)) for n in range(2)]
    here = song("Night Ferry", pair(STRINGS, correlation=-0.5))
    found = findings("opposite-polarity", show(here, *others, song("Salt Road", *one_more)))
    assert [one.songs for one in found if one.stem == STRINGS] == ([("Night Ferry",)] if told else [])
