"""Which stems of a song are laid against its click, and each one's place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.alignment import align
from audit.measure.harmony import lay_by_harmony, with_harmony
from audit.results import Chroma

BEATS_A_BAR = 4
"""Where the click's accents do not tell."""


def with_alignment(song: SongEvidence) -> SongEvidence:
    """The song with the alignment of every stem that makes music; unchanged where no click tells the beat."""
    click = song.click
    heard = [
        (stem, part, part.measures.onsets)
        for stem in song.stems
        if (part := _music(stem)) is not None and part.measures.onsets is not None
    ]
    if click is None or len(click.beats_s) < 2 or not heard:
        return song
    beats_s = np.array(click.beats_s, dtype=np.float64)
    runs = [(run.first_beat, run.beats) for run in click.runs]
    names = [stem.name for stem, _, _ in heard]
    found = align(beats_s, runs, [onsets for _, _, onsets in heard], names)
    laid = lay_by_harmony(
        beats_s,
        runs,
        [_chroma(part) for _, part, _ in heard],
        names,
        click.beats_a_bar or BEATS_A_BAR,
        click.accents if click.beats_a_bar else (),
    )
    placed = {
        name: with_harmony(one, by, beats_s, part.measures.chroma)
        for (_, part, _), name, one, by in zip(heard, names, found, laid, strict=True)
    }
    return replace(song, stems=tuple(replace(stem, alignment=placed.get(stem.name)) for stem in song.stems))


def _music(stem: StemEvidence) -> PartEvidence | None:
    """Its first part that the audience hears; None for silence, and for the crew's stems."""
    return next((part for part in stem.parts if part.audience and not part.silent), None)


def _chroma(part: PartEvidence) -> Chroma | None:
    """A full mix holds all the others, the shifted one too: it is no witness."""
    return None if part.role is Role.FULL_MIX else part.measures.chroma
