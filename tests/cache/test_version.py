"""Results hold for the code that made them: none of it is forgotten."""

from __future__ import annotations

import ast

import pytest

from audit.cache import version
from audit.cache.version import AUDIT, MAKERS, measure_version

NO_MAKERS = {
    "__init__.py": "the version, which is counted by itself",
    "errors.py": "words of errors only",
    "findings.py": "made anew from what is kept, at every scan",
    "folder": "what the walk says is in every key",
    "rules": "ask what is kept, after it was taken out; rules/versions.py is counted",
}


def counted(name: str) -> bool:
    return any(name == maker or name.startswith(f"{maker}/") for maker in MAKERS)


def reached(start: str) -> set[str]:
    """The files of the package that are imported from there on, at the top or inside a function."""
    found: set[str] = set()
    waiting = [start]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        found.add(name)
        if not counted(name):
            continue  # what it imports has no part in results either
        for node in ast.walk(ast.parse((AUDIT / name).read_text(encoding="utf-8"))):
            modules = []
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("audit"):
                modules = [node.module or "", *(f"{node.module}.{alias.name}" for alias in node.names)]
            for module in modules:
                inside = module.split(".")[1:]
                for path in ("/".join(inside) + ".py", "/".join([*inside, "__init__.py"])):
                    if (AUDIT / path).is_file():
                        waiting.append(path)
    return found


def test_all_that_a_worker_runs_is_counted():
    files = reached("pipeline/workers/worker.py") | reached("pipeline/hearing.py")
    assert {"measure/stem.py", "decode/pcm.py", "pipeline/song/bleed.py", "results/sound.py"} <= files
    rest = {name.split("/")[0] for name in files if not counted(name)}
    assert rest <= set(NO_MAKERS), rest - set(NO_MAKERS)


def test_every_maker_is_there():
    assert all((AUDIT / maker).exists() for maker in MAKERS)


def test_another_line_of_code_is_another_version(tmp_path, monkeypatch: pytest.MonkeyPatch):
    for maker in MAKERS:
        place = tmp_path / maker
        place.parent.mkdir(parents=True, exist_ok=True)
        if maker.endswith(".py"):
            place.write_text("ONE = 1\n")
        else:
            place.mkdir()
            (place / "some.py").write_text("ONE = 1\n")
    monkeypatch.setattr(version, "AUDIT", tmp_path)
    seen = set()
    for change in (None, tmp_path / "measure" / "some.py", tmp_path / "facts.py"):
        if change:
            change.write_text("ONE = 2\n")
        seen.add(measure_version.__wrapped__())
        assert measure_version.__wrapped__() in seen
    assert len(seen) == 3


def test_another_library_is_another_version(monkeypatch: pytest.MonkeyPatch):
    before = measure_version.__wrapped__()
    monkeypatch.setattr(version, "_releases", lambda: iter([("numpy", "0.0")]))
    assert measure_version.__wrapped__() != before
