"""What leaks: the song's click and timecode, looked for in every part that the audience hears.

A second look at short pieces of the stems, at the click's own beats and along the timecode, where the part is
quietest; the rest of the files is not read again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from itertools import islice

import numpy as np
import numpy.typing as npt

from audit.decode.header import Header
from audit.decode.pieces import read_pieces
from audit.errors import UnreadableAudioError
from audit.evidence import PartEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.leak import Numbers
from audit.measure.leak_search import LeakSource, Read, click_places, search, steady_places
from audit.measure.leak_spectra import AT_ONCE, PIECE_S, Pieces, Spectra, spectra
from audit.measure.samples import mono
from audit.results import Leak, TimecodeTrack

FEWEST_FRAMES = 12
"""Timecode that is read in a part by itself: half a second of it."""

SHORTEST_S = 2.0

Told = Callable[[str, int], object]


def with_leaks(
    song: SongEvidence,
    headers: Mapping[str, Header],
    powers: Mapping[str, npt.NDArray[np.float32]],
    progress: Told,
) -> SongEvidence:
    """The song with what leaks into its audience parts.

    powers: mean square of every 100 ms of a stem, shape (steps, channels). progress: told (stem, 0).
    """
    sources = _click(song, headers, progress), _timecode(song, headers, progress)
    levels = [
        _level(powers[stem.name], part) for stem in song.stems for part in stem.parts if _is_asked(part)
    ]
    try:
        for source in sources:
            if source is not None and levels:  # in one go, as a coded file is looked through for them
                source.spectra_of(np.unique(np.concatenate([source.asked_first(level) for level in levels])))
    except UnreadableAudioError:
        return song  # a file vanished since it was heard; its own finding tells
    stems = []
    for stem in song.stems:
        try:
            parts = tuple(
                _heard(stem, part, headers, powers[stem.name], sources, progress) if _is_asked(part) else part
                for part in stem.parts
            )
            stems.append(replace(stem, parts=parts))
        except UnreadableAudioError:
            stems.append(stem)
    return replace(song, stems=tuple(stems))


def _is_asked(part: PartEvidence) -> bool:
    return part.audience and not part.silent


def _level(powers: npt.NDArray[np.float32], part: PartEvidence) -> npt.NDArray[np.float32]:
    """Mean square of a part's louder channel every 100 ms, shape (steps,)."""
    level: npt.NDArray[np.float32] = powers[:, list(part.measures.channels)].max(axis=1)
    return level


def _heard(
    stem: StemEvidence, part: PartEvidence, headers: Mapping[str, Header],
    powers: npt.NDArray[np.float32], sources: tuple[LeakSource | None, LeakSource | None], progress: Told,
) -> PartEvidence:  # fmt: skip
    channels, level = part.measures.channels, _level(powers, part)
    read = _reader(stem, channels, headers, progress)
    # All places in one go: a coded file is looked through for them once, and mostly never again.
    wanted = [source.places_s[source.asked_first(level)] for source in sources if source is not None]
    if wanted:
        read = _held(read, np.unique(np.concatenate(wanted)))
    click, timecode = (
        None
        if source is None
        else search(source, read, level, lufs=part.measures.loudness.integrated_lufs, channels=len(channels))
        for source in sources
    )
    return replace(part, click_leak=click, timecode_leak=timecode or _read_alone(part.measures.timecode))


def _click(song: SongEvidence, headers: Mapping[str, Header], progress: Told) -> LeakSource | None:
    found = next(
        (
            (stem, part)
            for stem in song.stems
            for part in stem.parts
            if stem.name == song.click_stem and part.role is Role.CLICK and not part.silent
        ),
        None,
    )
    if song.click is None or found is None or len(song.click.beats_s) < 2:
        return None
    stem, part = found
    places_s, between_s = click_places(np.array(song.click.beats_s), song.click.subdivision)
    pieces = partial(_pieces, stem, part.measures.channels, headers, progress)
    return _source(part, places_s, between_s, pieces, part.measures.peaks.sample_dbfs)


def _timecode(song: SongEvidence, headers: Mapping[str, Header], progress: Told) -> LeakSource | None:
    for stem, part in song.timecode_parts:
        track = part.measures.timecode
        if track is not None and track.end_s - track.start_s >= SHORTEST_S:
            places_s = steady_places(track.start_s, track.end_s)
            pieces = partial(_pieces, stem, (track.channel,), headers, progress)
            return _source(part, places_s, np.zeros(0), pieces, track.level_dbfs)
    return None


