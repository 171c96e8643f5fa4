"""DEVELOPERS.md's worked examples, done to the letter in a copy of the house: where the house has changed so
that they no longer work, these tests fail.

A line of prose that ends in "`FILE` holds" stands before what the new file has in it; one that ends in "In
`FILE`, below" before lines that are there once, and "goes" before those that go under them. Console blocks
are run.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile

ROOT = Path(__file__).parent.parent
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
HOLDS = re.compile(r"`([\w/.]+)` holds$")
BELOW = re.compile(r"[Ii]n `([\w/.]+)`, below$")


SECTIONS = ("Add a rule", "Add a measure", "Add a setting")


@dataclass(frozen=True)
class Step:
    """kind: "holds", "below" (with what it goes below) or "run"."""

    kind: str
    file: str
    text: str
    below: str = ""


def steps(section: str) -> list[Step]:
    """What a section of DEVELOPERS.md says is to be done, in its order."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.partition(f"\n## {section}\n")[2].partition("\n## ")[0]
    found: list[Step] = []
    before, anchor = 0, None
    for fence in FENCE.finditer(part):
        said = " ".join(part[before : fence.start()].split())
        before = fence.end()
        language, code = fence.groups()
        holds, below = HOLDS.search(said), BELOW.search(said)
        if language == "console":
            found += [Step("run", "", line) for line in code.splitlines()]
        elif holds:
            found.append(Step("holds", holds[1], code))
        elif below:
            anchor = (below[1], code)
        else:
            assert said == "goes", f"DEVELOPERS.md, {section}: what is to be done with this? {said[-80:]!r}"
            assert anchor is not None
            found.append(Step("below", anchor[0], code, below=anchor[1]))
            anchor = None
    return found


def follow(step: Step, house: Path) -> None:
    """One step that writes."""
    file = house / step.file
    if step.kind == "holds":
        assert not file.exists(), f"{step.file} is there already: the example needs another name"
        file.write_text(step.text, encoding="utf-8")
        return
    text = file.read_text(encoding="utf-8")
    times = len(re.findall(f"^{re.escape(step.below)}", text, re.MULTILINE))
    assert times == 1, (
        f"DEVELOPERS.md puts something below this in {step.file}, where it is {times} times:\n{step.below}"
    )
    file.write_text(text.replace(step.below, step.below + step.text, 1), encoding="utf-8")


