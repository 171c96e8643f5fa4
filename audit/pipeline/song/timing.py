"""Which stems of a song are laid against its click, and each one's place."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from statistics import median_low

import numpy as np
from numpy.typing import NDArray

from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role, common_length_s
from audit.measure.alignment import align
from audit.measure.by_length import by_length
from audit.measure.click_counts import find_odd_bars, miscounts
from audit.measure.click_jumps import find_jumps, repaired, with_stems
from audit.measure.harmony import lay_by_harmony, with_harmony
from audit.results import Chroma, ClickTrack, FaultKind, Onsets

BEATS_A_BAR = 4
"""Where the click's accents do not tell."""

SAME_LENGTH_S = 0.01
"""Files whose lengths differ by no more are equally long (rule length-mismatch)."""


def with_alignment(song: SongEvidence) -> SongEvidence:
    """The song with the alignment of every stem that makes music, and what its stems do where its click
    jumps; unchanged where no click tells the beat. Where the click alone jumps, no stem is blamed for it:
    they are laid against the beats as they were before."""
    click = song.click
    heard = [
        (stem, part, part.measures.onsets)
        for stem in song.stems
        if (part := _music(stem)) is not None and part.measures.onsets is not None
    ]
    if click is None or len(click.beats_s) < 2:
        return song
    beats_s = np.array(click.beats_s, dtype=np.float64)
    names = [stem.name for stem, _, _ in heard]
    onsets = [onsets for _, _, onsets in heard]
    drums = {stem.name for stem, _, _ in heard if stem.role in {Role.DRUMS, Role.LOOP}}
    click = _beside_stems(click, beats_s, onsets, names, drums)
    song = replace(song, click=click)
    if not heard:
        return song
    beats_s, runs = repaired(beats_s, [(run.first_beat, run.beats) for run in click.runs], click.jumps)
    found = align(beats_s, runs, onsets, names)
    laid = lay_by_harmony(
        beats_s,
        runs,
        [_chroma(part) for _, part, _ in heard],
        names,
        click.beats_a_bar or BEATS_A_BAR,
        click.accents if click.beats_a_bar else (),
    )
    lengths = by_length(onsets, _longer_s(heard, _click_s(song)), beats_s)
    placed = {
        name: replace(with_harmony(one, by, beats_s, part.measures.chroma), by_length=length)
        for (_, part, _), name, one, by, length in zip(heard, names, found, laid, lengths, strict=True)
    }
    return replace(song, stems=tuple(replace(stem, alignment=placed.get(stem.name)) for stem in song.stems))


def _beside_stems(
    click: ClickTrack,
    beats_s: NDArray[np.float64],
    onsets: Sequence[Onsets],
    names: Sequence[str],
    drums: Collection[str],
) -> ClickTrack:
    """The click with what the song's stems do where it jumps, and where it counts from another beat."""
    accents, bar = np.array(click.accents, dtype=np.bool_), click.beats_a_bar
    jumps = find_jumps(beats_s, accents, bar)
    odd = find_odd_bars(beats_s, accents, bar)
    return replace(
        click,
        jumps=with_stems(beats_s, jumps, onsets, names, bar, drums=drums),
        miscounts=miscounts(beats_s, odd, onsets, names, bar or BEATS_A_BAR),
    )


def _longer_s(
    heard: Sequence[tuple[StemEvidence, PartEvidence, Onsets]], click_s: float | None
) -> list[float | None]:
    """By how much each file is longer than the length that half of them share; 0.0 for those, None for a full
    mix, which meets itself, and where it is not known. Of two lengths that as many have, the click's is the
    song's."""
    whole = [
        stem.format.duration_s
        if stem.format is not None
        and part.role is not Role.FULL_MIX
        and not any(fault.kind in (FaultKind.TRUNCATED, FaultKind.EMPTY) for fault in stem.faults)
        else None
        for stem, part, _ in heard
    ]
    known = [one for one in whole if one is not None]
    common_s = common_length_s(known, SAME_LENGTH_S, like=click_s)
    if common_s is None:
        return [None] * len(whole)
    common_s = median_low([one for one in known if abs(one - common_s) <= SAME_LENGTH_S])
    longer = [None if one is None else one - common_s for one in whole]
    return [0.0 if one is not None and abs(one) <= SAME_LENGTH_S else one for one in longer]


def _click_s(song: SongEvidence) -> float | None:
    """How long the click's file is."""
    form = next((stem.format for stem in song.stems if stem.name == song.click_stem), None)
    return form.duration_s if form is not None else None


def _music(stem: StemEvidence) -> PartEvidence | None:
    """Its first part that the audience hears; None for silence, and for the crew's stems."""
    return next((part for part in stem.parts if part.audience and not part.silent), None)


def _chroma(part: PartEvidence) -> Chroma | None:
    """A full mix holds all the others, the shifted one too: it is no witness."""
    return None if part.role is Role.FULL_MIX else part.measures.chroma