def _source(
    part: PartEvidence, places_s: Numbers, between_s: Numbers,
    pieces: Callable[[Numbers], Iterator[Pieces]], level_dbfs: float,
) -> LeakSource:  # fmt: skip
    lufs = part.measures.loudness.integrated_lufs
    return LeakSource(
        places_s=places_s, between_s=between_s, spectra_of=_SourceSpectra(places_s, pieces).of,
        level_dbfs=level_dbfs,
        lufs=None if lufs is None else lufs - 10.0 * float(np.log10(len(part.measures.channels))),
    )  # fmt: skip


class _SourceSpectra:
    """A source's spectra, each made when it is asked for first: in most songs half of the places are where
    some part is quiet. They are kept, the pieces are not.

    places_s: where its pieces begin. pieces: gives them, one after another, by such moments (ascending).
    """

    def __init__(self, places_s: Numbers, pieces: Callable[[Numbers], Iterator[Pieces]]) -> None:
        self._places_s = places_s
        self._pieces = pieces
        self._known = np.zeros((0, 0), dtype=np.complex64)
        self._at = np.full(len(places_s), -1)  # the row of `_known`

    def of(self, rows: npt.NDArray[np.int64]) -> Spectra:
        """The spectra at these places, rows of places_s (ascending)."""
        missing = rows[self._at[rows] < 0]
        if len(missing):
            pieces = self._pieces(self._places_s[missing])
            found = [self._known] if len(self._known) else []
            while some := [piece[0] for piece in islice(pieces, AT_ONCE)]:
                found.append(spectra(np.stack(some)))
            self._at[missing] = len(self._known) + np.arange(len(missing))
            self._known = np.concatenate(found)
        known: Spectra = self._known[self._at[rows]]
        return known


def _reader(
    stem: StemEvidence, channels: tuple[int, ...], headers: Mapping[str, Header], progress: Told
) -> Read:
    """Pieces of some channels of a stem, by the moments they begin at."""

    def read(places_s: Numbers) -> Pieces:
        return np.stack(list(_pieces(stem, channels, headers, progress, places_s)))

    return read


def _pieces(
    stem: StemEvidence, channels: tuple[int, ...], headers: Mapping[str, Header], progress: Told,
    places_s: Numbers,
) -> Iterator[Pieces]:  # fmt: skip
    """One after another, shape (1 or 2, frames); a coded file is decoded once for all of them."""
    assert stem.format is not None
    rate_hz = stem.format.sample_rate_hz
    starts = [round(place * rate_hz) for place in places_s.tolist()]
    frames = round(PIECE_S * rate_hz)
    told = partial(progress, stem.name, 0)
    for piece in read_pieces(stem.stem.path, headers[stem.name], starts, frames, told):
        yield mixed(piece[:, list(channels)])


def _held(read: Read, places_s: Numbers) -> Read:
    """The same, with the pieces at these places (ascending) read already."""
    if not len(places_s):
        return read
    pieces = read(places_s)

    def the_others_too(wanted_s: Numbers) -> Pieces:
        rows = np.minimum(np.searchsorted(places_s, wanted_s), len(places_s) - 1)
        missing = places_s[rows] != wanted_s
        if missing.all():
            return read(wanted_s)
        found = pieces[rows]
        if missing.any():
            found[missing] = read(wanted_s[missing])
        return found

    return the_others_too


def mixed(piece: Pieces) -> Pieces:
    """The mean of the channels and, of a pair, half of their difference: shape (1 or 2, frames)."""
    middle = mono(piece)
    return np.stack([middle] if piece.shape[1] != 2 else [middle, (piece[:, 0] - piece[:, 1]) / 2.0])


def _read_alone(track: TimecodeTrack | None) -> Leak | None:
    """Timecode that could be read in a part of music, where it rests: from whatever machine."""
    if track is None or track.frames < FEWEST_FRAMES:
        return None
    return Leak(
        level_dbfs=track.level_dbfs, relative_db=None, best_at_s=track.start_s, in_rest=True,
        places=track.frames, surety=float(track.frames),
    )  # fmt: skip
