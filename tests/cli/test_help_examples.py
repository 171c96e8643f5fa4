"""Every command's help shows how, and what it shows works: the first example of each is run to its end."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from audit.machine.classes import CLASSES
from audit.machine.written import write_profile
from tests.cli import warm
from tests.cli.command import ROOT, environment, run
from tests.cli.examples import commands, examples, readme_lines, words_of
from tests.cli.folders import write_song, write_tone
from tests.cli.test_demo import EXAMPLE as DEMO
from tests.cli.test_machine_commands import PROBE
from tests.cli.test_start import HEAVY, NO_HELP_WITH
from tests.cli.test_watch import Watch

TOUR = "Harbour Lights Tour"

RUN: dict[str, tuple[int, str]] = {
    "scan": (0, "Ready: no fault in 3 songs"),
    "sheet": (0, "Written: tonight.pdf"),
    "hear": (0, "Written: "),
    "settings": (0, f"Written: {TOUR}/show.toml"),
    "explain": (0, "true-peak-over: warning"),
    "rules": (0, "unreadable-file"),
    "load": (0, "laptop-dual-disk carries all 3 songs"),
    "seal": (0, "show.seal"),
    "verify": (0, "10 stems"),
    "compare": (0, "10 stems"),
    "rehearse": (0, "late refills "),
    "calibrate": (0, "foh.toml is corrected by 1 reading"),
    "cache": (0, "what was heard of 3 songs"),
}
"""What the first example of each command comes to: its exit code, and words of its output."""

ELSEWHERE_RUN = {"demo": DEMO, "probe": PROBE}
"""Examples that take long are run by the tests of their commands, in these words."""


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small show of three songs that nothing is wrong with. One is long enough to be heard at 1:23."""
    tour = tmp_path_factory.mktemp("template") / TOUR
    write_song(tour / "Night Ferry", seed=1)
    write_song(tour / "Low Tide", seed=2)
    for number, name in enumerate(("Bass", "Keys", "Guitar", "Pad")):
        write_tone(
            tour / "Slow Weather" / f"{name}.wav", seconds=90.0, freq_hz=110.0 * (number + 1), seed=number
        )
    return tour


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """One cache for all: the show is heard once."""
    return {"STEMAUDIT_CACHE_DIR": str(tmp_path_factory.mktemp("kept"))}


def prepare(command: str, home: Path, template: Path, kept: dict[str, str]) -> None:
    """What the example takes for granted."""
    shutil.copytree(template, home / TOUR)
    if command == "compare":
        shutil.copytree(template, home / "Volumes" / "SPARE" / TOUR)
    if command == "sheet":
        (home / TOUR / "show.toml").write_text(
            '[[sets]]\nname = "Night 1"\nsongs = ["Low Tide", "Night Ferry"]\n'
        )
    if command == "calibrate":
        song = write_song(home / "show" / "Opener")
        for number in range(1, 22):  # 24 stems: enough work for a meter to show
            shutil.copy(song / "Keys.wav", song / f"Keys {number}.wav")
        write_profile(home / "foh.toml", CLASSES["laptop-quad-sata-ssd"])
    if command == "verify":
        assert warm.run("seal", TOUR, cwd=home, **kept).returncode == 0
    if command == "cache":
        assert warm.run("scan", TOUR, cwd=home, **kept).returncode == 0


@pytest.mark.parametrize("command", RUN)
def test_the_first_example_works(command: str, tmp_path: Path, template: Path, kept: dict[str, str]):
    prepare(command, tmp_path, template, kept)
    done = run(*words_of(examples(command)[0], tmp_path), cwd=tmp_path, **kept)
    code, words = RUN[command]
    late = command == "rehearse" and "drops out" in done.stdout  # a busy machine may really be late
    assert done.returncode == (1 if late else code), done.stdout + done.stderr
    assert words in done.stdout


def test_the_watch_of_the_example_begins_and_ends(tmp_path: Path, template: Path, kept: dict[str, str]):
    prepare("watch", tmp_path, template, kept)
    _, show = words_of(examples("watch")[0], tmp_path)
    watch = Watch(tmp_path / show)
    try:
        watch.until("Watching")
        assert watch.end() == 130
    finally:
        watch.clear_away()


def test_what_takes_long_is_run_elsewhere_in_the_same_words():
    assert {command: examples(command)[0] for command in ELSEWHERE_RUN} == ELSEWHERE_RUN


def test_no_command_is_without_an_example():
    assert {*RUN, *ELSEWHERE_RUN, "watch"} == set(commands())
    assert all(examples(command) for command in commands())


EVERY = [(command, line) for command in commands() for line in examples(command)]


@pytest.mark.parametrize(("command", "line"), EVERY, ids=lambda value: value)
def test_every_example_is_taken_word_by_word(command: str, line: str, tmp_path: Path):
    """No option in it is misspelt, and none lacks its value."""
    name, *words = words_of(line, tmp_path)
    assert commands()[name].make_context(name, words).info_name == name


README_LINES = readme_lines()


@pytest.mark.parametrize("line", README_LINES)
def test_every_line_of_the_readme_is_taken_word_by_word(line: str, tmp_path: Path):
    name, *words = words_of(line, tmp_path)
    assert commands()[name].make_context(name, words).info_name == name


def test_the_readme_shows_most_commands():
    shown = {line.split()[1] for line in README_LINES}
    assert len(README_LINES) > 10
    assert shown >= {
        "scan",
        "hear",
        "explain",
        "sheet",
        "seal",
        "verify",
        "load",
        "probe",
        "rehearse",
        "calibrate",
    }


@pytest.mark.parametrize("command", commands())
def test_every_help_fits_a_screen_and_shows_how(command: str):
    text = commands()[command].make_context(command, [], resilient_parsing=True).get_help()
    assert max(map(len, text.splitlines())) <= 80
    assert all(example.split(" && ")[0] in " ".join(text.split()) for example in examples(command)[:1])


def test_help_loads_nothing_heavy():
    """The pages of all commands in one process: no numpy, no soundfile, no rule."""
    code = (
        "import sys\n"
        "from tests.cli.examples import commands\n"
        "pages = [c.make_context(n, [], resilient_parsing=True).get_help() for n, c in commands().items()]\n"
        "print(len(pages), *sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, cwd=ROOT
    )
    number, *modules = done.stdout.split()
    assert int(number) == len(commands()), done.stderr
    assert "audit.cli.app" in modules
    assert {*modules} & (HEAVY | NO_HELP_WITH) == set()


def test_a_misspelt_example_would_be_seen():
    with pytest.raises(Exception, match=r"[Nn]o such option"):
        commands()["scan"].make_context("scan", ["show", "--fail-onn", "error"])
