"""One recording in two stems, found over the whole show once all songs were heard.

Fingerprints name the pairs that could be; these are opened once more and laid over each other, excerpt by
excerpt. Pairs whose samples are equal are known by their hash and are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, combinations_with_replacement, product
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audit.decode.header import read_header
from audit.decode.pieces import read_pieces
from audit.errors import UnreadableAudioError
from audit.evidence import PartEvidence, ShowEvidence, StemEvidence
from audit.facts import CREW_ROLES, Role
from audit.measure.fingerprint import Match, matches, spectra_differ_db
from audit.measure.same_audio import ALIKE, compare
from audit.pipeline.memory.pair_memory import PairMemory
from audit.results import Fingerprint, SameAudio

SPECTRA_DB = 1.0
LIKENESS = 0.4
"""Pairs whose spectra or fingerprints differ by more are not opened (own measurement, tests/lab; what passes
and is no copy costs time only)."""

LEAST_SPAN_S = 6.0
"""Of two songs' stems both reach so far at least, from their first sound to their last: a hit may be used in
both. The rule asks more of some roles."""

ALIKE_CODED = 0.9
"""As `same_audio.ALIKE` where a lossy codec stands between the two: cymbals keep 0.93 by Ogg Vorbis at its
usual quality, second takes stay below 0.8 (own measurement, tests/identity_lab)."""

EXCERPTS, EXCERPT_S, REACH_S = 6, 1.5, 0.16
MOST_OPENED = 200
LOOP_FROM_S, LOOP_SHARE = 1.0, 0.7
"""A stem that is the same again a second and more later, in so much of it, is a loop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    song: str
    stem: StemEvidence
    part: PartEvidence
    print: Fingerprint
    rate_hz: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    first: _Heard
    second: _Heard
    matches: tuple[Match, ...]


def with_copies(show: ShowEvidence, memory: PairMemory | None = None) -> ShowEvidence:
    """The show with the pairs of stems that are one recording, and the loops among those of two songs.

    memory: what earlier scans found out about pairs of songs is not asked again.
    """
    memory = memory or PairMemory()
    heard = _heard(show)
    pairs = sorted(_possible(heard, memory), key=lambda pair: -pair.matches[0].likeness)[:MOST_OPENED]
    found = [copy for pair in pairs if (copy := _same_audio(pair, memory)) is not None and copy.share > 0.0]
    across = {(c.first_song, c.first) for c in found if c.first_song != c.second_song}
    across |= {(c.second_song, c.second) for c in found if c.first_song != c.second_song}
    across |= _equal_across(heard)
    loops = [one for one in heard if (one.song, one.stem.name) in across and _is_loop(one, memory)]
    return replace(show, copies=tuple(found), loops=frozenset((one.song, one.stem.name) for one in loops))


def _same_audio(pair: _Pair, memory: PairMemory) -> SameAudio | None:
    """What lies in the two files, or what an earlier scan read there."""
    first, second = pair.first, pair.second
    record = memory.of(first.song, second.song)
    for one, other, known in record.laid:
        if (one, other) == (first.stem.name, second.stem.name):
            return known and replace(known, first_song=first.song, second_song=second.song)
    try:
        found = _laid_over(pair)
    except UnreadableAudioError:
        return None  # the file vanished since it was heard; its own finding tells
    record.laid = (*record.laid, (first.stem.name, second.stem.name, found))
    memory.touch(first.song)
    return found


def _is_loop(one: _Heard, memory: PairMemory) -> bool:
    record = memory.of(one.song, one.song)
    known = dict(record.loops).get(one.stem.name)
    if known is None:
        try:
            known = _loops(one)
        except UnreadableAudioError:
            return False
        record.loops = (*record.loops, (one.stem.name, known))
        memory.touch(one.song)
    return known


def _equal_across(heard: list[_Heard]) -> set[tuple[str, str]]:
    """The stems whose samples are equal to those of another song's."""
    songs: dict[str, set[str]] = {}
    for one in heard:
        songs.setdefault(_hash(one.stem), set()).add(one.song)
    return {(one.song, one.stem.name) for one in heard if len(songs[_hash(one.stem)]) > 1}


def _loops(one: _Heard) -> bool:
    """Whether a stem is the same again later: most of it, to the sample."""
    found = matches(one.print, one.print, from_s=LOOP_FROM_S)
    if not found or found[0].likeness < LIKENESS:
        return False
    itself = _laid_over(_Pair(first=one, second=one, matches=found))
    return itself is not None and itself.share >= LOOP_SHARE


def _heard(show: ShowEvidence) -> list[_Heard]:
    """The main part of every stem that sounds. Timecode is the same everywhere, and has rules of its own."""
    found = []
    for song in show.songs:
        for stem in song.stems:
            part = stem.main_part
            if part is None or part.silent or part.role is Role.TIMECODE or stem.format is None:
                continue
            of_part = part.measures.fingerprint
            if of_part is not None and of_part.spectrum_db:
                found.append(
                    _Heard(
                        song=song.name, stem=stem, part=part, print=of_part,
                        rate_hz=stem.format.sample_rate_hz,
                    )
                )  # fmt: skip
    return found


