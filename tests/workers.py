"""Workers that start in no time: forks of a process that has loaded everything.

A scan's worker is a fresh Python, which loads its compiled kernels for a second or more: much longer than
it listens to a test's song. Where workers are not what is tested, `quick_workers` lets multiprocessing's own
fork server start them. Each is still a process of its own that is sent its tasks.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from multiprocessing import forkserver
from multiprocessing.context import BaseContext
from pathlib import Path
from types import SimpleNamespace

import pytest

from audit.pipeline.workers import pool

ROOT = Path(__file__).parent.parent


@contextmanager
def _importable() -> Iterator[None]:
    """New processes find the project, wherever they are started."""
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(ROOT)
    try:
        yield
    finally:
        del os.environ["PYTHONPATH"]
        if before is not None:
            os.environ["PYTHONPATH"] = before


@cache
def _loaded() -> BaseContext:
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["tests.preloaded"])
    with _importable():
        forkserver.ensure_running()
    return context


@contextmanager
def quick_workers() -> Iterator[None]:
    """Scans in here start their workers so."""
    if not sys.platform.startswith("linux"):
        yield
        return
    with pytest.MonkeyPatch.context() as patch:
        context = _loaded()
        patch.setattr(pool, "multiprocessing", SimpleNamespace(get_context=lambda method: context))
        yield
