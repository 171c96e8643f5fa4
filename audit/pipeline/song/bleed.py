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
from audit.measure.leak_spectra import AT_ONCE, PIECE_S, Pieces, spectra
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
    try:
        sources = _click(song, headers, progress), _timecode(song, headers, progress)
    except UnreadableAudioError:
        return song  # a file vanished since it was heard; its own finding tells
    stems = []
    for stem in song.stems:
        try:
            parts = tuple(
                _heard(stem, part, headers, powers[stem.name], sources, progress)
                if part.audience and not part.silent
                else part
                for part in stem.parts
            )
            stems.append(replace(stem, parts=parts))
        except UnreadableAudioError:
            stems.append(stem)
    return replace(song, stems=tuple(stems))


def _heard(
    stem: StemEvidence, part: PartEvidence, headers: Mapping[str, Header],
    powers: npt.NDArray[np.float32], sources: tuple[LeakSource | None, LeakSource | None], progress: Told,
) -> PartEvidence:  # fmt: skip
    channels = part.measures.channels
    level = powers[:, list(channels)].max(axis=1)
    read = _reader(stem, channels, headers, progress)
    # All places in one go: a coded file is decoded for them once.
    wanted = [source.places_s[source.quietest(level)[0]] for source in sources if source is not None]
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
    pieces = _pieces(stem, part.measures.channels, headers, progress, places_s)
    return _source(part, places_s, between_s, pieces, part.measures.peaks.sample_dbfs)


def _timecode(song: SongEvidence, headers: Mapping[str, Header], progress: Told) -> LeakSource | None:
    for stem, part in song.timecode_parts:
        track = part.measures.timecode
        if track is not None and track.end_s - track.start_s >= SHORTEST_S:
            places_s = steady_places(track.start_s, track.end_s)
            pieces = _pieces(stem, (track.channel,), headers, progress, places_s)
            return _source(part, places_s, np.zeros(0), pieces, track.level_dbfs)
    return None


def _source(
    part: PartEvidence, places_s: Numbers, between_s: Numbers, pieces: Iterator[Pieces],
    level_dbfs: float,
) -> LeakSource:  # fmt: skip
    found = []
    while some := [piece[0] for piece in islice(pieces, AT_ONCE)]:  # they are not kept
        found.append(spectra(np.stack(some)))
    lufs = part.measures.loudness.integrated_lufs
    return LeakSource(
        places_s=places_s, between_s=between_s, spectra=np.concatenate(found), level_dbfs=level_dbfs,
        lufs=None if lufs is None else lufs - 10.0 * float(np.log10(len(part.measures.channels))),
    )  # fmt: skip


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
    pieces = read(places_s) if len(places_s) else np.zeros((0, 1, 1), dtype=np.float32)

    def again(wanted_s: Numbers) -> Pieces:
        rows = np.minimum(np.searchsorted(places_s, wanted_s), len(places_s) - 1)
        return pieces[rows] if len(rows) and np.array_equal(places_s[rows], wanted_s) else read(wanted_s)

    return again


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