def _possible(heard: list[_Heard], memory: PairMemory) -> list[_Pair]:
    """Pairs alike enough to be opened: in one song any two, in two songs what the audience hears, over
    some length. In the order of the show's stems."""
    songs: dict[str, list[_Heard]] = {}
    for one in heard:
        songs.setdefault(one.song, []).append(one)
    found = []
    for first, second in combinations_with_replacement(songs, 2):
        record = memory.of(first, second)
        if record.possible is None:
            record.possible = tuple(_alike(songs[first], None if first == second else songs[second]))
            memory.touch(first)
        for name, other_name, lags in record.possible:
            matches_ = tuple(Match(lag_s=lag_s, likeness=likeness) for lag_s, likeness in lags)
            found.append((_named(songs[first], name), _named(songs[second], other_name), matches_))
    places = {(one.song, one.stem.name): place for place, one in enumerate(heard)}
    found.sort(key=lambda pair: [places[one.song, one.stem.name] for one in pair[:2]])
    return [_Pair(first=first, second=second, matches=lags) for first, second, lags in found]


def _named(heard: list[_Heard], name: str) -> _Heard:
    return next(one for one in heard if one.stem.name == name)


def _alike(
    firsts: list[_Heard], seconds: list[_Heard] | None
) -> Iterator[tuple[str, str, tuple[tuple[float, float], ...]]]:
    """Of two songs, or of one (None). Names, and the lags at which they are most alike, with how much."""
    for first, second in combinations(firsts, 2) if seconds is None else product(firsts, seconds):
        if first.rate_hz != second.rate_hz or _hash(first.stem) == _hash(second.stem):
            continue
        if seconds is not None and (_short_or_crew(first) or _short_or_crew(second)):
            continue
        if spectra_differ_db(first.print, second.print) > SPECTRA_DB:
            continue
        found = matches(first.print, second.print)
        if found and found[0].likeness >= LIKENESS:
            lags = tuple((match.lag_s, match.likeness) for match in found)
            yield first.stem.name, second.stem.name, lags


def _hash(stem: StemEvidence) -> str:
    return stem.audio.content_hash or "" if stem.audio else ""


def _short_or_crew(heard: _Heard) -> bool:
    reach_s = heard.part.measures.activity.span_frames / heard.rate_hz
    return heard.part.role in CREW_ROLES or reach_s < LEAST_SPAN_S


def _is_coded(heard: _Heard) -> bool:
    return heard.stem.format is not None and heard.stem.format.lossy


def _laid_over(pair: _Pair) -> SameAudio | None:
    """The pair at the lag at which it is most the same; None where nothing sounds in both.

    Raises UnreadableAudioError where a file vanished since it was heard.
    """
    rate_hz = pair.first.rate_hz
    lags = [round(match.lag_s * rate_hz) for match in pair.matches]
    length, reach = round(EXCERPT_S * rate_hz), round(REACH_S * rate_hz)
    places = _places(pair.first, rate_hz, length)
    wanted = sorted({(place + lag - reach) for place in places for lag in lags})
    ones = _excerpts(pair.first, places, length)
    others = dict(zip(wanted, _excerpts(pair.second, wanted, length + 2 * reach), strict=True))
    alike = ALIKE_CODED if _is_coded(pair.first) or _is_coded(pair.second) else ALIKE
    overlays = []
    for lag in lags:
        pieces = [(ones[n], others[p + lag - reach]) for n, p in enumerate(places)]
        overlay = compare(pieces, reach, alike=alike)
        if overlay is not None:
            overlays.append((overlay, lag + overlay.lag_frames))
    if not overlays:
        return None
    overlay, lag = max(overlays, key=lambda found: (found[0].share, found[0].likeness))
    return SameAudio(
        first_song=pair.first.song, first=pair.first.stem.name,
        second_song=pair.second.song, second=pair.second.stem.name,
        lag_frames=lag, lag_s=lag / rate_hz,
        level_db=overlay.level_db, likeness=overlay.likeness, share=overlay.share, opposed=overlay.opposed,
    )  # fmt: skip


def _places(heard: _Heard, rate_hz: int, length: int) -> list[int]:
    """Where excerpts begin: shortly before rises, spread over the whole stem."""
    words = np.frombuffer(heard.print.words, dtype=np.dtype("I"))
    rising = np.flatnonzero(words) * heard.print.hop_s * rate_hz - 0.1 * length
    if not len(rising):
        return [0]
    shares = (np.arange(EXCERPTS) + 0.5) / EXCERPTS
    return sorted({max(0, int(place)) for place in np.quantile(rising, shares, method="nearest")})


def _excerpts(heard: _Heard, starts: list[int], length: int) -> list[npt.NDArray[np.float64]]:
    """Stretches of a stem's part as one wave each, zeros where the file has none. Starts ascend.

    The sides are added with unlike weights, so that a stem whose sides cancel is not silent.
    """
    path: Path = heard.stem.stem.path
    header = read_header(path, size_bytes=heard.stem.stem.size_bytes)
    channels = list(heard.part.measures.channels)
    weights = 1.0 / (1.0 + 0.4 * np.arange(len(channels)))
    pieces = read_pieces(path, header, starts, length)
    return [piece[:, channels] @ weights for piece in pieces]
