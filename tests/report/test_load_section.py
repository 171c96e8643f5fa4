"""What a scan's report says of machines and outputs, where the settings name some and where not."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console

from audit.report.grouping import not_asked
from audit.report.load_section import carried, heaviest
from audit.report.terminal import print_report
from audit.results.load import Confidence, Range, Resource, ResourceUse, SongForecast
from audit.settings.model import Machine, Output, ShowSettings
from tests.report.samples import audit_of, clean_audit, healthy

MACHINE = Machine(name="FOH", machine_class="laptop-8core-nvme")
PATCH = Output(out=(1, 2), stems=("bass",))


def forecast(song: str, used: float, high: float | None = None, machine: str = "FOH") -> SongForecast:
    disk = ResourceUse(
        resource=Resource.DISK, used=Range(low=used, value=used, high=used if high is None else high),
        limit=0.5, capacity=1.0, unit="",
    )  # fmt: skip
    return SongForecast(
        machine=machine, song=song, stems=3, uses=(disk,), confidence=Confidence.HIGH, why="measured",
        frames=256, rate_hz=48000, smallest_buffer_frames=64,
    )  # fmt: skip


def report(audit, width: int = 100, **options) -> str:
    paper = io.StringIO()
    print_report(audit, Console(file=paper, width=width, no_color=True), **options)
    return paper.getvalue()


def loaded(*used: float):
    songs = (
        replace(healthy(f"Song {n}"), forecasts=(forecast(f"Song {n}", share),))
        for n, share in enumerate(used, start=1)
    )
    return audit_of(*songs)


def test_the_heaviest_song_the_scarcest_thing_and_the_verdict_stand_in_a_line():
    [line] = [line for line in report(loaded(0.1, 0.4)).splitlines() if "FOH" in line]
    assert re.split(r"\s{2,}", line.strip()) == [
        "FOH", "Song 2", "disk 80 % of its limit", "all 2 songs fit (sure)",
    ]  # fmt: skip


def test_a_song_that_is_over_is_named_before_one_that_takes_more():
    over, fitting = forecast("A", 1.1), replace(forecast("B", 0.3), stems=9)
    tight = forecast("C", 0.45, 0.6)
    assert heaviest([fitting, tight, over]) is over
    assert heaviest([fitting, tight]) is tight


@pytest.mark.parametrize(
    ("forecasts", "words"),
    [
        ([forecast("A", 0.1)], "fits"),
        ([forecast("A", 0.1), forecast("B", 0.1)], "all 2 songs fit"),
        ([forecast("A", 0.1), forecast("B", 1.1)], "of 2 songs 1 over"),
        ([forecast("A", 0.45, 0.6), forecast("B", 1.1), forecast("C", 0.1)], "of 3 songs 1 over, 1 tight"),
    ],
)
def test_what_a_machine_carries(forecasts, words):
    assert carried(forecasts) == words


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (ShowSettings(), "Not checked: load and outputs, as the settings name no machine and no patch."),
        (ShowSettings(machines=(MACHINE,)), "Not checked: outputs, as the settings name no patch."),
        (ShowSettings(outputs=(PATCH,)), "Not checked: load, as the settings name no machine."),
        (ShowSettings(machines=(MACHINE,), outputs=(PATCH,)), ""),
    ],
)
def test_what_no_rule_could_ask_is_said_in_one_line(settings, said):
    audit = clean_audit()
    audit = replace(audit, evidence=replace(audit.evidence, settings=settings))
    assert not_asked(audit) == said
    assert report(audit).count("Not checked") == bool(said)
    assert "Not checked" not in report(audit, asked="3 of 87 rules")


def test_without_machines_there_is_no_section():
    assert "Load on" not in report(clean_audit())


def test_it_fits_eighty_columns():
    long = "01 - A Song With A Name That Goes On And On Until The Interval"
    audit = audit_of(
        replace(healthy(long), forecasts=(forecast(long, 1.2, machine="Stage left, the old one"),))
    )
    assert max(map(len, report(audit, width=80).splitlines())) <= 80
