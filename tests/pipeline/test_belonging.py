"""Which songs are laid against each other: those of which one has a stem that fits badly at home."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from audit.evidence import StemEvidence
from audit.pipeline.songs.belonging import _pairs_to_try, with_key
from audit.results import RhythmFit
from tests.evidence import song, stem
from tests.measure.feeding import measure_chroma


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


def playing(file: str, pitches: tuple[int, ...], seconds: float = 0.5, noise: float = 0.0) -> StemEvidence:
    """A mallet, or a drum with a tone, that strikes these MIDI notes in turn for half a minute."""
    rate_hz = 22_050
    at_s = np.arange(round(seconds * rate_hz)) / rate_hz
    struck = [
        0.3 * np.exp(-3 * at_s) * np.sin(2 * np.pi * 440.0 * 2.0 ** ((pitch - 69) / 12) * at_s)
        for pitch in pitches
    ]
    notes = np.concatenate([struck[place % len(struck)] for place in range(round(30.0 / seconds))])
    notes += noise * np.random.default_rng(3).standard_normal(len(notes))
    made = stem(file)
    chroma = measure_chroma(notes[:, None].astype(np.float32), rate_hz)
    part = replace(made.parts[0], measures=replace(made.parts[0].measures, chroma=chroma))
    return replace(made, parts=(part,))


@pytest.mark.parametrize(
    ("file", "pitches", "noise", "asked"),
    [
        ("Mallets.wav", (60, 64, 67, 72, 74, 69, 65, 71), 0.0, True),
        ("Perc.wav", (60, 64, 67, 71), 0.0, True),
        ("Perc.wav", (60, 64, 67, 71), 0.05, True),
        ("Perc.wav", (60, 64, 67, 71), 0.1, False),  # a fifth of it is noise
        ("Perc.wav", (60, 65), 0.0, False),  # two hand drums: their tones are tuned to themselves
        ("Perc.wav", (60, 65, 68), 0.0, False),
        ("Drums.wav", (60, 64, 67, 72, 74, 69, 65, 71), 0.0, False),
        ("Bass.wav", (36, 43, 41, 45, 40), 0.0, True),
    ],
)
def test_percussion_is_asked_for_its_key_where_it_plays_notes(
    file: str, pitches: tuple[int, ...], noise: float, asked: bool
):
    chords = playing("Keys.wav", (60, 64, 67, 65, 69, 72, 67, 71, 74))
    found = with_key(song("Song", chords, playing(file, pitches, noise=noise)))
    assert [one.key is not None for one in found.stems] == [asked, asked]
