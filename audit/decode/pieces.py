"""Short pieces of a stem at given places, for a second look: nothing else of the file is decoded where the
container allows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from audit.decode.blocks import open_blocks
from audit.decode.container import Header, RefusedError
from audit.decode.pcm import PcmDecoder
from audit.decode.sndfile import open_stream, read_frames
from audit.decode.source import AtWork, Source, reason_of
from audit.errors import UnreadableAudioError
from audit.facts import StemFormat

Piece = NDArray[np.float32]


def read_pieces(
    path: Path, header: Header, starts: Sequence[int], frames: int, at_work: AtWork = lambda: None
) -> Iterator[Piece]:
    """For every start, in ascending order, the `frames` frames from there on, shape (frames, channels).

    Before the file's first frame and behind its last one lies silence; where it cannot be decoded, too (the
    first pass told of that). NaN and infinity are silence. Raises UnreadableAudioError where the file cannot
    be opened.
    """
    shape = header.format
    if shape is None:
        raise UnreadableAudioError(f"{path.name!r}: its header cannot be read")
    if header.layout is not None or shape.container == "FLAC":
        pieces = _by_seeking(path, header, shape, starts, frames, at_work)
    else:
        pieces = _in_passing(path, header, shape, starts, frames, at_work)
    for piece in pieces:
        yield np.nan_to_num(piece, copy=False, nan=0.0, posinf=0.0, neginf=0.0)


def _by_seeking(
    path: Path, header: Header, shape: StemFormat, starts: Sequence[int], frames: int, at_work: AtWork
) -> Iterator[Piece]:
    try:
        source = Source(path, at_work)
    except (OSError, ValueError) as error:
        raise UnreadableAudioError(f"{path.name!r}: {reason_of(error)}") from None
    with source:
        read = (
            _PcmPlaces(source, header, shape)
            if header.layout
            else _FlacPlaces(source, shape, header.stream_offset_bytes)
        )
        for start in starts:
            at_work()
            piece = np.zeros((frames, shape.channels), dtype=np.float32)
            first = max(0, start)
            wanted = min(start + frames, shape.frames) - first
            if wanted > 0:
                there = read.at(first, wanted)
                piece[first - start : first - start + len(there)] = there
            yield piece


class _PcmPlaces:
    def __init__(self, source: Source, header: Header, shape: StemFormat) -> None:
        assert header.layout is not None
        self._decoder = PcmDecoder(source, shape, header.layout)

    def at(self, first: int, frames: int) -> Piece:
        self._decoder.move_to(first)
        return self._decoder.read(frames)


class _FlacPlaces:
    def __init__(self, source: Source, shape: StemFormat, offset_bytes: int) -> None:
        try:
            self._stream = open_stream(source, shape.container, offset_bytes)
        except RefusedError as error:
            raise UnreadableAudioError(str(error)) from None
        self._channels = shape.channels

    def at(self, first: int, frames: int) -> Piece:
        block = np.empty((frames, self._channels), dtype=np.float32)
        try:
            self._stream.seek(first)
        except soundfile.LibsndfileError:
            return block[:0]
        return block[: read_frames(self._stream, block).frames]


def _in_passing(
    path: Path, header: Header, shape: StemFormat, starts: Sequence[int], frames: int, at_work: AtWork
) -> Iterator[Piece]:
    """Decodes the whole file, holding what the next piece needs."""
    with open_blocks(path, header, at_work=at_work) as reader:
        held = np.zeros((0, shape.channels), dtype=np.float32)
        first = 0  # the frame `held` begins with
        for start in starts:
            while first + len(held) < start + frames:
                block = next(reader, None)
                if block is None:
                    break
                spent = min(len(held), max(0, start - first))
                held = np.concatenate([held[spent:], block])
                first += spent
            piece = np.zeros((frames, shape.channels), dtype=np.float32)
            there = held[max(0, start - first) : max(0, start + frames - first)]
            place = max(0, first - start)
            piece[place : place + len(there)] = there
            yield piece
