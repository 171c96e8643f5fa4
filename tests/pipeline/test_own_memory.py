"""Workers hand back what a song left behind."""

import gc
import sys

import numpy as np
import psutil
import pytest

from audit.pipeline.workers import own_memory


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only glibc is asked")
def test_what_lies_in_small_pieces_goes_back_to_the_system():
    own_memory.keep_blocks()
    this = psutil.Process()
    pieces = [np.ones(4000) for _ in range(4000)]  # 128 MB in pieces of 32 kB
    kept = pieces[::40]  # which hold the heap open
    full = this.memory_info().rss
    del pieces
    own_memory.give_back()
    assert this.memory_info().rss < full - 80_000_000
    assert len(kept) == 100


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_other_systems_are_left_alone(monkeypatch, platform: str):
    monkeypatch.setattr(sys, "platform", platform)
    own_memory.keep_blocks()
    own_memory.give_back()


def test_a_c_library_without_them_is_left_alone(monkeypatch):
    monkeypatch.setattr("ctypes.CDLL", lambda name: object())
    own_memory.keep_blocks()
    own_memory.give_back()


def test_garbage_is_looked_for_seldom_only_meanwhile():
    usual = gc.get_threshold()
    with own_memory.collected_seldom():
        assert gc.get_threshold() == own_memory.SELDOM
    assert gc.get_threshold() == usual
