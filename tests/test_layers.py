"""Who may import whom: the house's plan, checked. DEVELOPERS.md explains it; there are no exceptions."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

AUDIT = Path(__file__).parent.parent / "audit"

MAY_IMPORT: dict[str, set[str]] = {
    "errors": set(),
    "units": set(),
    "writing": set(),
    "facts": {"units"},
    "timecode": set(),
    "results": {"units", "timecode"},
    "settings": {"facts", "timecode", "units", "errors"},
    "folder": {"facts", "settings", "units", "errors"},
    "decode": {"facts", "results", "units", "errors"},
    "measure": {"results", "timecode", "units", "errors"},
    "load": {"facts", "results", "units", "errors"},
    "evidence": {"facts", "results", "settings"},
    "seal": {"decode", "facts", "results", "units", "errors"},
    "cache": {"evidence", "decode", "facts", "results", "settings", "units", "errors"},
    "machine": {"decode", "load", "facts", "results", "units", "errors", "writing"},
    "findings": {"facts", "evidence", "results"},
    "rules": {"evidence", "findings", "facts", "results", "settings", "timecode", "units", "errors"},
    "waivers": {"findings", "facts", "settings", "units", "errors"},
    "report": {"findings", "evidence", "facts", "results", "rules", "settings", "units"},
    "pipeline": {
        "folder", "decode", "measure", "load", "machine", "seal", "cache", "evidence", "rules", "findings",
        "facts", "results", "settings", "waivers", "units", "errors",
    },
    "hear": {"folder", "decode", "measure", "facts", "results", "units", "errors", "writing"},
    "demo": {"facts", "timecode", "units", "errors"},
    "cli": {
        "errors", "units", "facts", "results", "settings", "folder", "decode", "measure", "evidence",
        "findings", "rules", "report", "pipeline", "load", "machine", "hear", "demo", "writing", "cache",
        "seal",
    },
    "__main__": {"cli"},
}  # fmt: skip

MUST_NOT_TOUCH: dict[str, set[str]] = {
    **{
        name: {"numpy", "soundfile", "scipy"}
        for name in ("errors", "units", "writing", "facts", "timecode", "results", "settings", "folder")
    },
    "measure": {"soundfile", "logging", "pathlib", "os"},
    "load": {"numpy", "soundfile", "scipy", "os", "time", "pathlib"},
    "evidence": {"numpy", "soundfile", "scipy", "os"},
    "cache": {"numpy", "soundfile", "scipy", "librosa", "numba", "pickle"},
    "findings": {"numpy", "soundfile", "scipy", "os"},
    "rules": {"numpy", "soundfile", "scipy", "os"},
    "report": {"numpy", "soundfile", "scipy", "os", "time", "datetime"},
    "cli": {"numpy", "soundfile", "scipy"},
}


def imports(path: Path) -> set[str]:
    """Every module a file imports, at its top or inside a function."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            module = node.module or ""
            found |= {f"audit.{a.name}" for a in node.names} if module == "audit" else {module}
    return found


FILES = sorted(path for path in AUDIT.rglob("*.py") if path != AUDIT / "__init__.py")


def room(path: Path) -> str:
    return path.relative_to(AUDIT).parts[0].removesuffix(".py")


def test_every_file_lives_in_a_known_room():
    assert len(FILES) > 10
    assert {room(path) for path in FILES} <= set(MAY_IMPORT)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(AUDIT)))
def test_imports_follow_the_plan(path: Path):
    here = room(path)
    ours = {name.split(".")[1] for name in imports(path) if name.startswith("audit.")}
    assert ours - {here, "__version__"} <= MAY_IMPORT[here]
    foreign = {name.split(".")[0] for name in imports(path)}
    assert not foreign & MUST_NOT_TOUCH.get(here, set())
