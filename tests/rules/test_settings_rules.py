"""Rules on the settings themselves."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.evidence import IdleWaiver, ShowEvidence
from audit.settings.model import ShowSettings, Waiver
from tests.evidence import show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

LINE_12 = Waiver(rule="cut-tail", song="Ferry*", stem="Pad.wav", reason="ends on a chord", line=12)
OLD = Waiver(rule="dropout", reason="played by ear", until=date(2026, 6, 30))


def waived(*idle: IdleWaiver, waivers: tuple[Waiver, ...]) -> ShowEvidence:
    night = show(song("Night Ferry", stem("Bass.wav")))
    return replace(night, settings=ShowSettings(source="show.toml", waivers=waivers), idle_waivers=idle)


CASES: dict[str, tuple[Case, ...]] = {
    "idle-waiver": (
        planted(
            "a name that is spelt otherwise",
            waived(IdleWaiver(waiver=LINE_12, over=False), waivers=(LINE_12,)),
            Expected(
                says=("cut-tail", "“Ferry*”", "“Pad.wav”", "show.toml, line 12", "ends on a chord"),
                facts={"rule": "cut-tail", "over": False},
            ),
        ),
        planted(
            "a waiver that has run out",
            waived(IdleWaiver(waiver=OLD, over=True), waivers=(OLD,)),
            Expected(says=("ended on 2026-06-30", "every song"), advises=("another last day",)),
        ),
        clean("no waivers", show(song("Night Ferry", stem("Bass.wav")))),
        at_limit("a waiver that is needed", waived(waivers=(LINE_12,))),
        past_limit(
            "one of two is not needed",
            waived(IdleWaiver(waiver=OLD, over=False), waivers=(LINE_12, OLD)),
            Expected(says=("dropout", "fits no finding")),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)
