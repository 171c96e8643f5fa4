"""The command before any audio is opened: help, versions, rules, wrong words, start-up, completion."""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

import audit
from audit.cli.choose import choose_rules, find_rule, nearest
from audit.cli.values import read_fail_on, read_jobs
from audit.errors import UsageError
from audit.rules.catalogue import RULES
from tests.cli import folders
from tests.cli.command import environment, modules_after, run

HEAVY = {"numpy", "soundfile", "scipy", "numba", "librosa", "pyloudnorm", "rich.progress", "rich.console"}


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("--version",),
        ("scan", "--help"),
        ("rules",),
        ("explain", "dc-offset"),
        ("demo", "--help"),
    ],
)
def test_what_needs_no_audio_starts_light(words):
    loaded = modules_after(*words)
    assert "audit.cli.app" in loaded
    assert not loaded & HEAVY


NO_HELP_WITH = {
    "audit.findings", "audit.evidence", "audit.results", "audit.facts", "audit.timecode", "audit.units",
    "audit.rules.rule", "audit.rules.catalogue", "audit.folder.walk", "audit.report.terminal", "rich",
}  # fmt: skip
"""What a page of help has no use for: dozens of frozen dataclasses are made at import, 20 ms of them."""

NO_FIRST_HELP_WITH = NO_HELP_WITH | {"tempfile", "random", "hashlib", "pydantic"}
"""The commands' own pages cannot do without these: typer checks their options' types with pydantic."""


@pytest.mark.parametrize("words", [("scan", "--help"), ("demo", "--help"), ("explain", "--help")])
def test_a_commands_help_is_there_before_any_rule_is(words):
    assert modules_after(*words) & NO_HELP_WITH == set()


@pytest.mark.parametrize("words", [("--help",), ("--version",)])
def test_the_first_help_loads_next_to_nothing(words):
    assert modules_after(*words) & NO_FIRST_HELP_WITH == set()


def test_the_light_modules_are_named_rightly():
    """Every module of the list exists, or its absence would prove nothing."""
    named = HEAVY | NO_FIRST_HELP_WITH - {"pydantic"}  # typer's own affair, and not in every version
    assert {name for name in named if find_spec(name) is None} == set()


@pytest.mark.parametrize("words", [(), ("scan",), ("explain",), ("rules",), ("demo",)])
def test_help_fits_a_screen_and_shows_how(words):
    text = run(*words, "--help").stdout
    assert max(map(len, text.splitlines())) <= 80
    assert "Usage: " in text
    assert "stemaudit" in text
    if words:
        assert "Example" in text
        assert "Exit code" in text


def test_version():
    done = run("--version")
    assert (done.stdout, done.returncode) == (f"stemaudit {audit.__version__}\n", 0)


def test_rules_lists_each_rule_once_with_its_severity():
    lines = run("rules").stdout.splitlines()
    heads = [line.split()[:2] for line in lines if line.startswith("  ") and line[2] != " "]
    assert heads == [[rule.id, rule.severity.value] for rule in sorted(RULES, key=family_order)]
    assert len(heads) > 20
    assert {line for line in lines if line and line[0] != " "} == {rule.family for rule in RULES}


def family_order(rule):
    return list(dict.fromkeys(rule.family for rule in RULES)).index(rule.family)


@pytest.mark.parametrize("columns", ["60", "80", "200"])
def test_rules_keeps_to_the_width(columns):
    lines = run("rules", COLUMNS=columns).stdout.splitlines()
    assert max(map(len, lines)) <= min(int(columns), 120)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_is_found_however_it_is_typed(rule):
    assert find_rule(rule.id) is rule
    assert find_rule(rule.id.upper().replace("-", "_")) is rule
    assert find_rule(rule.id.replace("-", " ")) is rule


def test_explain_prints_the_rule_in_words():
    done = run("explain", "dc-offset")
    assert done.returncode == 0
    assert "dc-offset" in done.stdout
    assert done.stderr == ""


def test_explain_on_a_poor_terminal():
    done = run("explain", "dc-offset", PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert done.stdout.isascii()


def test_a_slip_of_the_keyboard_gets_the_nearest_names():
    done = run("explain", "dc-ofset")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "stemaudit: dc-ofset: no rule has this name; did you mean dc-offset? "
        "`stemaudit rules` lists them all\n"
    )


def test_nearest_names_share_spelling_or_a_word():
    known = ["true-peak-over", "flattened-peaks", "silent-stem", "silent-channel", "empty-file"]
    assert nearest("true-peek-over", known)[0] == "true-peak-over"
    assert nearest("silent", known) == ["silent-stem", "silent-channel"]
    assert nearest("qqqq", known) == []
    assert nearest("", known) == []


