"""Waivers: what they mark, what they leave alone, and which of them mark nothing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.findings import Finding, Severity, ShowAudit, Verdict
from audit.settings.model import Waiver
from audit.waivers import still_needed, waive
from tests.report.samples import audit_of, finding, healthy


def audit_with(*found: Finding, of_show: tuple[Finding, ...] = ()) -> ShowAudit:
    """Two songs with these findings; those of the show beside them."""
    titles = {"01 - Night Ferry": "Night Ferry", "02 - Tin Roof": "Tin Roof"}
    songs = [replace(song, song=replace(song.song, title=titles[song.name])) for song in map(healthy, titles)]
    return audit_of(*songs, findings=found, show_findings=of_show)


FERRY = finding("cut-tail", "error", "Pad 1.wav", ("01 - Night Ferry",))
ROOF = finding("cut-tail", "error", "Bass.wav", ("02 - Tin Roof",))
BOTH = finding("timecode-overlap", "error", None, ("01 - Night Ferry", "02 - Tin Roof"))


@pytest.mark.parametrize(
    ("waiver", "marked"),
    [
        (Waiver(rule="cut-tail", reason="r"), ["Pad 1.wav", "Bass.wav"]),
        (Waiver(rule="cut-tail", song="night ferry", reason="r"), ["Pad 1.wav"]),
        (Waiver(rule="cut-tail", song="01*", reason="r"), ["Pad 1.wav"]),
        (Waiver(rule="cut-tail", stem="pad ?", reason="r"), ["Pad 1.wav"]),
        (Waiver(rule="cut-tail", stem="Pad", reason="r"), []),
        (Waiver(rule="cut-head", reason="r"), []),
        (Waiver(rule="cut-tail", until=date(2026, 11, 28), reason="r"), ["Pad 1.wav", "Bass.wav"]),
        (Waiver(rule="cut-tail", until=date(2026, 11, 27), reason="r"), []),
    ],
)
def test_what_a_waiver_fits(waiver: Waiver, marked: list[str]):
    audit, idle = waive(audit_with(FERRY, ROOF), (waiver,), date(2026, 11, 28))
    assert [f.stem for f in audit.all_findings() if f.waived] == marked
    assert idle == (() if marked else (waiver,))


def test_waived_findings_stay_and_count_for_nothing():
    whole = audit_with(FERRY, ROOF)
    audit, _ = waive(whole, (Waiver(rule="cut-tail", song="Night Ferry", reason="segue"),), None)
    assert len(list(audit.all_findings())) == 2
    assert audit.songs[0].findings[0].waived == {"reason": "segue", "until": None}
    assert audit.verdict(audit.songs[0]) is Verdict.CLEAR
    assert audit.verdict(audit.songs[1]) is Verdict.ERROR
    assert audit.total(Severity.ERROR) == 1


def test_a_finding_of_two_songs_needs_a_waiver_for_both():
    whole = audit_with(of_show=(BOTH,))
    one, idle = waive(whole, (Waiver(rule="timecode-overlap", song="Night Ferry", reason="r"),), None)
    assert one.show_findings[0].waived is None
    assert len(idle) == 1
    both, idle = waive(whole, (Waiver(rule="timecode-overlap", song="0*", reason="r"),), None)
    assert both.show_findings[0].waived is not None
    assert idle == ()


def test_a_waiver_for_a_stem_fits_no_finding_without_one():
    waiver = Waiver(rule="timecode-overlap", stem="?*", reason="r")
    audit, idle = waive(audit_with(of_show=(BOTH,)), (waiver,), None)
    assert audit.show_findings[0].waived is None
    assert len(idle) == 1


def test_the_first_waiver_gives_the_reason_and_the_second_is_idle():
    first = Waiver(rule="cut-tail", reason="first", until=date(2027, 1, 1))
    second = Waiver(rule="cut-tail", song="Night Ferry", reason="second")
    audit, idle = waive(audit_with(FERRY), (first, second), date(2026, 12, 1))
    assert audit.songs[0].findings[0].waived == {"reason": "first", "until": "2027-01-01"}
    assert idle == (second,)


def test_no_waivers_change_nothing():
    audit = audit_with(FERRY)
    assert waive(audit, (), None) == (audit, ())


JUNE = date(2026, 6, 30)


@pytest.mark.parametrize(
    ("waivers", "needed"),
    [
        ((Waiver(rule="cut-tail", song="Night Ferry", until=JUNE, reason="r"),), [0]),
        ((Waiver(rule="cut-tail", song="Low Tide", until=JUNE, reason="r"),), []),
        ((Waiver(rule="cut-head", until=JUNE, reason="r"),), []),
        # another waiver marks the one fault: the old one is not missed
        ((Waiver(rule="cut-tail", song="Night*", until=JUNE, reason="old"),
          Waiver(rule="cut-tail", reason="new")), []),
    ],
)  # fmt: skip
def test_a_waiver_that_has_run_out_is_needed_where_its_fault_is_open(waivers, needed):
    audit, idle = waive(audit_with(FERRY), waivers, date(2026, 7, 1))
    assert [waivers.index(waiver) for waiver in still_needed(audit, idle)] == needed
