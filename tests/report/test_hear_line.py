"""The command under a fault: it is there where there is a place to hear, fits, and survives a shell."""

from __future__ import annotations

import io
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from audit.findings import ShowAudit
from audit.report.enlarged import clips_of
from audit.report.terminal import print_report
from tests import evidence
from tests.evidence import song
from tests.report.samples import audit_of, finding, healthy


def printed(
    audit: ShowAudit, *, width: int = 80, encoding: str = "utf-8", verbose: bool = False
) -> list[str]:
    paper = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict")
    print_report(audit, Console(file=paper, width=width), verbose=verbose)
    paper.flush()
    assert isinstance(paper.buffer, io.BytesIO)
    return paper.buffer.getvalue().decode(encoding).splitlines()


def commands(lines: list[str]) -> list[list[str]]:
    """What a shell makes of the printed commands, pasted as they stand."""
    text = "\n".join(lines)
    found = []
    for number, line in enumerate(lines):
        if "stemaudit hear" in line:
            start = line[line.index("stemaudit hear") :]
            pasted = "\n".join([start, *lines[number + 1 :]]) if start.endswith("\\") else start
            words = shlex.split(pasted.replace("\\\n", " ").split("\n")[0])
            found.append(words)
    assert text.count("stemaudit hear") == len(found)
    return found


def faulty(song: str = "Tin Roof", *, place: str = "Tour", at_s: float | None = 61.25) -> ShowAudit:
    fault = finding("sample-clipping", "error", "Keys.wav", (song,), at_s=at_s)
    audit = audit_of(healthy(song), findings=(fault,))
    show = replace(audit.evidence.show, path=Path(place))
    return replace(audit, evidence=replace(audit.evidence, show=show))


def test_a_fault_with_a_place_says_how_to_hear_it():
    assert commands(printed(faulty())) == [
        ["stemaudit", "hear", "Tour/Tin Roof/Keys.wav", "--at", "1:01.250"]
    ]


def test_a_fault_without_a_place_does_not():
    assert commands(printed(faulty(at_s=None))) == []


@pytest.mark.parametrize(
    ("rule", "stem"),
    [("timecode-jump", "Timecode.wav"), ("dropout", "Timecode.wav"), ("timecode-jump", "Click and code.wav")],
)
def test_nobody_is_sent_to_listen_to_timecode(rule, stem):
    fault = finding(rule, "error", stem, ("Rain",), at_s=17.0)
    audit = audit_of(
        song("Rain", evidence.stem("Timecode.wav"), evidence.stem("Click and code.wav")), findings=(fault,)
    )
    assert commands(printed(audit, verbose=True)) == []
    assert clips_of(audit) == []


def test_one_line_for_all_places_of_a_fault_but_all_where_every_place_is_asked_for():
    faults = tuple(finding("dropout", "error", "Keys.wav", ("A",), at_s=float(n)) for n in range(5))
    audit = audit_of(healthy("A"), findings=faults)
    assert [words[-1] for words in commands(printed(audit))] == ["0:00.000"]
    assert [words[-1] for words in commands(printed(audit, verbose=True))] == [
        f"0:0{n}.000" for n in range(5)
    ]


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize(
    "song",
    ["S", "A song of a fair length", "03 - Postcards to the Weather Ship and All Who Sail in Her", "x" * 90],
)
def test_what_is_printed_fits_and_can_be_pasted(width, song):
    lines = printed(faulty(song), width=width)
    assert max(map(len, lines)) <= width
    (said,) = [line for line in lines if line.strip().startswith("Hear")]  # never silently nothing
    found = commands(lines)
    path, inside = f"Tour/{song}/Keys.wav", f"{song}/Keys.wav"
    for words in found:
        out = ["--out", "../stemaudit-out"] if "folder" in said else []
        assert words == ["stemaudit", "hear", inside if out else path, "--at", "1:01.250", *out]
    quotes = 2 if " " in path else 0
    assert bool(found) == (len(inside) + quotes + 6 <= width)
    assert bool(found) or "in the page (--html FILE)" in said


@pytest.mark.parametrize("spare", range(-3, 12))
def test_at_any_width_near_its_own_the_command_fits(spare):
    """One line while two cells are left beside it and its label, two lines below that."""
    line = len('stemaudit hear "Tour/Tin Roof/Keys.wav" --at 0:00.000')
    lines = printed(faulty(), width=line + spare)
    assert max(map(len, lines)) <= line + spare
    assert len(commands(lines)) == 1
    assert any(one.endswith("\\") for one in lines) == (spare < 2 + len("Hear: "))


@pytest.mark.parametrize(
    "song", ["It's", 'The "One"', "$HOME", "`ls`", "100 %", "a;b|c&d", "back\\slash", "Größe", "été", "(1)!"]
)
def test_hostile_names_are_quoted(song):
    assert commands(printed(faulty(song), width=100))[0][2] == f"Tour/{song}/Keys.wav"


def test_names_that_cannot_be_typed_have_no_command():
    for lines in (printed(faulty("a\nb")), printed(faulty("Größe"), encoding="ascii")):
        assert commands(lines) == []
        assert any("Hear: in the page" in line for line in lines)


def test_a_show_with_a_long_path_is_heard_from_its_folder():
    lines = printed(faulty(place="/home/somebody/" + "x" * 90))
    assert any("Hear, from the show's folder: stemaudit hear" in line for line in lines)
    # From there the folder that `hear` takes by itself would lie in the show.
    words = ["stemaudit", "hear", "Tin Roof/Keys.wav", "--at", "1:01.250", "--out", "../stemaudit-out"]
    assert commands(lines) == [words]


@pytest.mark.parametrize("width", [30, 40, 60, 100])
def test_a_folder_for_clips_is_named_where_the_usual_one_would_lie_in_the_show(width):
    audit = faulty(place=".")
    show = replace(audit.evidence.show, clips="../../My clips/stemaudit-out")
    lines = printed(replace(audit, evidence=replace(audit.evidence, show=show)), width=width)
    assert max(map(len, lines)) <= width
    found = commands(lines)
    words = ["stemaudit", "hear", "Tin Roof/Keys.wav", "--at", "1:01.250", "--out"]
    # The narrowest has room for the show's folder alone.
    assert found == [[*words, "../../My clips/stemaudit-out" if width > 30 else "../stemaudit-out"]]


def test_a_folder_that_looks_like_an_option_is_none():
    assert commands(printed(faulty(place="-x")))[0][2] == "./-x/Tin Roof/Keys.wav"


def test_the_show_is_the_current_folder():
    assert commands(printed(faulty(place=".")))[0][2] == "Tin Roof/Keys.wav"
