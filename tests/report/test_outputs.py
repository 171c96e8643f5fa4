"""The outputs of the patch over the whole show."""

from __future__ import annotations

import io
from dataclasses import replace

from rich.console import Console

from audit.facts import Role
from audit.report.html.render import to_html
from audit.report.outputs import output_lines
from audit.report.terminal import print_report
from audit.results import OutputSum
from audit.settings.model import Output, ShowSettings
from tests.evidence import part, song, stem
from tests.report.samples import audit_of, clean_audit

PATCH = (
    Output(out=(1, 2), stems=("bass", "keys"), name="Band"),
    Output(out=(3,), stems=("click",), heard_by="crew"),
    Output(out=(4,), stems=("choir",), songs=("Ebb",)),
)


def reaching(name: str, *files: str, **outputs: float):
    sums = tuple(
        OutputSum(
            output=int(key[1:]),
            peaks=replace(part(Role.BASS).measures.peaks, true_dbtp=level),
            from_stems=files,
        )
        for key, level in outputs.items()
    )
    return replace(song(name, *(stem(file) for file in files)), outputs=sums)


def patched():
    made = audit_of(
        reaching("Ebb", "Bass.wav", "Click.wav", o1=-6.0, o2=-5.5, o3=-12.0),
        reaching("Flow", "Bass.wav", o1=0.4, o2=-1.0),
    )
    return replace(made, evidence=replace(made.evidence, settings=ShowSettings(outputs=PATCH)))


def test_each_line_tells_who_hears_it_and_how_high_it_reaches_in_which_song():
    found = [
        (line.out, line.name, line.heard_by, line.songs, line.highest, line.in_song, line.over)
        for line in output_lines(patched())
    ]
    assert found == [
        ("1 and 2", "Band", "audience", 2, "+0.4 dBTP", "Flow", True),
        ("3", "", "crew", 1, "−12.0 dBTP", "Ebb", False),
        ("4", "", "audience", 0, "", "", False),
    ]


def test_they_stand_on_the_page_and_with_verbose_on_the_terminal():
    page = to_html(patched())
    assert "<h2>Outputs</h2>" in page
    assert '<span class="error">+0.4 dBTP</span>' in page
    for verbose in (False, True):
        paper = io.StringIO()
        print_report(patched(), Console(file=paper, width=80, no_color=True), verbose=verbose)
        assert ("Heard by" in paper.getvalue()) is verbose
        assert max(map(len, paper.getvalue().splitlines())) <= 80


def test_without_a_patch_there_are_none():
    assert output_lines(clean_audit()) == []
    assert "<h2>Outputs</h2>" not in to_html(clean_audit())
