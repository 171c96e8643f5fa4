"""Rules on the settings themselves."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.evidence import IdleWaiver, ShowEvidence
from audit.facts import Role
from audit.settings.model import Gain, Output, RolePattern, ShowSettings, SongSettings, Waiver
from tests.evidence import show, song, stem
from tests.rules.asked import asked, of_song
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

LINE_12 = Waiver(rule="cut-tail", song="Ferry*", stem="Pad.wav", reason="ends on a chord", line=12)
OLD = Waiver(rule="dropout", reason="played by ear", until=date(2026, 6, 30))


def waived(*idle: IdleWaiver, waivers: tuple[Waiver, ...]) -> ShowEvidence:
    night = show(song("Night Ferry", stem("Bass.wav")))
    return replace(night, settings=ShowSettings(source="show.toml", waivers=waivers), idle_waivers=idle)


FERRY = song("Night Ferry", stem("Bass.wav"))
AS_FOLDER = song("Night Ferry", stem("v3/Bass.wav"), facts={"version_folders": ("v3",)})
AS_MARK = song("Night Ferry", stem("Bass v3.wav", facts={"is_wanted": True}))
GONE = of_song(FERRY, version="v7", line=9)
VERSION_GONE = replace(
    show(GONE),
    settings=ShowSettings(source="show.toml", songs=(GONE.settings, SongSettings(name="Paper Moon"))),
)

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
            Expected(says=("ended on 2026-06-30", "every song", "fault is gone"), advises=("Take it out",)),
        ),
        planted(
            "a waiver that has run out, and its fault is still there",
            waived(IdleWaiver(waiver=OLD, over=True, needed=True), waivers=(OLD,)),
            Expected(severity="warning", says=("ended on 2026-06-30", "counts again", "“played by ear”"),
                     advises=("another last day",), facts={"needed": True}),
        ),
        clean("no waivers", show(song("Night Ferry", stem("Bass.wav")))),
        at_limit("a waiver that is needed", waived(waivers=(LINE_12,))),
        past_limit(
            "one of two is not needed",
            waived(IdleWaiver(waiver=OLD, over=False), waivers=(LINE_12, OLD)),
            Expected(says=("dropout", "fits no finding")),
        ),
    ),
    "idle-setting": (
        planted(
            "a song's name that is not spelt right",
            asked(FERRY, songs=(SongSettings(name="Night Fery", line=4),)),
            Expected(says=("songs.name “Night Fery”", "show.toml, line 4", "did it mean “Night Ferry”?")),
        ),
        planted(
            "a version that is not there, and a song that is elsewhere",
            VERSION_GONE,
            Expected(says=("songs.version “v7”", "line 9")),
            Expected(says=("songs.name “Paper Moon”",), facts={"nearest": None}),
        ),
        planted(
            "patterns that fit nothing",
            asked(
                FERRY,
                roles=(RolePattern(pattern="Tambo*", roles=(Role.PERCUSSION,), line=2),),
                outputs=(Output(out=(1, 2), stems=("bass", "Cello*"), songs=("Low*",), line=5),),
                gains=(Gain(gain_db=-3.0, stems=("choir",), line=8),),
            ),
            Expected(says=("roles “Tambo*”",)), Expected(says=("outputs.songs “Low*”",)),
            Expected(says=("outputs.stems “Cello*”",)), Expected(says=("gains.stems “choir”", "line 8")),
        ),
        clean("no settings", show(FERRY)),
        clean("all of it is there", asked(
            of_song(FERRY), roles=(RolePattern(pattern="Bass*", roles=(Role.SYNTH,)),),
            outputs=(Output(out=(1, 2), stems=("bass",), songs=("Night*",)),), gains=(Gain(gain_db=-3.0),))),
        clean("only some songs were scanned", replace(
            asked(FERRY, songs=(SongSettings(name="Low Tide"),)), partial=True)),
        at_limit("a version folder", asked(of_song(AS_FOLDER, version="V3"))),
        at_limit("a version mark", asked(of_song(AS_MARK, version="v3"))),
        past_limit("another version", asked(of_song(AS_FOLDER, version="v2")), Expected(says=("“v2”",))),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)
