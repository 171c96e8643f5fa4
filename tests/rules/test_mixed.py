"""Stems of different versions in one song."""

from __future__ import annotations

from typing import Any

import pytest

from audit.evidence import StemEvidence
from tests.evidence import show, song, stem
from tests.rules.asked import asked
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def marked(name: str, version: str | None, **facts: Any) -> StemEvidence:
    file = f"{name} {version}.wav" if version else f"{name}.wav"
    return stem(file, facts={"version": version, "version_key": name.casefold(), **facts})


def night(*stems: StemEvidence, **facts: Any) -> Any:
    return show(song("Night Ferry", *stems, facts=facts))


BAND = ("Drums", "Bass", "Keys", "Guitar")
V3 = [marked(name, "v3") for name in BAND]

CASES: dict[str, tuple[Case, ...]] = {
    "mixed-versions": (
        planted(
            "one old stem",
            night(*V3, marked("Strings", "v2")),
            Expected(stem="Strings v2.wav", says=("marked v2", "4 other stems v3")),
        ),
        planted(
            "two old stems and a newer one",
            night(*V3, *(marked(name, "v3") for name in ("Pad", "Choir", "Loop")), marked("Strings", "v2"),
                  marked("Brass", "v2"), marked("Organ", "v4")),
            Expected(says=("Strings v2.wav", "Brass v2.wav", "marked v2")),
            Expected(stem="Organ v4.wav", severity="warning", says=("newer than the rest",)),
        ),
        planted(
            "folders of two versions",
            night(stem("a/v2/Kick.wav"), stem("b/v3/Piano.wav"), version_folders=("Drums/v2", "Keys/v3")),
            Expected(says=("Drums/v2", "Keys/v3")),
        ),
        planted(
            "the newest version is not complete",
            night(stem("v2/Drums.wav"), version="v2", version_folders=("v2",), unfinished_version="v3"),
            Expected(severity="warning", says=("“v3” is newer than “v2”",)),
        ),
        planted(
            "the version before had a stem more",
            night(
                stem("v2/Drums.wav"), version="v2", version_folders=("v2",), dropped_stems=("v1/Lead.wav",)
            ),
            Expected(severity="warning", says=("(v2) has nothing for v1/Lead.wav",)),
        ),
        planted(
            "the settings name another version than one stem has",
            night(marked("Drums", "v2", is_wanted=True), marked("Bass", "v3")),
            Expected(stem="Bass v3.wav", says=("marked v3", "1 other stem v2")),
        ),
        clean("one version", night(*V3)),
        clean("no marks", night(stem("Drums.wav"), stem("Bass.wav"))),
        clean("an older version lies beside its newer one", night(*V3, marked("Bass", "v2"))),
        clean("one stem was bounced again, and the rest bear no mark", night(
            stem("Drums.wav"), stem("Keys.wav"), stem("Guitar.wav"), marked("Bass", "v2"))),
        clean("every stem counts its own versions", night(
            marked("Drums", "v1"), marked("Bass", "v4"), marked("Keys", "v2"), marked("Guitar", "v7"))),
        clean("counted voices", night(*(marked("Vox", f"({n})") for n in (1, 2, 3, 4)))),
        clean("marks of different kinds", night(*V3, marked("Strings", "2026-05-01"))),
        at_limit("only two share a version", night(*V3[:2], marked("Strings", "v2"))),
        at_limit("two thirds share a version", night(*V3, marked("Pad", "v2"), marked("Choir", "v2"))),
        past_limit(
            "three share a version", night(*V3[:3], marked("Strings", "v2")), Expected(stem="Strings v2.wav")
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_settings_without_a_version_change_nothing():
    check("mixed-versions", clean("x", asked(song("Night Ferry", *V3))))