def test_rules_are_chosen_by_name():
    assert choose_rules([], []) is None
    first, second, third = RULES[:3]
    assert choose_rules([f"{second.id},{first.id}", third.id], [third.id]) == (first, second)
    assert choose_rules([], [first.id]) == RULES[1:]
    with pytest.raises(UsageError, match="no rule has this name"):
        choose_rules(["nonsense"], [])
    with pytest.raises(UsageError, match="leave no rule to ask"):
        choose_rules([first.id], [first.id])


@pytest.mark.parametrize(
    "words",
    [
        ("scan",),
        ("scan", ".", "--jobs", "0"),
        ("scan", ".", "--fail-on", "sometimes"),
        ("scan", ".", "--only", "nonsense"),
        ("scan", ".", "--skip", "nonsense"),
        ("scan", ".", "--unknown"),
        ("explain",),
        ("nonsense",),
    ],
)
def test_wrong_words_are_code_2_and_no_traceback(words, tmp_path):
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert done.stderr


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("--only", ""), "--only: no rule is named: give a rule's name, or leave --only out"),
        (("--skip", " , "), "--skip: no rule is named: give a rule's name, or leave --skip out"),
        (("--song", ""), "--song: no song is named: give a song's name, or leave --song out"),
        (("--json", ""), "--json: no file is named: give a file name, or - for standard output"),
        (
            ("--fail-on", "warn"),
            "--fail-on warn: no such severity; did you mean warning? it takes error, warning, note or never",
        ),
        (("--fail-on", ""), '--fail-on "": no such severity; it takes error, warning, note or never'),
        (
            ("--jobs", "0"),
            "--jobs 0: nobody would listen; "
            "give a whole number from 1 on, or leave --jobs out for one process a core",
        ),
        (
            ("--jobs", "two"),
            "--jobs two: not a number of processes; "
            "give a whole number from 1 on, or leave --jobs out for one process a core",
        ),
        (
            ("--skip", "silent-stem,dc-ofset"),
            "dc-ofset: no rule has this name; did you mean dc-offset? `stemaudit rules` lists them all",
        ),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_a_wrong_value_is_one_line_with_option_cause_and_cure(words, line, tmp_path):
    (tmp_path / "Bass.wav").write_bytes(b"never opened")
    done = run("scan", ".", *words, cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"stemaudit: {line}\n")


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("scan", ""), "PATH: no folder is named; give a show's folder, or . for the current one"),
        (("scan", " "), "PATH: no folder is named; give a show's folder, or . for the current one"),
        (("demo", "--into", ""), "--into: no folder is named; give one, or leave --into out"),
    ],
)
def test_an_empty_folder_name_is_not_the_current_folder(words, line, tmp_path):
    (tmp_path / "Bass.wav").write_bytes(b"never opened")
    done = run(*words, cwd=tmp_path)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", f"stemaudit: {line}\n")
    assert [path.name for path in tmp_path.iterdir()] == ["Bass.wav"]


def test_one_empty_entry_is_refused_beside_a_good_one():
    """`--only dc-offset --only "$UNSET"` is a script that lost a name."""
    with pytest.raises(UsageError, match="--only: no rule is named"):
        choose_rules(["dc-offset", ""], [])
    assert choose_rules(["dc-offset,"], []) == (find_rule("dc-offset"),)


@pytest.mark.parametrize("typed", ["error", "Warning", " note ", "NEVER"])
def test_severities_are_read_in_any_letter_case(typed):
    assert read_fail_on(typed).value == typed.strip().lower()


def test_jobs_are_a_whole_number_or_left_out():
    assert [read_jobs(typed) for typed in (None, "1", " 12 ")] == [None, 1, 12]
    for typed in ("1.5", "-1", ""):
        with pytest.raises(UsageError, match="give a whole number from 1 on"):
            read_jobs(typed)


def test_completion_offers_severities():
    done = run(
        _STEMAUDIT_COMPLETE="complete_bash", COMP_WORDS="stemaudit scan show --fail-on n", COMP_CWORD="4"
    )
    assert done.stdout.split() == ["note", "never"]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_offers_rules(shell):
    done = run(
        **{
            "_STEMAUDIT_COMPLETE": f"complete_{shell}",
            "COMP_WORDS": "stemaudit explain dc",
            "COMP_CWORD": "2",
            "_TYPER_COMPLETE_ARGS": "stemaudit explain dc",
            "_TYPER_COMPLETE_FISH_ACTION": "get-args",
        }
    )
    assert "dc-offset" in done.stdout


