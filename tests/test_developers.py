"""DEVELOPERS.md, and what was measured: every room, files that are there, programs that run."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

import pytest

from tests.test_layers import FILES, MAY_IMPORT, room

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROSE = re.sub(r"^```.*?^```$", "", TEXT, flags=re.MULTILINE | re.DOTALL)
MEASURED = (ROOT / "tests" / "lab" / "MEASURED.md").read_text(encoding="utf-8")
EXAMPLES = ("late.py", "test_late.py", "swing.py", "test_swing.py")
"""Made by the worked examples: tests/test_recipes.py."""


def rooms() -> list[str]:
    """The rooms in the order of the table."""
    rows = re.findall(r"^\| (`.+?) \|", PROSE.partition("## The house")[2], re.MULTILINE)
    return [name.rstrip("/") for row in rows for name in re.findall(r"`([\w/]+)`", row)]


def test_every_room_is_described_and_no_other():
    assert sorted(rooms()) == sorted(set(MAY_IMPORT) - {"__main__"})
    assert {room(path) for path in FILES} - {"__main__"} == set(rooms())


def test_read_downward_each_room_imports_only_what_stands_above_it():
    place = {name: number for number, name in enumerate(rooms())}
    wrong = [
        (name, other)
        for name, others in MAY_IMPORT.items()
        for other in others
        if name in place and place[other] > place[name]
    ]
    assert wrong == []


NAMED = sorted(set(re.findall(r"`((?:[\w.]+/)*[\w.]+\.(?:py|html|css|js|json|md))`", PROSE + MEASURED)))


@pytest.mark.parametrize("name", NAMED)
def test_what_is_named_is_there(name: str):
    if Path(name).name in EXAMPLES:
        return
    places = [path for top in ("audit", "tests", "reports") for path in (ROOT / top).rglob(Path(name).name)]
    assert any(path.as_posix().endswith(f"/{name}") for path in [*places, ROOT / name] if path.exists())


def test_much_is_named():
    assert len(NAMED) > 40


MODULES = sorted(set(re.findall(r"python -m (tests[\w.]*)", TEXT + MEASURED)))


@pytest.mark.parametrize("module", MODULES)
def test_every_program_is_there(module: str):
    name = module.rstrip(".")
    assert find_spec(name) is not None
    assert find_spec(name).submodule_search_locations is None or find_spec(f"{name}.__main__") is not None  # type: ignore[union-attr]


def test_folders_and_options_that_are_named_are_there():
    for folder in re.findall(r"`((?:audit|tests)/[\w/]+/)`", PROSE):
        assert (ROOT / folder).is_dir(), folder
    assert len(MODULES) > 8
