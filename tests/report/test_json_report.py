"""The JSON report against rules.md, section "JSON report": key by key, type by type."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest

from audit.findings import Severity, Unmeasured
from audit.report.json_report import to_json
from audit.report.words import visible
from tests.evidence import mix, song, stem
from tests.report.samples import (
    CLEAN_SONGS,
    HOSTILE,
    audit_of,
    clean_audit,
    faulty_audit,
    finding,
    hostile_audit,
    split_stem,
)

NUMBER = (int, float)
MAYBE = type(None)

# rules.md, "JSON report": what may stand behind each key that is shown there.
REPORT: dict[str, Any] = {
    "schema": int, "tool": dict, "show": dict, "songs": list, "show_findings": list, "passed_over": list,
    "summary": dict,
}  # fmt: skip
TOOL = {"name": str, "version": str}
SHOW = {"name": str, "folder": str, "sample_rate_hz": (int, MAYBE), "bits": (int, MAYBE)}
SONG = {
    "name": str, "folder": str, "verdict": str, "duration_s": NUMBER, "click": MAYBE, "timecode": MAYBE,
    "loudness": dict, "load": MAYBE, "stems": list, "findings": list, "unmeasured": list,
}  # fmt: skip
LOUDNESS = {
    "integrated_lufs": (*NUMBER, MAYBE), "true_peak_dbtp": (*NUMBER, MAYBE),
    "loudness_range_lu": (*NUMBER, MAYBE), "from_stems": list, "left_out": list,
}  # fmt: skip
STEM = {
    "file": str, "role": str, "channel_roles": list, "audience": bool, "format": dict, "measures": dict,
    "alignment": MAYBE,
}  # fmt: skip
FORMAT = {
    "container": (str, MAYBE), "encoding": (str, MAYBE), "sample_rate_hz": (int, MAYBE),
    "channels": (int, MAYBE), "frames": (int, MAYBE),
}  # fmt: skip
NUMBERS = (
    "integrated_lufs", "max_momentary_lufs", "max_short_term_lufs", "loudness_range_lu", "true_peak_dbtp",
    "sample_peak_dbfs", "rms_dbfs", "dc_offset", "offset_ms", "drift_ppm",
)  # fmt: skip
MEASURES = dict.fromkeys(NUMBERS, (*NUMBER, MAYBE))
FINDING = {
    "rule": str, "severity": str, "songs": list, "stem": (str, MAYBE), "at_s": (*NUMBER, MAYBE),
    "sample": (int, MAYBE), "value": (*NUMBER, MAYBE), "limit": (*NUMBER, MAYBE), "unit": (str, MAYBE),
    "confidence": NUMBER, "message": str, "advice": str, "waived": (dict, MAYBE), "measured": dict,
}  # fmt: skip
UNMEASURED = {"rule": str, "stem": (str, MAYBE), "reason": str}
SUMMARY = {
    "songs": int, "stems": int, "errors": int, "warnings": int, "notes": int, "unmeasured": int,
    "incomplete": bool, "not_applicable": dict,
}  # fmt: skip


def refuse(word: str) -> Any:
    raise AssertionError(f"{word} is not JSON")


def report_of(audit, **asked) -> Any:
    text = to_json(audit, **asked)
    assert text.endswith("}\n")
    text.encode("utf-8")
    return json.loads(text, parse_constant=refuse)


def check(part: dict[str, Any], shape: dict[str, Any]) -> None:
    for key, kind in shape.items():
        assert key in part, key
        assert isinstance(part[key], kind), (key, part[key])
        assert kind is bool or not isinstance(part[key], bool), key


@pytest.mark.parametrize("make", [clean_audit, faulty_audit, hostile_audit])
def test_every_key_of_the_schema_is_there_with_its_type(make):
    report = report_of(make())
    check(report, REPORT)
    check(report["tool"], TOOL)
    check(report["show"], SHOW)
    check(report["summary"], SUMMARY)
    assert report["schema"] == 1
    assert report["tool"]["name"] == "stemaudit"
    assert report["songs"]
    for song_ in report["songs"]:
        check(song_, SONG)
        check(song_["loudness"], LOUDNESS)
        assert song_["verdict"] in {"error", "incomplete", "warning", "clear"}
        assert song_["stems"]
        for stem_ in song_["stems"]:
            check(stem_, STEM)
            check(stem_["format"], FORMAT)
            check(stem_["measures"], MEASURES)
        for entry in song_["unmeasured"]:
            check(entry, UNMEASURED)
    for found in [f for s in report["songs"] for f in s["findings"]] + report["show_findings"]:
        check(found, FINDING)
        assert all(isinstance(name, str) for name in found["songs"])
    for entry in report["passed_over"]:
        check(entry, {"path": str, "reason": str, "stray": bool, "unread": bool, "holds_audio": bool})


def test_values_of_a_healthy_stem_stand_where_a_script_looks_for_them():
    report = report_of(clean_audit())
    first = report["songs"][0]
    assert first["name"] == CLEAN_SONGS[0]
    assert first["verdict"] == "clear"
    assert first["duration_s"] == 60.0
    assert first["loudness"]["integrated_lufs"] == -16.1
    assert first["loudness"]["from_stems"] == ["Drums.wav", "Bass.wav", "Keys.wav"]
    bass = next(stem_ for stem_ in first["stems"] if stem_["file"] == "Bass.wav")
    assert bass["role"] == "bass"
    assert bass["channel_roles"] == ["bass"]
    assert bass["audience"] is True
    assert bass["format"]["encoding"] == "PCM_24"
    assert bass["measures"]["integrated_lufs"] == -18.0
    assert bass["measures"]["true_peak_dbtp"] == -5.8
    assert bass["measures"]["silent"] is False
    assert bass["parts"] == []


def test_a_split_stem_shows_each_part_and_one_role_a_channel():
    report = report_of(audit_of(song("Night Ferry", split_stem())))
    (stem_,) = report["songs"][0]["stems"]
    assert stem_["channel_roles"] == ["click", "timecode"]
    assert stem_["audience"] is False
    assert [(p["role"], p["channels"]) for p in stem_["parts"]] == [("click", [0]), ("timecode", [1])]
    for part in stem_["parts"]:
        check(part["measures"], MEASURES)
    assert stem_["measures"]["tick_share"] == 1.0  # no audience part: the first one's values


def test_silence_is_null_beside_silent():
    quiet = stem("Pad.wav", silent=True)
    found = finding(
        "silent-stem", "error", "Pad.wav", ("Night Ferry",), value=-math.inf, limit=-80.0, unit="dBFS"
    )
    report = report_of(audit_of(song("Night Ferry", quiet), findings=(found,)))
    measures = report["songs"][0]["stems"][0]["measures"]
    assert measures["sample_peak_dbfs"] is None
    assert measures["integrated_lufs"] is None
    assert measures["channel_peaks_dbfs"] == [None, None]
    assert measures["silent"] is True
    assert report["songs"][0]["stems"][0]["silent"] is True
    (said,) = report["songs"][0]["findings"]
    assert said["value"] is None
    assert said["silent"] is True
    assert said["limit"] == -80.0


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
def test_no_number_that_json_lacks_comes_out(odd):
    found = finding(
        "dropout", "error", "A.wav", ("S",), value=odd, limit=odd, measured={"x": odd, "y": (odd, 1)}
    )
    report = report_of(audit_of(song("S", stem("A.wav", levels={"dc_offset": odd})), findings=(found,)))
    (said,) = report["songs"][0]["findings"]
    assert (said["value"], said["limit"], said["measured"]) == (None, None, {"x": None, "y": [None, 1]})


def test_an_unreadable_stem_keeps_every_key_with_null():
    report = report_of(audit_of(song("S", stem("Broken.wav", unreadable=True, failure="no audio chunk"))))
    (stem_,) = report["songs"][0]["stems"]
    assert stem_["failure"] == "no audio chunk"
    assert set(stem_["format"].values()) == {None}
    assert set(stem_["measures"].values()) == {None}


def test_a_song_without_audience_stems_has_no_loudness():
    report = report_of(audit_of(song("S", stem("Click.wav"))))
    assert report["songs"][0]["loudness"]["integrated_lufs"] is None
    assert report["songs"][0]["loudness"]["from_stems"] == []


def test_what_the_mix_left_out_is_listed_with_its_reason():
    heard = mix(from_stems=("Bass.wav",), left_out=(("Full.wav", "a full mix beside its parts"),))
    report = report_of(audit_of(song("S", stem("Bass.wav"), mix=heard)))
    assert report["songs"][0]["loudness"]["left_out"] == [
        {"stem": "Full.wav", "reason": "a full mix beside its parts"}
    ]


def test_findings_stand_by_scope_and_the_summary_counts_them():
    audit = faulty_audit()
    report = report_of(audit)
    summary = report["summary"]
    assert (summary["songs"], summary["stems"]) == (4, 18)
    assert (summary["errors"], summary["warnings"], summary["notes"]) == (3, 5, 3)
    assert summary["unmeasured"] == 3
    assert summary["incomplete"] is True
    assert summary["not_applicable"] == {"length-mismatch": 2}
    assert [f["rule"] for f in report["show_findings"]] == ["set-list-missing", "stray-file"]
    assert report["songs"][1]["findings"][0]["songs"] == [CLEAN_SONGS[1]]
    # A show finding that names a song counts for that song's verdict.
    assert report["songs"][0]["verdict"] == "warning"
    assert [s["verdict"] for s in report["songs"]] == ["warning", "error", "clear", "error"]


def test_a_waived_finding_stays_and_counts_for_nothing():
    waived = finding(
        "dropout", "error", "A.wav", ("S",), waived={"reason": "meant so", "until": "2031-01-01"}
    )
    report = report_of(audit_of(song("S", stem("A.wav")), findings=(waived,)))
    assert report["songs"][0]["findings"][0]["waived"] == {"reason": "meant so", "until": "2031-01-01"}
    assert report["songs"][0]["verdict"] == "clear"
    assert (report["summary"]["errors"], report["summary"]["waived"]) == (0, 1)


def test_full_precision_and_two_runs_alike():
    third = 1 / 3
    audit = audit_of(song("S", stem("A.wav", levels={"dc_offset": third})))
    assert report_of(audit)["songs"][0]["stems"][0]["measures"]["dc_offset"] == third
    assert to_json(audit) == to_json(audit)


def test_hostile_names_survive_the_round_trip():
    report = report_of(hostile_audit())
    names = [song_["stems"][0]["file"] for song_ in report["songs"]]
    assert names == [name.replace("\udce9", r"\xe9") for name in HOSTILE]


def test_words_for_people_show_what_hides_in_a_name():
    """Whoever prints a message is not steered by a file's name; the name itself is the disk's."""
    report = report_of(hostile_audit())
    words = [
        words
        for song_ in report["songs"]
        for finding_ in song_["findings"]
        for words in (finding_["message"], finding_["advice"])
    ]
    words += [gap["reason"] for song_ in report["songs"] for gap in song_["unmeasured"]]
    words += [finding_["message"] for finding_ in report["show_findings"]]
    words += [entry["reason"] for entry in report["passed_over"]]
    assert [one for one in words if visible(one) != one] == []
    assert f"a hole in {visible(HOSTILE[1])}" in words
    stems = [finding_["stem"] for song_ in report["songs"] for finding_ in song_["findings"]]
    assert HOSTILE[1] in stems
    assert visible(HOSTILE[1]) != HOSTILE[1]


def test_what_was_asked_stands_in_the_report():
    assert report_of(clean_audit())["asked"] == {"rules": None, "songs": None}
    asked = report_of(clean_audit(), asked_rules=("dropout",), asked_songs=("Night Ferry",))["asked"]
    assert asked == {"rules": ["dropout"], "songs": ["Night Ferry"]}


def test_an_unanswered_song_question_has_no_stem():
    gap = Unmeasured(rule="mix-beside-parts", stem=None, reason="took too long")
    audit = audit_of(song("S", stem("A.wav")), unmeasured={"S": (gap,)})
    report = report_of(audit)
    assert report["songs"][0]["unmeasured"] == [
        {"rule": "mix-beside-parts", "stem": None, "reason": "took too long"}
    ]
    assert report["songs"][0]["verdict"] == "incomplete"
    assert audit.total(Severity.ERROR) == 0


def test_no_majority_is_null():
    assert report_of(replace(clean_audit(), sample_rate_hz=None, bits=None))["show"]["bits"] is None
