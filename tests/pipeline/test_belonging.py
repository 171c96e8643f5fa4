"""Which songs are laid against each other: those of which one has a stem that fits badly at home."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import pytest

from audit.pipeline.songs.belonging import _pairs_to_try
from audit.results import RhythmFit
from tests.evidence import song, stem


def made(name: str, kind: str):
    """p: one of its stems fits badly; g: all fit; e: it has no stem."""
    fit = {"p": 0.1, "g": 0.9}.get(kind)
    if fit is None:
        return song(name)
    rhythm = RhythmFit(fit=fit, first_half=fit, second_half=fit, onsets=100)
    return song(name, stem("Bass.wav"), replace(stem("Keys.wav"), rhythm=rhythm))


@pytest.mark.parametrize("kinds", ["".join(kinds) for kinds in product("pge", repeat=4)])
def test_no_pair_that_matters_is_left_out_and_none_is_tried_in_vain(kinds: str):
    songs = [made(f"Song {place}", kind) for place, kind in enumerate(kinds)]
    wanted = [
        (f"Song {one}", f"Song {two}")
        for one, two in combinations(range(4), 2)
        if "e" not in kinds[one] + kinds[two] and "p" in kinds[one] + kinds[two]
    ]
    assert [(one.name, two.name) for one, two in _pairs_to_try(songs)] == wanted