def test_completion_goes_on_behind_a_comma():
    done = run(
        _STEMAUDIT_COMPLETE="complete_bash",
        COMP_WORDS="stemaudit scan show --only silent-stem,dc",
        COMP_CWORD="4",
    )
    assert done.stdout.split() == ["silent-stem,dc-offset"]


def test_a_fault_of_our_own_is_no_fault_of_the_show():
    """Code 1 would say to a script that the show has faults."""
    code = (
        "import audit.cli.app\n"
        "def app(**_): raise ZeroDivisionError('by nought,\\n in the middle')\n"
        "audit.cli.app.app = app\n"
        "from audit.cli.main import main\n"
        "main()\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment(), capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr.startswith("Traceback")
    last = done.stderr.splitlines()[-1]
    assert last.startswith(
        "stemaudit: a fault of stemaudit itself, not of the show (ZeroDivisionError: by nought, in"
    )
    assert "please report it" in last


FULL = Path("/dev/full")
PRINTING = [
    ("rules",), ("explain", "dc-offset"), ("--help",), ("scan", "--help"), ("--version",), ("cache",),
    ("scan", "SHOW"), ("scan", "SHOW", "--json", "-"), ("sheet", "SHOW"), ("settings", "SHOW", "--out", "-"),
    ("load", "SHOW"), ("seal", "SHOW", "--out", "SEAL"),
    ("verify", "SHOW", "--seal", "SEAL"), ("compare", "SHOW", "SHOW"),
    ("hear", "STEM", "--at", "0:01", "--out", "CLIPS"),
]  # fmt: skip


@pytest.fixture(scope="module")
def places(tmp_path_factory) -> dict[str, str]:
    folder = tmp_path_factory.mktemp("full")
    stem = folders.write_show(folder / "Tour") / "Night Ferry" / "Keys.wav"
    assert run("seal", folder / "Tour", "--out", folder / "x.seal").returncode == 0
    return {
        "SHOW": str(folder / "Tour"),
        "SEAL": str(folder / "x.seal"),
        "STEM": str(stem),
        "CLIPS": str(folder / "clips"),
    }


def into(stream: str, target: str, words: tuple[str, ...], **extra: str) -> subprocess.CompletedProcess[str]:
    other = {"stdout": "stderr", "stderr": "stdout"}[stream]
    with open(target, "w") as file:
        ways = {stream: file, other: subprocess.PIPE}
        return subprocess.run(
            [sys.executable, "-m", "audit", *words], env=environment(**extra), text=True, timeout=120, **ways
        )


@pytest.mark.skipif(not FULL.is_char_device(), reason="only Linux has a device that is always full")
@pytest.mark.parametrize(
    ("words", "unbuffered"), [*((words, "") for words in PRINTING), *((words, "1") for words in PRINTING[:5])]
)
def test_output_that_cannot_be_written_is_one_line(
    words: tuple[str, ...], unbuffered: str, places: dict[str, str]
):
    """/dev/full: no space left on device, always (Linux manual page full(4))."""
    named = tuple(places.get(word, word) for word in words)
    done = into("stdout", str(FULL), named, PYTHONUNBUFFERED=unbuffered)
    lines = [line for line in done.stderr.splitlines() if "taken from the last scan" not in line]
    assert lines == [
        "stemaudit: standard output: cannot be written: no space left on device: send it to a terminal, or "
        "to a disk with room on it"
    ]
    assert done.returncode == 2


@pytest.mark.skipif(not FULL.is_char_device(), reason="only Linux has a device that is always full")
def test_notes_that_nobody_can_hear_are_no_fault(places: dict[str, str]):
    done = into("stderr", str(FULL), ("scan", places["SHOW"], "--json", "-"))
    assert done.returncode == 0
    assert done.stdout.startswith("{")
    assert done.stdout.endswith("}\n")
    assert into("stderr", str(FULL), ("scan", f"{places['SHOW']}/nowhere")).returncode == 2
    assert into("stderr", str(FULL), ("nonsense",)).returncode == 2


@pytest.mark.skipif(sys.platform == "win32", reason="its shell closes no stream")
@pytest.mark.parametrize("words", ["rules", "--help", "--version"])
def test_a_closed_output_is_left_alone(words: str):
    done = subprocess.run(
        ["sh", "-c", f'exec "$0" -m audit {words} >&-', sys.executable],
        env=environment(),
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, "")