def run(line: str, house: Path) -> subprocess.CompletedProcess[str]:
    words = shlex.split(line)
    assert words[0] == "python"
    environment = {key: value for key, value in os.environ.items() if not key.startswith(("PYTEST_", "COV_"))}
    environment |= {
        "PYTHONPATH": str(house), "PYTHONUTF8": "1", "COLUMNS": "100",
        "NUMBA_DISABLE_JIT": "1",  # the copy's kernels are compiled nowhere yet, and its show is short
        "STEMAUDIT_CACHE_DIR": str(house / "kept"),
    }  # fmt: skip
    return subprocess.run(
        [sys.executable, *words[1:]], cwd=house, env=environment, capture_output=True, text=True, timeout=300
    )


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the house with both examples worked in, and a short show called SHOW in it."""
    house = tmp_path_factory.mktemp("house")
    leave = shutil.ignore_patterns("__pycache__", "*.nbi", "*.nbc")
    for folder in ("audit", "tests"):
        shutil.copytree(ROOT / folder, house / folder, ignore=leave)
    for file in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(ROOT / file, house / file)
    song = house / "SHOW" / "Night Ferry"
    song.mkdir(parents=True)
    tone = 0.25 * np.sin(2 * np.pi * 220.0 * np.arange(6400) / 8000.0) * np.linspace(1.0, 0.0, 6400)
    for name, gain in (("Bass", 1.0), ("Keys", 0.5)):
        wave = np.concatenate((np.zeros(3200), np.maximum(gain * tone, -0.05)))
        soundfile.write(song / f"{name}.wav", wave, 8000, subtype="PCM_24")
    # The silence of this show lasts 0.4 s.
    (house / "SHOW" / "show.toml").write_text("[limits]\nlate-music = 0.3\n", encoding="utf-8")
    (house / "wish.toml").write_text("[show]\nlongest_wait_s = 0.2\n", encoding="utf-8")
    for section in SECTIONS:
        for step in steps(section):
            if step.kind != "run":
                follow(step, house)
    return house


def test_the_examples_are_whole():
    rule, measure, setting = map(steps, SECTIONS)
    assert [step.kind for step in setting].count("run") == 3
    assert {step.file for step in setting} >= {
        "audit/settings/model.py", "audit/settings/song_keys.py", "tests/settings/test_keys.py",
    }  # fmt: skip
    assert [step.kind for step in rule].count("run") == 4
    assert [step.kind for step in measure].count("run") == 2
    assert {step.file for step in rule} >= {
        "tests/test_rule_texts.py", "audit/rules/catalogue.py", "audit/rules/late.py",
        "tests/rules/test_late.py",
    }  # fmt: skip
    assert {step.file for step in measure} >= {
        "audit/results/part.py", "audit/measure/stem.py", "audit/measure/swing.py",
        "tests/measure/test_swing.py",
    }  # fmt: skip


def test_the_rule_is_asked_explained_listed_and_found(house: Path):
    readme, cases, explained, scanned = (
        run(step.text, house) for step in steps("Add a rule") if step.kind == "run"
    )
    assert readme.returncode == 0, readme.stderr
    assert "| late-music | note |" in (house / "README.md").read_text(encoding="utf-8")
    assert cases.returncode == 0, cases.stdout[-3000:]
    passed = re.search(r"(\d+) passed", cases.stdout)
    assert passed, cases.stdout[-3000:]
    assert int(passed[1]) > 15
    assert explained.stdout.startswith("late-music: note")
    assert scanned.returncode == 1, scanned.stderr
    assert "late-music" in scanned.stdout
    assert "the audience hears nothing before 0:00.400 (limit 0.3 s)" in " ".join(scanned.stdout.split())


def test_the_measure_is_made_and_reported(house: Path):
    tests, scanned = (run(step.text, house) for step in steps("Add a measure") if step.kind == "run")
    assert tests.returncode == 0, tests.stdout[-3000:]
    assert scanned.returncode == 0, scanned.stderr
    report = json.loads((house / "swing.json").read_text(encoding="utf-8"))
    for stem, gain_db in zip(report["songs"][0]["stems"], (0.0, -6.02), strict=True):
        measures = stem["measures"]
        assert measures["swing_up_dbfs"] == pytest.approx(-12.04 + gain_db, abs=0.1)
        assert measures["swing_down_dbfs"] == pytest.approx(-26.02, abs=0.01)


def test_the_setting_is_read_documented_and_asked(house: Path):
    readme, tests, scanned = (run(step.text, house) for step in steps("Add a setting") if step.kind == "run")
    assert readme.returncode == 0, readme.stderr
    assert "| `longest_wait_s` | " in (house / "README.md").read_text(encoding="utf-8")
    assert tests.returncode == 0, tests.stdout[-3000:]
    passed = re.search(r"(\d+) passed", tests.stdout)
    assert passed, tests.stdout[-3000:]
    assert int(passed[1]) >= 6
    assert scanned.returncode == 1, scanned.stderr
    assert "before 0:00.400, the settings ask for 0.2 s" in " ".join(scanned.stdout.split())


@pytest.mark.parametrize(
    ("text", "words"),
    [("x = 1\n", "0 times"), ("a\n" * 2, "2 times")],
)
def test_a_house_that_has_changed_is_told(tmp_path: Path, text: str, words: str):
    (tmp_path / "a.py").write_text(text)
    with pytest.raises(AssertionError, match=words):
        follow(Step("below", "a.py", "b\n", below="a\n"), tmp_path)
    with pytest.raises(AssertionError, match="is there already"):
        follow(Step("holds", "a.py", "b\n"), tmp_path)


def test_the_examples_are_in_the_style_of_the_house(house: Path):
    """Formatted and linted as `.ci/check` does it."""
    new = [
        step.file for part in ("Add a rule", "Add a measure") for step in steps(part) if step.kind == "holds"
    ]
    changed = [step.file for part in ("Add a rule", "Add a measure") for step in steps(part) if step.below]
    for words in (["check", "-q"], ["format", "--check", "-q"]):
        done = subprocess.run(
            [sys.executable, "-m", "ruff", *words, *new, *dict.fromkeys(changed)],
            cwd=house, capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
