"""What to fix first."""

from __future__ import annotations

from audit.report.first import URGENCY, fix_first
from tests.evidence import song, stem
from tests.report.samples import audit_of, clean_audit, finding
from tests.rule_ids import FIXED_IDS

A, B, C = "01 Harbour Lights", "02 Copper Weathervane", "03 Slow Escalator"


def audit(*findings, **fields):
    return audit_of(*(song(name, stem("Bass.wav")) for name in (A, B, C)), findings=findings, **fields)


def rules(*findings):
    return [thing.first.rule for thing in fix_first(audit(*findings))]


def test_danger_comes_before_what_stops_a_song_and_that_before_what_spoils_it():
    assert rules(
        finding("dc-offset", "warning", "Bass.wav", (A,)),
        finding("dropout", "error", "Bass.wav", (A,)),
        finding("truncated-file", "error", "Bass.wav", (A,)),
        finding("silent-stem", "error", "Click.wav", (B,)),
        finding("click-bleed", "error", "Bass.wav", (C,)),
    ) == ["click-bleed", "silent-stem", "truncated-file"]


def test_an_error_comes_before_any_warning():
    assert rules(
        finding("click-bleed", "warning", "Bass.wav", (A,)), finding("dropout", "error", "Bass.wav", (B,))
    ) == ["dropout", "click-bleed"]


def test_one_kind_of_fault_is_one_thing_however_often():
    things = fix_first(audit(*(finding("dropout", "error", "Bass.wav", (name,)) for name in (A, B, A))))
    assert [thing.songs for thing in things] == [(A, B)]


def test_the_more_songs_the_sooner():
    assert rules(
        finding("opposite-polarity", "error", "Bass.wav", (A,)),
        finding("dropout", "error", "Bass.wav", (A,)),
        finding("dropout", "error", "Bass.wav", (B,)),
    ) == ["dropout", "opposite-polarity"]


def test_notes_and_waived_faults_are_nothing_to_fix():
    assert (
        rules(
            finding("dual-mono", "note", "Bass.wav", (A,)),
            finding("dropout", "error", "Bass.wav", (A,), waived={"reason": "the record has it"}),
        )
        == []
    )
    assert fix_first(clean_audit()) == []


def test_a_level_that_startles_comes_before_other_warnings():
    others = (
        finding("dc-offset", "warning", "Bass.wav", (B,)),
        finding("timecode-jump", "warning", "Timecode.wav", (B,)),
    )
    for rule in ("song-loudness-outlier", "role-level-outlier", "crew-level-jump"):
        assert rules(*others, finding(rule, "warning", "Bass.wav", (A,), value=12.0))[0] == rule
        assert rules(*others, finding(rule, "warning", "Bass.wav", (A,), value=7.0))[0] == "timecode-jump"
        assert rules(*others, finding(rule, "warning", "Bass.wav", (A,), value=-12.0))[0] == "timecode-jump"


def test_no_rule_is_ranked_twice():
    ranked = [rule for rules in URGENCY for rule in rules]
    assert len(ranked) == len(set(ranked))
    assert set(ranked) <= FIXED_IDS
