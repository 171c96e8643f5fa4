"""What the report says of stems whose timing nobody can tell from the files."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from audit.evidence import StemEvidence
from audit.facts import Role
from audit.report.html.render import to_html
from audit.report.terminal import print_report
from audit.report.untimed import timing_unknown, untimed, without_click
from audit.results import Alignment, Drift, Pulse
from tests.evidence import part, stem
from tests.report.samples import audit_of
from tests.rules.test_alignment import CLICK, band

NOTHING = Alignment(phase=None, drift=None, wrong_rate=None)
SLOPE = Drift(
    ppm=0.0, low_ppm=-5.0, high_ppm=5.0, first_half_ppm=0.0, second_half_ppm=0.0, slide_ms=0.0, onsets=99
)


def told_by(file: str, **evidence: object) -> StemEvidence:
    return replace(stem(file), alignment=replace(NOTHING, **evidence))


def audit(*odd: StemEvidence, click=CLICK, songs: tuple[str, ...] = ("Night Ferry",)):
    return audit_of(
        *(replace(made, stems=(*made.stems, *odd), click=click) for made in (band(name) for name in songs))
    )


def test_nothing_is_said_where_every_stem_was_judged():
    made = audit(told_by("Pad.wav", drift=SLOPE))
    assert untimed(made) == []
    assert timing_unknown(made, 8) == ""


@pytest.mark.parametrize(
    "odd",
    [
        told_by("Pad.wav"),
        told_by("Pad.wav", pulse=Pulse(per_beat=1.3, fit=0.2, on_click=0.2, onsets=30)),
        stem("Pad.wav"),
    ],
)
def test_a_stem_without_strokes_and_chords_is_named(odd: StemEvidence):
    made = audit(odd)
    assert untimed(made) == [("Night Ferry", "Pad.wav")]
    assert timing_unknown(made, 8) == (
        "Not checked: the timing of 1 of 5 stems under a click, whose strokes and chords do not tell it: "
        "Pad.wav."
    )


@pytest.mark.parametrize(
    "odd", [stem("Guide.wav"), stem("LTC.wav"), stem("Pad.wav", parts=[part(Role.PAD, silent=True)])]
)
def test_crew_stems_and_silent_ones_are_not_asked(odd: StemEvidence):
    assert untimed(audit(odd)) == []


def test_songs_without_click_are_not_asked():
    assert untimed(audit(told_by("Pad.wav"), click=None)) == []
    short = replace(CLICK, beats_s=CLICK.beats_s[:15])
    assert untimed(audit(told_by("Pad.wav"), click=short)) == []
    assert untimed(audit(told_by("Pad.wav"), click=replace(CLICK, beats_s=CLICK.beats_s[:16])))


def test_a_stem_of_many_songs_is_named_once():
    made = audit(told_by("Pad.wav"), songs=("A", "B", "C"))
    assert timing_unknown(made, 8).endswith("do not tell it: Pad.wav (3 songs).")
    one = audit_of(*made.evidence.songs[:1], band("Other"))
    assert timing_unknown(one, 8).endswith("do not tell it: Pad.wav (A).")


def test_of_many_names_the_first_ones_stand():
    made = audit(*(told_by(f"Pad {number}.wav") for number in range(5)))
    assert timing_unknown(made, 3).endswith("Pad 0.wav, Pad 1.wav, Pad 2.wav and 2 more.")
    assert timing_unknown(made, None).endswith("Pad 3.wav and Pad 4.wav.")


def said(made, **options) -> str:
    paper = io.StringIO()
    print_report(made, Console(file=paper, width=110, no_color=True), **options)
    return paper.getvalue()


def test_it_stands_in_the_report_and_on_the_page_and_steers_neither():
    made = audit(told_by("[red]<b>Pad.wav"))
    assert "the timing of 1 of 5 stems" in said(made)
    assert "[red]<b>Pad.wav" in said(made)
    assert "the timing of" not in said(made, asked="3 of 87 rules")
    page = to_html(made, made="1 May 2027")
    assert "the timing of 1 of 5 stems" in page
    assert "<b>Pad.wav" not in page


def test_a_song_of_music_without_the_click_that_others_have_is_named():
    """Its click may have been left out of the folder; a show that never has one plays without."""
    made = band("Night Ferry")
    silent = replace(made, click=None, stems=tuple(one for one in made.stems if one.name != "Click.wav"))
    others = [replace(band(name), click=CLICK) for name in ("Tin Roof", "Long Quay")]
    line = "Not checked: whether the stems are in time, as there is no click: Night Ferry."
    assert without_click(audit_of(silent, *others), 8) == line
    assert without_click(audit_of(*others), 8) == ""
    assert without_click(audit_of(silent), 8) == ""
    # A click that is there and not found is a fault of its own, and a song of timecode alone has no time.
    assert without_click(audit_of(replace(made, click=None), *others), 8) == ""
    bare = replace(silent, stems=(stem("Timecode.wav", role=Role.TIMECODE),))
    assert without_click(audit_of(bare, *others), 8) == ""
    many = [replace(silent, song=replace(silent.song, name=f"Song {number}")) for number in range(4)]
    assert without_click(audit_of(*many, *others), 2).endswith("Song 0, Song 1 and 2 more.")
