"""Which stems of a song are laid against its click, and each one's place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from audit.evidence import SongEvidence, StemEvidence
from audit.measure.alignment import align
from audit.results import Onsets


def with_alignment(song: SongEvidence) -> SongEvidence:
    """The song with the alignment of every stem that makes music; unchanged where no click tells the beat."""
    click = song.click
    heard = [(stem, onsets) for stem in song.stems if (onsets := _onsets(stem)) is not None]
    if click is None or len(click.beats_s) < 2 or not heard:
        return song
    found = align(
        np.array(click.beats_s, dtype=np.float64),
        [(run.first_beat, run.beats) for run in click.runs],
        [onsets for _, onsets in heard],
        [stem.name for stem, _ in heard],
    )
    placed = {stem.name: one for (stem, _), one in zip(heard, found, strict=True)}
    return replace(song, stems=tuple(replace(stem, alignment=placed.get(stem.name)) for stem in song.stems))


def _onsets(stem: StemEvidence) -> Onsets | None:
    """The onsets of its first part that the audience hears; None for silence, and for the crew's stems."""
    part = next((part for part in stem.parts if part.audience and not part.silent), None)
    return part.measures.onsets if part is not None else None
