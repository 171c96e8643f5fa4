"""The examples that stand in every command's help, as words to run."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import typer.main

from audit.cli.app import app
from tests.cli.command import ROOT

ELSEWHERE = ("/Volumes/", "/tmp/", "D:/", "~/")
"""Places that the examples name, and that no test may touch: they are put under a test's own folder."""


def commands() -> dict[str, Any]:
    """Every command by its name."""
    group: Any = typer.main.get_command(app)
    return dict(group.commands)


def examples(command: str) -> list[str]:
    """The lines of its help that begin with `stemaudit`, one command each."""
    text = commands()[command].help or ""
    told = re.search(r"^\s*Examples?:\n((?:\s+stemaudit [^\n]*\n?)+)", text, re.MULTILINE)
    lines = told[1].splitlines() if told else []
    return [part.strip() for line in lines for part in line.split("&&")]


def readme_lines() -> list[str]:
    """The commands in README's blocks and tables, without remarks; those with a placeholder are left out."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    lines = [line for block in blocks for line in block.splitlines() if line.startswith("stemaudit ")]
    return [shlex.join(shlex.split(line, comments=True)) for line in lines]


def words_of(line: str, home: Path) -> list[str]:
    """What a shell makes of an example, without the program's name; other places lie in `home`."""
    name, *words = shlex.split(line)
    assert name == "stemaudit"
    return [_at_home(word, home) for word in words]


def _at_home(word: str, home: Path) -> str:
    start = next((start for start in ELSEWHERE if word.startswith(start)), None)
    return word if start is None else str(home / start.strip("/:~") / word[len(start) :])
