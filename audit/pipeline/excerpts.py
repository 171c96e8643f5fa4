"""Places of faults read once more, sample by sample, for whoever shows them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from audit.decode.header import read_header
from audit.decode.pieces import Piece, read_pieces
from audit.errors import UnreadableAudioError
from audit.evidence import ShowEvidence
from audit.facts import Stem
from audit.results import Excerpt, Place, Trace

MOST_COLUMNS = 960
"""Past this many samples, columns of several: a page is hardly wider in dots."""

MOST_TRACES = 2
MOST_FRAMES = 4_000_000
"""Of one piece over all its channels: what a hostile header could ask for is not set aside."""


def read_excerpts(show: ShowEvidence, places: Iterable[Place]) -> dict[Place, Excerpt]:
    """The excerpts of these places; those are missing whose stem is not there or cannot be read (any more).

    Files are opened read-only. Coded files are decoded up to their last place.
    """
    stems = {(song.name, stem.name): stem.stem for song in show.songs for stem in song.stems}
    by_stem: defaultdict[tuple[str, str], list[Place]] = defaultdict(list)
    for place in dict.fromkeys(places):
        by_stem[place.song, place.stem].append(place)
    found: dict[Place, Excerpt] = {}
    for key, wanted in by_stem.items():
        if (stem := stems.get(key)) is not None:
            found |= _of_stem(stem, wanted)
    return found


def _of_stem(stem: Stem, places: list[Place]) -> dict[Place, Excerpt]:
    found: dict[Place, Excerpt] = {}
    try:
        header = read_header(
            stem.path, size_bytes=stem.size_bytes, allocated_bytes=stem.allocated_bytes,
            elsewhere=stem.elsewhere,
        )  # fmt: skip
        shape = header.format
        if shape is None or shape.channels < 1 or shape.sample_rate_hz < 1:
            return found
        by_span: defaultdict[int, list[tuple[int, Place]]] = defaultdict(list)
        for place in places:
            frames = max(8, round(place.span_s * shape.sample_rate_hz))
            if frames * shape.channels <= MOST_FRAMES:
                by_span[frames].append((round(place.first_s * shape.sample_rate_hz), place))
        for frames, wanted in by_span.items():
            wanted.sort(key=lambda pair: pair[0])
            pieces = read_pieces(stem.path, header, [start for start, _ in wanted], frames)
            for (start, place), piece in zip(wanted, pieces, strict=True):
                found[place] = _excerpt(piece, start, shape.sample_rate_hz)
    except (UnreadableAudioError, OSError):
        return found  # it has gone since it was heard; the findings stand
    return found


def _excerpt(piece: Piece, start: int, rate_hz: int) -> Excerpt:
    together = -(-len(piece) // MOST_COLUMNS)
    edges = np.arange(0, len(piece), together)
    energies = np.square(piece, dtype=np.float64).sum(axis=0)
    # The first two; of a wide file the two that sound most.
    order = (
        np.argsort(-energies, kind="stable") if piece.shape[1] > MOST_TRACES else np.arange(piece.shape[1])
    )
    traces = []
    for channel in sorted(int(one) for one in order[:MOST_TRACES]):
        wave = np.clip(piece[:, channel], -8.0, 8.0)
        traces.append(
            Trace(
                channel=channel,
                lows=tuple(round(float(low), 6) for low in np.minimum.reduceat(wave, edges)),
                highs=tuple(round(float(high), 6) for high in np.maximum.reduceat(wave, edges)),
            )
        )
    return Excerpt(
        first_s=start / rate_hz,
        span_s=len(piece) / rate_hz,
        column_frames=together,
        traces=tuple(traces),
    )
