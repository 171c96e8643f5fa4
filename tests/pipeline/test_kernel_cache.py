"""Compiled kernels find a place on any system: also where the program and the home may not be written."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from audit.pipeline.workers import kernel_cache as cache_module
from audit.pipeline.workers.kernel_cache import PLACE, kernel_cache

AUDIT = Path(__file__).parent.parent.parent / "audit"

IMPORT_EVERY_KERNEL = """
import importlib, pathlib, sys
from contextlib import nullcontext
from audit.pipeline.workers.kernel_cache import KERNELS, kernel_cache
names = sorted(path.stem for path in KERNELS.glob("*_kernel.py"))
assert len(names) > 5
with kernel_cache() if sys.argv[1] == "with" else nullcontext():
    for name in names:
        importlib.import_module(f"audit.measure.{name}")
print(len(names))
"""


@pytest.fixture
def locked_copy(tmp_path: Path) -> Path:
    """An installation whose kernels cannot be kept beside it. Root may write to any folder, so a file stands
    where the folder would be made."""
    shutil.copytree(AUDIT, tmp_path / "audit", ignore=shutil.ignore_patterns("__pycache__"))
    (tmp_path / "audit" / "measure" / "__pycache__").write_bytes(b"")
    return tmp_path


def run_without_home(copy: Path, how: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if name not in (PLACE, "XDG_CACHE_HOME")}
    return subprocess.run(
        [sys.executable, "-c", IMPORT_EVERY_KERNEL, how],
        env={**kept, "PYTHONPATH": str(copy), "HOME": os.devnull, "LOCALAPPDATA": os.devnull},
        cwd=copy,
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_read_only_installation_without_a_home_can_compile(locked_copy: Path):
    refused = run_without_home(locked_copy, "without")
    assert "no locator available" in refused.stderr, "numba needs the help no more: this file may go"
    done = run_without_home(locked_copy, "with")
    assert done.returncode == 0, done.stderr


def test_the_temporary_place_is_gone_afterwards(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.delenv(PLACE, raising=False)
    monkeypatch.setattr(cache_module, "_can_hold", lambda folder: False)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with kernel_cache():
        (place,) = tmp_path.iterdir()
        assert os.environ[PLACE] == str(place)
        (place / "kernel.nbc").write_bytes(b"x")
    assert list(tmp_path.iterdir()) == []
    assert PLACE not in os.environ


def test_a_place_that_is_there_is_left_to_numba(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.delenv(PLACE, raising=False)
    monkeypatch.setattr(cache_module, "KERNELS", tmp_path)
    with kernel_cache():
        assert PLACE not in os.environ
    monkeypatch.setenv(PLACE, "of my own")
    monkeypatch.setattr(cache_module, "_can_hold", lambda folder: False)
    with kernel_cache():
        assert os.environ[PLACE] == "of my own"
