"""Names with blanks that nobody put in quotes: one line says the path that was meant."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.folders import write_song
from tests.cli.warm import run

SAYS = 'stemaudit: there is a folder "Spring Tour": a name with a blank in it stands in quotes: stemaudit '


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("unquoted")
    write_song(folder / "Spring Tour" / "07 - Opener", seconds=0.5)
    write_song(folder / "The Spare" / "07 - Opener", seconds=0.5)
    return folder


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("scan Spring Tour", 'scan "Spring Tour"'),
        ("scan Spring Tour --html a.html", 'scan "Spring Tour" --html a.html'),
        ("seal -q Spring Tour", 'seal -q "Spring Tour"'),
        ("compare Spring Tour The Spare", 'compare "Spring Tour" "The Spare"'),
        ("probe --disk Spring Tour", 'probe --disk "Spring Tour"'),
        ("demo --into=Spring Tour", 'demo --into="Spring Tour"'),
        *(
            (f"{name} Spring Tour", f'{name} "Spring Tour"')
            for name in ("sheet", "settings", "load", "verify", "watch", "rehearse")
        ),
    ],
)
def test_the_folder_that_was_meant_is_said_in_quotes(here: Path, typed: str, meant: str):
    done = run(*typed.split(), cwd=here)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"{SAYS}{meant}\n")


def test_a_song_with_a_dash_and_a_stem(here: Path):
    done = run(*["hear", "Spring", "Tour/07", "-", "Opener/Bass.wav", "--at", "0.1"], cwd=here)
    assert done.returncode == 2
    assert done.stderr.endswith('stemaudit hear "Spring Tour/07 - Opener/Bass.wav" --at 0.1\n')


def test_two_words_that_are_one_name_are_no_two_copies(here: Path):
    done = run("compare", "Spring", "Tour", cwd=here)
    assert (done.returncode, done.stderr) == (2, SAYS.removesuffix(": stemaudit ") + "\n")


def test_words_that_name_nothing_get_a_hint_and_a_rule_gets_none(here: Path):
    done = run("scan", "No", "such", "place", cwd=here)
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1)
    assert "more words than this command takes: a name with a blank in it stands in quotes" in done.stderr
    assert done.stderr.endswith("; `stemaudit scan --help` tells what it takes\n")
    assert run("demo", "here", cwd=here).stderr.endswith("; `stemaudit demo --help` tells what it takes\n")
    assert "quotes" not in run("explain", "dropout", "dual-mono").stderr
