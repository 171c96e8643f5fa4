"""Which stems belong to their song: harmony and rhythm at home, and elsewhere where those fit badly."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.belonging import rhythm_fit
from audit.measure.keys import Harmony, compare, compare_keys, harmony_of
from audit.pipeline.memory.pair_memory import PairMemory
from audit.results import ClickTrack, Elsewhere, KeyFit, RhythmFit

NO_HARMONY = frozenset({Role.DRUMS, Role.EFFECTS})
"""Their tones are tuned to themselves, if at all."""

ALL_TONES, TUNED = 0.9, 3.3
"""Percussion of which so much is tones, so many of which lead in turn, plays notes: bells, vibes, a marimba.
Own measurement: these from 0.90 and 3.4; hand drums, timpani and blocks to 0.95 and 2.0."""

POOR_FIT, POOR_CHANGES, POOR_RHYTHM = 0.4, 0.2, 0.45
"""A stem that fits its own song worse than this is tried on the others; well-fitting ones cost nothing."""


def with_key(song: SongEvidence) -> SongEvidence:
    """The song with each stem's fit with the harmony of the others, and with its click."""
    # A stem alone has nothing to fit; its harmony, unpacked, is large.
    alone = sum(_plays_tones(stem) for stem in song.stems) < 2
    harmonies = {stem.name: None if alone else _harmony(stem) for stem in song.stems}
    names = [stem.name for stem in song.stems if stem.role is not Role.FULL_MIX]
    fits: dict[str, KeyFit | None] = dict(
        zip(names, compare_keys([harmonies[name] for name in names]), strict=True)
    )
    parts = [one for name in names if (one := harmonies[name]) is not None]
    for stem in song.stems:
        mix = harmonies[stem.name]
        if stem.role is Role.FULL_MIX and mix is not None:
            fits[stem.name] = compare(mix, parts)
    return replace(
        song,
        stems=tuple(
            replace(stem, key=fits.get(stem.name), rhythm=_rhythm(stem, song.click)) for stem in song.stems
        ),
    )


def with_elsewhere(
    songs: Sequence[SongEvidence], memory: PairMemory | None = None
) -> tuple[SongEvidence, ...]:
    """The songs with every stem that fits badly at home tried on all the others. memory: pairs of songs that
    earlier scans tried are not tried again."""
    memory = memory or PairMemory()
    harmonies = _Harmonies()
    found: dict[tuple[str, str], list[Elsewhere]] = {}
    for first, second in _pairs_to_try(songs):
        record = memory.of(first.name, second.name)
        if record.forth is None or record.back is None:
            record.forth = _tried_on(first, second, harmonies)
            record.back = _tried_on(second, first, harmonies)
            memory.touch(first.name)
        for home, other, tried in ((first, second, record.forth), (second, first, record.back)):
            for stem, fit in tried:
                found.setdefault((home.name, stem), []).append(replace(fit, song=other.name))
    places = {song.name: place for place, song in enumerate(songs)}

    def elsewhere(stem: StemEvidence, home: SongEvidence) -> StemEvidence:
        fits = sorted(found.get((home.name, stem.name), ()), key=lambda fit: places[fit.song])
        return replace(stem, elsewhere=tuple(fits)) if fits else stem

    return tuple(replace(song, stems=tuple(elsewhere(stem, song) for stem in song.stems)) for song in songs)


def _pairs_to_try(songs: Sequence[SongEvidence]) -> Iterator[tuple[SongEvidence, SongEvidence]]:
    """Two songs with stems, in their order, where one has a stem that fits badly: of thousands of songs
    few do."""
    sounding = [song for song in songs if song.stems]
    poor = [place for place, song in enumerate(sounding) if any(map(_is_poor, song.stems))]
    asking = set(poor)
    for place, first in enumerate(sounding):
        later = range(place + 1, len(sounding)) if place in asking else poor[bisect_right(poor, place) :]
        for other in later:
            yield first, sounding[other]


class _Harmonies:
    """The harmony of songs, unpacked once, when it is first asked for: unpacked, it is large."""

    def __init__(self) -> None:
        self._known: dict[str, Mapping[str, Harmony]] = {}

    def of_song(self, song: SongEvidence) -> Mapping[str, Harmony]:
        if song.name not in self._known:
            self._known[song.name] = {
                stem.name: one
                for stem in song.stems
                if stem.role is not Role.FULL_MIX and (one := _harmony(stem)) is not None
            }
        return self._known[song.name]

    def of_stem(self, stem: StemEvidence, home: SongEvidence) -> Harmony | None:
        return _harmony(stem) if stem.role is Role.FULL_MIX else self.of_song(home).get(stem.name)


def _tried_on(
    home: SongEvidence, other: SongEvidence, harmonies: _Harmonies
) -> tuple[tuple[str, Elsewhere], ...]:
    """The stems that fit badly at home, on another song."""
    return tuple(
        (stem.name, _tried(stem, harmonies.of_stem(stem, home), other, harmonies.of_song(other)))
        for stem in home.stems
        if _is_poor(stem)
    )


def _is_poor(stem: StemEvidence) -> bool:
    key, rhythm = stem.key, stem.rhythm
    harmony = key is not None and (key.fit_as_is < POOR_FIT or key.changes_as_is < POOR_CHANGES)
    return harmony or (rhythm is not None and rhythm.fit < POOR_RHYTHM)


def _tried(
    stem: StemEvidence, one: Harmony | None, song: SongEvidence, harmonies: Mapping[str, Harmony]
) -> Elsewhere:
    key = stem.audio.content_hash if stem.audio else None
    copies = [
        other.name
        for other in song.stems
        if key is not None and other.audio is not None and other.audio.content_hash == key
    ]
    others = [harmony for name, harmony in harmonies.items() if name not in copies]
    return Elsewhere(
        song=song.name,
        key=compare(one, others) if one is not None and others else None,
        rhythm=_rhythm(stem, song.click),
        copy=copies[0] if copies else None,
    )


def _music(stem: StemEvidence) -> PartEvidence | None:
    """Its first part that the audience hears and that is not silent."""
    return next((part for part in stem.parts if part.audience and not part.silent), None)


def _plays_tones(stem: StemEvidence) -> bool:
    part = _music(stem)
    return part is not None and part.role not in NO_HARMONY


def _harmony(stem: StemEvidence) -> Harmony | None:
    part = _music(stem)
    if part is None or not _plays_tones(stem):
        return None
    chroma = part.measures.chroma
    one = harmony_of(chroma)
    if part.role is not Role.PERCUSSION or chroma is None or one is None:
        return one
    return one if chroma.tonal >= ALL_TONES and one.leading >= TUNED else None


def _rhythm(stem: StemEvidence, click: ClickTrack | None) -> RhythmFit | None:
    part = _music(stem)
    if part is None or click is None:
        return None
    return rhythm_fit(part.measures.onsets, np.array(click.beats_s, dtype=np.float64))
