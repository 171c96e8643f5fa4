"""Rules on the set list."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings.model import SetEntry, SetList
from audit.settings.order import running_order
from tests.evidence import mix, show, song, stem
from tests.rules.asked import asked, of_song
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def at(name: str, lufs: float = -16.0, minutes: float = 1.0) -> SongEvidence:
    made = song(name, stem("Bass.wav", seconds=60.0 * minutes), mix=mix(loudness={"integrated_lufs": lufs}))
    return replace(made, song=replace(made.song, title=name.partition(" - ")[2] or name))


def tonight(*halves: tuple[str, ...], songs: tuple[SongEvidence, ...], **more: Any) -> ShowEvidence:
    entries = tuple(tuple(SetEntry(name=name, line=7) for name in half) for half in halves)
    night = asked(*songs)
    order = running_order(
        SetList(name="Tonight", halves=entries, **more), [(each.name, each.names) for each in night.songs]
    )
    return replace(night, order=order, orders=(order,))


LOW, FERRY, WEATHER = at("01 - Low Tide"), at("02 - Night Ferry"), at("03 - Slow Weather")
THREE = (LOW, FERRY, WEATHER)
STEPS = (at("A", -16.0), at("B", -22.5), at("C", -9.0))

CASES: dict[str, tuple[Case, ...]] = {
    "set-list-missing": (
        planted(
            "a song that is not here",
            tonight(("Low Tide", "Paper Moon"), songs=THREE),
            Expected(says=("“Paper Moon”", "“Tonight”", "show.toml, line 7"), facts={"nearest": None}),
        ),
        planted(
            "a slip of the pen, twice, and another",
            tonight(("Night Fery", "Low Tide", "Night Fery"), ("Gone",), songs=THREE),
            Expected(says=("Night Fery", "did it mean “02 - Night Ferry”?")), Expected(says=("“Gone”",)),
        ),
        planted(
            "the rest of the name was left out",
            tonight(("Weather", "Tide Low"), songs=THREE),
            Expected(says=("“Weather”", "did it mean “03 - Slow Weather”?")),
            Expected(says=("“Tide Low”", "did it mean “01 - Low Tide”?")),
        ),
        planted(
            "so much was left out that it may be two",
            tonight(("Intro",), songs=(at("01 - First Intro"), at("09 - Last Intro"))),
            Expected(facts={"nearest": None}),
        ),
        planted(
            "none was chosen: every set list is asked",
            replace(tonight(("Gone",), songs=THREE), order=None), Expected(says=("“Gone”",)),
        ),
        planted(
            "a name that two songs share",
            tonight(("Intro", "09 - Intro"), songs=(at("01 - Intro"), at("09 - Intro"))),
            Expected(severity="warning", songs=("01 - Intro", "09 - Intro"),
                     says=("“01 - Intro” or “09 - Intro”", "line 7"), advises=("with its number",)),
        ),
        clean("other separators, letter case and a number that counts the list",
              tonight(("low_tide", "NIGHT-FERRY", "3) Slow  Weather", "11 - Low Tide"), songs=THREE)),
        clean("a full name goes before a title", tonight(("Intro",), songs=(at("Intro"), at("09 - Intro")))),
        clean("all are here", tonight(("Low Tide", "night ferry"), songs=THREE)),
        clean("no set list", show(*THREE)),
        at_limit("an alias", tonight(("Ferry",), songs=(of_song(FERRY, aliases=("Ferry",)),))),
        past_limit("no alias", tonight(("Ferry",), songs=(FERRY,)), Expected(says=("“Ferry”",))),
    ),
    "loudness-step": (
        planted(
            "quieter by 6.5 LU, then louder by 13.5",
            tonight(("A", "B", "C"), songs=STEPS),
            Expected(
                songs=("B", "C", "A"), value=13.5,
                says=("C follows B", "13.5 LU louder", "1 other pair", "largest step is 13.5 LU, from B "
                "to C"),
            ),
        ),
        planted(
            "one step, and a worse one in another order",
            tonight(("B", "A", "C"), songs=STEPS),
            Expected(songs=("A", "C", "B"), value=7.0, says=("C follows A", "7.0 LU louder", "from B to C")),
        ),
        planted(
            "quieter",
            tonight(("A", "B"), songs=STEPS),
            Expected(songs=("A", "B"), value=-6.5, says=("6.5 LU quieter", "13.5 LU, from B to C")),
        ),
        clean("alike", tonight(("Low Tide", "Night Ferry"), songs=THREE)),
        clean("no set list", show(*STEPS)),
        clean("an interval lies between them", tonight(("A",), ("B",), songs=STEPS)),
        clean("the settings want it so", tonight(
            ("A", "B"), songs=(of_song(STEPS[0], loudness_lufs=-16), of_song(STEPS[1], loudness_lufs=-22)))),
        at_limit("6 LU", tonight(("A", "D"), songs=(STEPS[0], at("D", -10.0)))),
        past_limit("6.1 LU", tonight(("A", "D"), songs=(STEPS[0], at("D", -9.9))), Expected(value=6.1)),
    ),
    "set-overruns": (
        planted(
            "an hour of music in half an hour",
            tonight(("A", "B"), songs=(at("A", minutes=30), at("B", minutes=30)), starts=1230, ends=1260),
            Expected(value=30.0, says=("needs 1 h 00 min", "20:30 to 21:00", "30 min too long")),
        ),
        planted(
            "changeovers and an interval count, and midnight passes",
            tonight(
                ("A", "B"), ("C",), songs=(at("A"), at("B"), at("C")), changeover_s=60.0, interval_s=600.0,
                starts=23 * 60 + 55, ends=5,
            ),
            Expected(value=4.0, says=("needs 14 min", "23:55 to 00:05")),
        ),
        planted(
            "songs that are not on disk make it the least",
            tonight(("A", "Gone", "Lost"), songs=(at("A", minutes=30),), starts=1230, ends=1250),
            Expected(value=10.0, says=("10 min too long, and 2 songs of unknown length not counted",)),
        ),
        clean("lengths whose sum is off by a hair", tonight(
            ("A", "B", "C"), starts=1200, ends=1201,
            songs=(at("A", minutes=0.1), at("B", minutes=0.2), at("C", minutes=0.7)))),
        clean("time enough", tonight(("Low Tide",), songs=THREE, starts=1200, ends=1260)),
        clean("no end", tonight(("Low Tide",), songs=THREE, starts=1200)),
        at_limit("to the minute", tonight(("Low Tide", "Night Ferry"), songs=THREE, starts=1200, ends=1202)),
        past_limit(
            "a second more",
            tonight(("Low Tide", "Night Ferry"), songs=THREE, starts=1200, ends=1202, changeover_s=1.0),
            Expected(value=1.0),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("name", ["Gone", "Harbour Hall, 3 May"])
def test_a_line_that_is_no_song_has_its_cure(name: str):
    """The name of a hall stands above many a list."""
    (found,) = [
        one
        for one in judge(tonight((name, "A"), songs=STEPS), RULES, version="test").show_findings
        if one.rule == "set-list-missing"
    ]
    assert "put a # before it" in found.advice
